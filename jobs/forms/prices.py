"""What may be typed where a draft's prices are missing: one amount a line."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _

from common.currency import MOST_PLACES
from jobs.forms.amounts import AmountField
from jobs.models import LineKind, QuoteLine
from jobs.quote.prices import can_be_asked

_NAME: Final = "price-"


class MissingPricesForm(forms.Form):
    """One field for each line whose price is missing; those left empty stay missing."""

    edits = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, lines: Iterable[QuoteLine], edits: int) -> None:
        super().__init__(data, initial={"edits": edits})
        for line in lines:
            if can_be_asked(line):
                self.fields[f"{_NAME}{line.pk}"] = _field(line)

    @property
    def asks(self) -> bool:
        """Return whether there is a line to ask for."""
        return len(self.fields) > 1

    def prices(self) -> dict[int, Decimal]:
        """Return what was typed by line number."""
        typed = {name: value for name, value in self.cleaned_data.items() if name.startswith(_NAME)}
        return {int(name.removeprefix(_NAME)): value for name, value in typed.items() if value is not None}


def _field(line: QuoteLine) -> AmountField:
    is_part = line.kind == LineKind.PART
    words = _("What one costs us, per %(unit)s.") if is_part else _("What one sells for, per %(unit)s.")
    places = MOST_PLACES if is_part else 4  # a part's goes into the catalog
    low = "-100000" if line.kind == LineKind.DISPOSAL else str(Decimal(1).scaleb(-places))
    return AmountField(
        label=line.text,
        unit="",
        low=low,
        places=places,
        required=False,
        help_text=words % {"unit": line.unit},
    )
