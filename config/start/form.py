"""Asks for the first shop and its owner."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth import password_validation
from django.utils.crypto import constant_time_compare

from common.currency import CURRENCIES
from jobs.models import RuleSetChoice, Shop
from jobs.shop.found import NewOwner


def zones() -> list[tuple[str, str]]:
    """Return the time zones there are."""
    return [(name, name.replace("_", " ")) for name in sorted(zoneinfo.available_timezones())]


class FirstRunForm(forms.Form):
    """The shop, its owner, and the code that shows whoever fills it in runs the server."""

    code = forms.CharField(
        label="Code from the server", max_length=40, help_text="The start command printed it."
    )
    name = forms.CharField(label="Name of the shop", max_length=120)
    units = forms.ChoiceField(choices=Shop.Units)
    paper = forms.ChoiceField(choices=Shop.Paper)
    currency = forms.ChoiceField(choices=[(code, code) for code in CURRENCIES])
    time_zone = forms.ChoiceField(choices=zones, initial="America/Denver")
    rule_set = forms.ChoiceField(label="Wire and fuse rules", choices=RuleSetChoice)
    first_name = forms.CharField(label="Owner's first name", max_length=150)
    last_name = forms.CharField(label="Owner's last name", max_length=150)
    email = forms.EmailField(label="Owner's e-mail", help_text="The owner signs in with it.")
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=" ".join(password_validation.password_validators_help_texts()),
    )
    with_catalog = forms.BooleanField(
        label="Copy the invented catalog of the demo",
        required=False,
        help_text="Panels, controllers, batteries and small parts to rename, price or delete.",
    )

    def clean_code(self) -> str:
        """Refuse who does not run the server."""
        if not constant_time_compare(
            self.cleaned_data["code"].strip(), settings.FIRST_RUN_CODE.read_text().strip()
        ):
            raise forms.ValidationError("This is not the code the start command printed.")
        return str(self.cleaned_data["code"])

    @property
    def shop(self) -> Shop:
        """Return the shop as asked for, not stored."""
        names = ("name", "units", "paper", "currency", "time_zone", "rule_set")
        return Shop(**{name: self.cleaned_data[name] for name in names})

    @property
    def owner(self) -> NewOwner:
        """Return its owner."""
        data: dict[str, Any] = self.cleaned_data
        return NewOwner(
            first_name=data["first_name"],
            last_name=data["last_name"],
            email=data["email"],
            password=data["password"],
        )
