"""The form in which an owner says why something may stand."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from checklists.record.override import REASON_LENGTH
from common.told import told_later


class ReasonForm(forms.Form):
    """A reason of at least fifteen characters; printed on the job sheet."""

    reason = forms.CharField(
        label=_("Reason"),
        min_length=REASON_LENGTH,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=told_later(
            f"At least {REASON_LENGTH} characters. It prints on the job sheet with your name."
        ),
        error_messages={
            "min_length": told_later(f"The reason must have at least {REASON_LENGTH} characters."),
            "required": _("Please give a reason."),
        },
    )
