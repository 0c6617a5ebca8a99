"""The form under which one person signs."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.shop.signature import clean_signature_svg


class SignForm(forms.Form):
    """Printed name, drawing (or the typed name standing for it), and the hash of what was shown."""

    part = forms.CharField(widget=forms.HiddenInput)
    content_sha256 = forms.CharField(widget=forms.HiddenInput, max_length=64)
    printed_name = forms.CharField(max_length=150, label=_("Printed name"))
    signature_svg = forms.CharField(required=False, widget=forms.HiddenInput)
    is_typed = forms.BooleanField(required=False, label=_("The typed name is the signature"))

    def clean_signature_svg(self) -> str:
        """Keep the strokes of the drawing and nothing else."""
        return clean_signature_svg(self.cleaned_data["signature_svg"])

    def clean(self) -> dict[str, Any]:
        """Ask for a drawing or the tick that stands for it."""
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("is_typed"):
            cleaned["signature_svg"] = ""
        elif not cleaned.get("signature_svg"):
            self.add_error(
                "is_typed", _("Please draw the signature, or tick that the typed name stands for it.")
            )
        return cleaned


class IssueForm(forms.Form):
    """Why a released sheet is corrected; blank for a first one."""

    reason = forms.CharField(
        required=False,
        max_length=1000,
        label=_("Why it is corrected"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("At least 15 characters; prints on the new sheet."),
    )
