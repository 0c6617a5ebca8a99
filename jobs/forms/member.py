"""What may be typed about a person of the shop."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.models import Membership

PHONE_HELP = _("Shown to colleagues on the tablet, also without a network.")
LANGUAGE_HELP = _("Of the steps and the tablet; they may change it themselves.")


class MemberForm(forms.Form):
    """A person to add. They choose their own password through a link."""

    first_name = forms.CharField(max_length=150)
    last_name = forms.CharField(max_length=150)
    email = forms.EmailField(label=_("E-mail"), max_length=150, help_text=_("They sign in with this."))
    role = forms.ChoiceField(choices=Membership.Role, label=_("Role in the shop"))
    licence_no = forms.CharField(
        label=_("License number"),
        max_length=60,
        required=False,
        help_text=_("Printed beside their signature."),
    )
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False, help_text=PHONE_HELP)
    language = forms.ChoiceField(choices=Membership.Language, required=False, help_text=LANGUAGE_HELP)


class MemberEditForm(forms.Form):
    """A person's part in the shop."""

    role = forms.ChoiceField(choices=Membership.Role, label=_("Role in the shop"))
    licence_no = forms.CharField(label=_("License number"), max_length=60, required=False)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False, help_text=PHONE_HELP)
    language = forms.ChoiceField(choices=Membership.Language, required=False, help_text=LANGUAGE_HELP)
    is_active = forms.BooleanField(
        label=_("Belongs to the shop"),
        required=False,
        help_text=_("Off: they can no longer sign in; what they signed stays signed."),
    )
