"""Gives every form its shop's units, errors that name the field, and the question about unusual values."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext_lazy as _

from common import units as trade
from common.fields import QuantityField
from common.told import in_english, told_later

if TYPE_CHECKING:
    _Base = forms.BaseForm
    RecordForm = forms.ModelForm
else:
    _Base = object

    class RecordForm[Record](forms.ModelForm):
        """A form of one record. Django's own class cannot be told of which model, this one can."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            """Say the words that Django makes of the record's columns in the person's language."""
            super().__init__(*args, **kwargs)
            for field in self.fields.values():
                field.label, field.help_text = map(_said, (field.label, field.help_text))


def _said(words: Any) -> Any:
    return told_later(words) if type(words) is str and words else words


def choices_of(form: forms.BaseForm, name: str) -> list[tuple[str, str]]:
    """Return what can be chosen in a field: each value with its words."""
    field: Any = form.fields[name]
    return [(str(value), str(words)) for value, words in field.choices]


def field_as[Kind: forms.Field](form: forms.BaseForm, name: str, kind: type[Kind]) -> Kind:
    """Return a field of a form as the kind it was declared; raise TypeError for another."""
    field = form.fields[name]
    if not isinstance(field, kind):
        raise TypeError(f"{name} is no {kind.__name__}")
    return field


class ShopForm(_Base):
    """Mix into a form: ``class RoofForm(ShopForm, RecordForm[Roof])``; it is made with the shop's ``units``.

    A value outside its field's ``usual`` range is asked about once: the form comes back with a box to tick;
    ticked, it is valid and ``unusual`` names the fields, so that the caller can store a flag with them.
    """

    def __init__(self, *args: Any, units: str = trade.IMPERIAL, **kwargs: Any) -> None:
        self.units = units
        self.unusual: dict[str, str] = {}
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if field.label is None:
                field.label = name.replace("_", " ").capitalize()
            if isinstance(field, QuantityField):
                field.units = units
        self.fields["sure"] = forms.CharField(required=False, widget=forms.HiddenInput, label="")

    def clean(self) -> dict[str, Any]:
        """Ask about unusual values that the person has not yet said yes to."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        fields = ((name, field) for name, field in self.fields.items() if name in cleaned)
        found = {name: f.unusual_text(cleaned[name]) for name, f in fields if isinstance(f, QuantityField)}
        found |= in_english(self.odd_values)(cleaned)  # kept with the record
        self.unusual = {name: question for name, question in found.items() if question}
        if self.unusual and cleaned.get("sure") != self._unusual_key():
            self._ask()
        return cleaned

    def odd_values(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Return further values to ask about, by field; a form with such rules overrides this."""
        return {}

    def _unusual_key(self) -> str:
        """Return a key of just these values: a tick does not carry over to other odd values."""
        return hashlib.sha256("|".join(sorted(self.unusual.values())).encode()).hexdigest()[:16]

    def _ask(self) -> None:
        """Show the box and say which values are meant."""
        questions = "; ".join(self.unusual.values())
        self.fields["sure"].widget = SureBox(self._unusual_key())
        self["sure"].label = _("I checked: these values are right")
        self.add_error("sure", f"Please check: {questions}. If this is right, tick the box and save again.")


class SureBox(forms.CheckboxInput):
    """An empty box that sends the key of the values it was shown for, whatever was sent before."""

    def __init__(self, key: str) -> None:
        super().__init__(check_test=lambda _value: False)
        self.key = key

    def format_value(self, value: Any) -> str:
        """Return the key."""
        return self.key
