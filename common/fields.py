"""Form fields that take trade units as people write them and return SI.

A value that cannot be right (``low`` to ``high``) is refused, naming field, limit and unit. A value that is
only unusual (outside ``usual``) is asked about once by ``common.forms.ShopForm``; it is never clipped.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from common import units as trade
from common.told import Words, in_english, told_parts


class QuantityField(forms.Field):
    """A number with a unit; cleans to the SI unit it is stored in."""

    widget = forms.TextInput
    unit = ""

    def __init__(
        self,
        *,
        unit: str | None = None,
        units: str = trade.IMPERIAL,
        low: float | None = None,
        high: float | None = None,
        usual: tuple[float, float] | None = None,
        help_text: Words = "",
        **kwargs: Any,
    ) -> None:
        self.unit = self.unit if unit is None else unit
        self.low, self.high, self.usual, self.own_help = low, high, usual, help_text
        super().__init__(help_text=help_text, **kwargs)
        self.units = units

    @property
    def units(self) -> str:
        """Return the system the person writes in."""
        return self._units

    @units.setter
    def units(self, units: str) -> None:
        self._units = units
        self.help_text = told_parts(self.own_help, self._range_text())
        shown = trade.kind_of(self.unit).display(units)
        self.widget.attrs["inputmode"] = "decimal" if shown.style == "decimal" else "text"
        self.widget.attrs["autocomplete"] = "off"

    def _range_text(self) -> str:
        """Return unit and range for the help line."""
        shown = trade.kind_of(self.unit).display(self._units)
        span = self._span_text()
        name = {"feet": "feet and inches", "inches": "inches"}.get(shown.style, "")
        if not name and not span and shown.label:
            name = f"in {shown.label}"
        text = ", ".join(filter(None, [name, span]))
        return f"{text[:1].upper()}{text[1:]}." if text else ""

    def _span_text(self) -> str:
        """Return the range a value usually has, else the range it must have."""
        if self.usual:
            return f"usually {self._rough(self.usual[0])} to {self._rough(self.usual[1])}"
        if self.low is not None and self.high is not None:
            return f"{self._rough(self.low)} to {self._rough(self.high)}"
        if self.low:
            return f"{self._rough(self.low)} or more"
        return f"at most {self._rough(self.high)}" if self.high is not None else ""

    def _rough(self, value: float) -> str:
        return trade.rough(value, self.unit, self._units)

    def _text(self, value: float) -> str:
        """Return a limit or what was typed, fine enough that the limit as printed is within it."""
        return trade.show(value, self.unit, self._units, trim=True, parts=trade.SIXTEENTHS)

    def prepare_value(self, value: Any) -> Any:
        """Return a stored number in the shop's units; typed text stays as typed."""
        if value is None or isinstance(value, str):
            return value
        return trade.typed(float(value), self.unit, self._units)

    def to_python(self, value: Any) -> float | None:
        """Return the SI value of what was typed."""
        if value is None or (isinstance(value, str) and not value.strip()):
            return None
        if not isinstance(value, str):
            return float(value)
        try:
            return trade.read(value[:60], self.unit, self._units)
        except trade.UnitError as error:
            raise ValidationError(f"{self._name()}: {error}", code="unreadable") from None

    def validate(self, value: float | None) -> None:
        """Refuse what cannot be right."""
        super().validate(value)
        if value is None:
            return
        too_low = self.low is not None and value < self.low - 1e-9
        too_high = self.high is not None and value > self.high + 1e-9
        if too_low or too_high:
            raise ValidationError(
                f"{self._name()} must be {self._limit_text()}; you typed {self._text(value)}.", code="range"
            )

    def _limit_text(self) -> str:
        """Return the hard limits in words."""
        if self.low is not None and self.high is not None:
            return f"{self._text(self.low)} to {self._text(self.high)}"
        if self.low is not None:
            return f"at least {self._text(self.low)}"
        return f"at most {self._text(self.high or 0)}"

    @in_english  # kept with the record
    def unusual_text(self, value: float | None) -> str:
        """Return the question to ask about a value outside its usual range; empty when there is none."""
        if value is None or self.usual is None or self.usual[0] - 1e-9 <= value <= self.usual[1] + 1e-9:
            return ""
        low, high = self.usual
        return f"{self._name()} {self._text(value)} (usual: {self._text(low)} to {self._text(high)})"

    def _name(self) -> str:
        return str(self.label or "This value")

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return whether the person changed what the form showed."""
        return (self.prepare_value(initial) or "") != (data or "").strip()

    def _clean_bound_field(self, bound: forms.BoundField) -> float | None:
        """Keep the stored value to the last digit when its printed form came back untouched."""
        shown = bound.initial
        if shown is not None and not isinstance(shown, str) and not self.has_changed(shown, bound.data):
            self.validate(float(shown))
            return float(shown)
        cleaned: float | None = self.clean(bound.data)
        return cleaned


class LengthField(QuantityField):
    """Stored in meters; feet and inches or meters."""

    unit = "m"


class RunLengthField(QuantityField):
    """A path along a wire, stored in meters; decimal feet or meters."""

    unit = "m_run"


class MassField(QuantityField):
    """Stored in kilograms; pounds or kilograms."""

    unit = "kg"


class TemperatureField(QuantityField):
    """Stored in °C; °F or °C."""

    unit = "°C"


class VolumeField(QuantityField):
    """Stored in liters; US gallons or liters."""

    unit = "L"


class ForceField(QuantityField):
    """Stored in newtons; lbf or N."""

    unit = "N"


class SpeedField(QuantityField):
    """Stored in meters per second; mph or km/h."""

    unit = "m/s"


class NumberField(QuantityField):
    """A number whose unit is the same everywhere: ``NumberField(unit="V", low=0, high=600)``."""


class PercentField(forms.Field):
    """A share stored as a Decimal of 0 to 1 and typed as percent: ``7.75`` or ``7.75 %``."""

    widget = forms.TextInput

    def __init__(
        self,
        *,
        low: str = "0",
        high: str = "1",
        places: int = 5,
        help_text: Words = "",
        **kwargs: Any,
    ) -> None:
        self.low, self.high, self.places = Decimal(low), Decimal(high), places
        span = f"In percent, {self._percent(self.low)} to {self._percent(self.high)}."
        super().__init__(help_text=told_parts(help_text, span), **kwargs)
        self.widget.attrs["inputmode"] = "decimal"
        self.widget.attrs["autocomplete"] = "off"

    @staticmethod
    def _percent(fraction: Decimal) -> str:
        return f"{(fraction * 100).normalize():f}%"

    def prepare_value(self, value: Any) -> Any:
        """Return a stored share as percent; typed text stays as typed."""
        return value if value is None or isinstance(value, str) else self._percent(Decimal(str(value)))

    def to_python(self, value: Any) -> Decimal | None:
        """Return the share of what was typed."""
        text = str(value or "").strip().removesuffix("%").strip().replace(",", ".")
        if not text:
            return None
        try:
            fraction = Decimal(text[:30]) / 100
        except InvalidOperation:
            fraction = Decimal("NaN")
        if not fraction.is_finite():
            raise ValidationError(
                f"{self.label or 'This share'}: “{value}” is not a percentage.", code="unreadable"
            )
        if not self.low <= fraction <= self.high:
            limits = f"{self._percent(self.low)} to {self._percent(self.high)}"
            raise ValidationError(
                f"{self.label or 'This share'} must be {limits}; you typed {text}%.", code="range"
            )
        return fraction.quantize(Decimal(10) ** -self.places, rounding=ROUND_HALF_UP)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return whether the person changed what the form showed."""
        return (self.prepare_value(initial) or "") != (data or "").strip()
