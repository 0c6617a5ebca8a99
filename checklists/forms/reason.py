"""The form in which an owner says why something may stand."""

from __future__ import annotations

from django import forms

from checklists.record.override import REASON_LENGTH


class ReasonForm(forms.Form):
    """A reason of at least fifteen characters; printed on the job sheet."""

    reason = forms.CharField(
        label="Reason",
        min_length=REASON_LENGTH,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=f"At least {REASON_LENGTH} characters. It prints on the job sheet with your name.",
        error_messages={
            "min_length": f"The reason must have at least {REASON_LENGTH} characters.",
            "required": "Please give a reason.",
        },
    )
