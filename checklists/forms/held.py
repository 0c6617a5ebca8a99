"""The form by which the owner decides on held work."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class HeldForm(forms.Form):
    """A reason (asked for when it is set aside), and what to do with values that cannot be right."""

    reason = forms.CharField(
        required=False,
        max_length=1000,
        label=_("Reason"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("At least 15 characters when it is set aside."),
    )
    leave_out_bad = forms.BooleanField(
        required=False,
        label=_("Add the rest even if one value cannot be right"),
        help_text=_("What is left out stays readable here."),
    )
