"""Fields that every form about charging words alike."""

from __future__ import annotations

from typing import Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.fields import NumberField, TemperatureField
from common.told import Words

STOP_LABEL: Final = _("Stops charging lithium below freezing by itself")
STOP_HELP: Final = _("Only if its data sheet says so.")


def compensation_field() -> NumberField:
    """Return the field of a temperature compensation [mV/°C] over the whole bank."""
    return NumberField(
        label=_("Temperature compensation"),
        unit="mV/°C",
        low=-500,
        high=500,
        usual=(-150, 0),
        required=False,
        help_text=_("For the whole bank, like -24 at 12 V; 0 is off; blank is not known. Off for lithium."),
    )


def stop_field(help_text: Words) -> TemperatureField:
    """Return the field of a low-temperature stop [°C]."""
    return TemperatureField(
        label=_("Stops charging below"), low=-40, high=25, usual=(-5, 10), required=False, help_text=help_text
    )


def either_or_field() -> forms.CharField:
    """Return the field that names the transfer switch or interlock a charger hangs on."""
    return forms.CharField(
        label=_("Transfer switch or interlock"),
        max_length=30,
        required=False,
        help_text=_("Any name. Of the chargers with the same name only one runs at a time."),
    )
