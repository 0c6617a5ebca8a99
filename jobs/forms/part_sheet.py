"""What the data sheets of parts share: fields that may stay blank or not, outer sizes, how they are read."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from django import forms
from django.db import models
from django.utils.translation import gettext_lazy as _

from common import units as trade
from common.edit_conflicts import WatchedForm
from common.fields import LengthField, NumberField, QuantityField
from common.forms import RecordForm
from common.told import Words
from jobs.models import Shop

#: Columns of the outer size, where a kind of part has one.
OUTER: Final = ["length_m", "width_m", "height_m"]
#: Columns of the DC volts a device works from.
INPUT_VOLTS: Final = ["input_low_v", "input_high_v"]


def optional(
    label: Words, unit: str, high: float, usual: tuple[float, float], text: Words = ""
) -> NumberField:
    """Return a field that may stay blank."""
    return NumberField(label=label, unit=unit, low=0, high=high, usual=usual, required=False, help_text=text)


def needed(
    label: Words, unit: str, low: float, high: float, usual: tuple[float, float], text: Words = ""
) -> NumberField:
    """Return a field without which a sheet cannot be judged."""
    return NumberField(label=label, unit=unit, low=low, high=high, usual=usual, help_text=text)


def outer(label: Words, text: Words = "") -> LengthField:
    """Return a field of an outer size: what has to go through the door and stand on the shelf."""
    return LengthField(label=label, low=0.01, high=3, usual=(0.02, 1.5), required=False, help_text=text)


class SheetForm(WatchedForm, RecordForm[models.Model]):
    """What all data sheets share: printed beside the part's own form."""

    #: A sheet that says nothing need not be stored: the part does without.
    may_be_empty: ClassVar[bool] = False

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, units=shop.units, prefix="sheet", **kwargs)

    @property
    def is_idle(self) -> bool:
        """Return whether there is nothing to store: a sheet that may stay empty, and is."""
        said = [name for name in self.changed_data if name not in {"sure", "shown"}]
        return self.may_be_empty and self.instance.pk is None and not said

    def facts(self) -> list[tuple[str, str]]:
        """Return the stored sheet as label and text, for reading; blanks print as a dash."""
        named = (
            (field, getattr(self.instance, name, None))
            for name, field in self.fields.items()
            if not field.widget.is_hidden
        )
        return [(str(field.label), _fact_text(field, value)) for field, value in named]


def _fact_text(field: forms.Field, value: Any) -> str:
    """Return one value of a sheet as it reads."""
    if value is None or value == "":
        return "–"
    if isinstance(field, QuantityField):
        return trade.show(value, field.unit, field.units)
    if isinstance(value, bool):
        return "yes" if value else "no"
    choices = dict(getattr(field, "choices", ()))
    return str(choices.get(value) or field.prepare_value(value))


class InputVoltsForm(SheetForm):
    """A sheet that says from which DC volts a device works."""

    input_low_v = optional(_("DC input, from"), "V", 200, (8, 60))
    input_high_v = optional(_("DC input, to"), "V", 200, (12, 70))

    def clean(self) -> dict[str, Any]:
        """Refuse a range that ends before it begins."""
        cleaned = super().clean()
        low, high = cleaned.get("input_low_v"), cleaned.get("input_high_v")
        if low is not None and high is not None and low >= high:
            self.add_error("input_high_v", _("This must be above the volts it works from."))
        return cleaned
