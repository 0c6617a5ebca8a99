"""What may be asked of the open list of modules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

import sizing
from common.fields import NumberField
from common.forms import ShopForm

#: Rows shown at once.
MOST_SHOWN = 50


class ModuleSearchForm(ShopForm, forms.Form):
    """Words of maker and model, and a range of rated power."""

    q = forms.CharField(label=_("Maker and model"), max_length=80, required=False)
    from_w = NumberField(label=_("From"), unit="W", low=0, high=1000, required=False)
    to_w = NumberField(label=_("To"), unit="W", low=0, high=1000, required=False)

    def clean(self) -> dict[str, Any]:
        """Refuse a range upside down."""
        cleaned = super().clean()
        low, high = cleaned.get("from_w"), cleaned.get("to_w")
        if low is not None and high is not None and low > high:
            self.add_error("from_w", f"From must not exceed To ({high:g} W); you typed {low:g} W.")
        return cleaned

    def found(self) -> tuple[sizing.ModuleData, ...]:
        """Return the rows that match, one more than is shown where there are more."""
        asked = self.cleaned_data
        high = asked["to_w"] if asked["to_w"] is not None else float("inf")
        return sizing.find_modules(
            asked["q"], pmp_from_w=asked["from_w"] or 0.0, pmp_to_w=high, limit=MOST_SHOWN + 1
        )
