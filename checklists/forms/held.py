"""The form by which the owner decides on held work."""

from __future__ import annotations

from django import forms


class HeldForm(forms.Form):
    """A reason (asked for when it is set aside), and what to do with values that cannot be right."""

    reason = forms.CharField(
        required=False,
        max_length=1000,
        label="Reason",
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="At least 15 characters when it is set aside.",
    )
    leave_out_bad = forms.BooleanField(
        required=False,
        label="Add the rest even if one value cannot be right",
        help_text="What is left out stays readable here.",
    )
