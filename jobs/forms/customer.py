"""What may be typed about a customer."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from common.edit_conflicts import WatchedForm
from common.forms import RecordForm
from jobs.models import Customer


class CustomerForm(WatchedForm, RecordForm[Customer]):
    """A customer: name, and at least one way to be reached."""

    class Meta:
        model = Customer
        fields = ["name", "phone", "email", "preferred_contact", "address", "notes"]
        labels = {"email": _("E-mail")}
        help_texts = {"phone": _("Phone or e-mail: at least one of the two.")}
        widgets = {
            "phone": forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_phone(self) -> str:
        """Refuse a phone number without enough digits."""
        phone: str = self.cleaned_data["phone"].strip()
        digits = sum(letter.isdigit() for letter in phone)
        if phone and not 7 <= digits <= 15:
            raise forms.ValidationError(f"Phone must have 7 to 15 digits; this has {digits}.")
        return phone

    def clean(self) -> dict[str, Any]:
        """Ask for a way to reach the customer."""
        cleaned = super().clean()
        has_error = "phone" in self.errors or "email" in self.errors
        if not has_error and not cleaned.get("phone") and not cleaned.get("email"):
            self.add_error("phone", _("Please give a phone number or an e-mail address."))
        return cleaned
