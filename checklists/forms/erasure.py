"""The form in which an owner erases a customer."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from checklists.record.override import REASON_LENGTH


class ErasureForm(forms.Form):
    """Why, and a tick that it is meant."""

    reason = forms.CharField(
        label=_("Reason"), min_length=REASON_LENGTH, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    sure = forms.BooleanField(label=_("I know that this cannot be taken back"))
