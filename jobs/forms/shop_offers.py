"""What the owner sets about offers: the logo, the options' names, when a silent customer is reminded."""

from __future__ import annotations

import re
from typing import Any, Final

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from jobs.models import Design, Shop
from jobs.quote.option_words import option_words

#: Reminders after this day are for the telephone. A limit of ours, no source. [days]
LAST_DAY: Final = 90
MOST_REMINDERS: Final = 4


class LogoForm(forms.Form):
    """A picture to stand on quotes."""

    logo = forms.FileField(
        label=_("Logo"),
        help_text=_("PNG, JPEG, WebP or GIF, up to 5 MB; it is made small."),
        error_messages={"required": _("Choose a picture first."), "empty": _("This file is empty.")},
    )


class OfferSettingsForm(forms.Form):
    """Names and purposes of the options, and the days of reminders."""

    reminder_days = forms.CharField(
        label=_("Remind a customer who has not answered, days after sending"),
        required=False,
        max_length=40,
        help_text=_("Up to four whole days, 1 to 90, with commas between: 3, 10, 21. Empty: no reminders."),
    )

    def __init__(self, data: QueryDict | None = None, *, shop: Shop) -> None:
        days = ", ".join(str(day) for day in shop.reminder_days)
        super().__init__(data, initial={"reminder_days": days})
        for option in Design.Option:
            name, purpose = option_words(shop, option)
            self.fields[f"name_{option}"] = forms.CharField(
                label=_("Name"), max_length=40, initial=name, required=False
            )
            self.fields[f"purpose_{option}"] = forms.CharField(
                label=_("What it is for"), max_length=160, initial=purpose, required=False
            )

    def clean_reminder_days(self) -> list[int]:
        """Return the days, lowest first; refuse what is no day."""
        text: str = self.cleaned_data["reminder_days"]
        parts = [part for part in re.split(r"[\s,;]+", text) if part]
        if not all(part.isascii() and part.isdigit() and 1 <= int(part) <= LAST_DAY for part in parts):
            raise forms.ValidationError(
                _("Type whole days from 1 to 90, with commas between, like 3, 10, 21.")
            )
        days = sorted({int(part) for part in parts})
        if len(days) > MOST_REMINDERS:
            raise forms.ValidationError(_("Up to four reminders."))
        return days

    def rows(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Return a line for each option: our name of its plan, its name, what it is for."""
        return [(str(o.label), self[f"name_{o}"], self[f"purpose_{o}"]) for o in Design.Option]

    def texts(self) -> dict[str, dict[str, Any]]:
        """Return the shop's words by option."""
        data = self.cleaned_data
        return {
            str(option): {"name": data[f"name_{option}"], "purpose": data[f"purpose_{option}"]}
            for option in Design.Option
        }
