"""How an amount of money, hours or pieces is typed: exact decimals, never floats."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError


class AmountField(forms.Field):
    """A Decimal with a unit (blank: money), ``low`` to ``high``; reads ``1,234.50`` and ``$1,234.50``."""

    widget = forms.TextInput

    def __init__(
        self, *, unit: str, low: str = "0", high: str = "1000000", places: int = 2, **kwargs: Any
    ) -> None:
        self.unit, self.low, self.high, self.places = unit, Decimal(low), Decimal(high), places
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")

    def prepare_value(self, value: Any) -> Any:
        """Return a stored amount without idle zeros; typed text stays as typed."""
        if not isinstance(value, Decimal):
            return value
        text = f"{value.normalize():f}"
        whole, _, cents = text.partition(".")
        is_money = self.places == 2 and len(cents) < 2
        return f"{whole}.{cents.ljust(2, '0')}" if is_money else text

    def to_python(self, value: Any) -> Decimal | None:
        """Return what was typed; raise ValidationError naming field, limits and unit."""
        text = str(value or "").replace("$", "").replace(" ", "").replace("\u2212", "-").strip()
        if not text:
            return None
        number = self._number(_without_thousands(text), value)
        if not self.low <= number <= self.high:
            raise ValidationError(
                f"{self._name} must be {self.low:,f} to {self.high:,f}{self._unit_text}; you typed {value}.",
                code="range",
            )
        if -int(number.as_tuple().exponent) > self.places:
            raise ValidationError(
                f"{self._name} can have at most {self.places} decimals; you typed {value}.", code="places"
            )
        return number

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return whether the person changed what the form showed."""
        return str(self.prepare_value(initial) or "") != (data or "").strip()

    @property
    def _name(self) -> str:
        return str(self.label or "This amount")

    @property
    def _unit_text(self) -> str:
        return f" {self.unit}" if self.unit else ""

    def _number(self, text: str, typed: Any) -> Decimal:
        try:
            number = Decimal(text[:40])
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite():
            raise ValidationError(f"{self._name}: “{typed}” is not a number.", code="unreadable")
        return number


def _without_thousands(text: str) -> str:
    """Return the text with a decimal point: ``1,234.50`` and ``1,234`` group thousands, ``3,5`` does not."""
    if "," not in text:
        return text
    groups = text.lstrip("-").partition(".")[0].split(",")
    is_grouped = len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
    return text.replace(",", "" if is_grouped or "." in text else ".")
