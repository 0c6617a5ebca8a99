"""What may be typed about a design the shop keeps under a name."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class PackageForm(forms.Form):
    """Its name, and what it is for."""

    name = forms.CharField(label=_("Name of the package"), max_length=60)
    note = forms.CharField(label=_("What it is for"), max_length=160, required=False)
