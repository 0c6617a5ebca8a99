"""What a customer may type on the page of a link: extras, a question, a yes with a signature, a no."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from common.forms import field_as
from jobs.models import CustomerMessage, LostReason
from jobs.quote.messages import LONGEST
from jobs.shop.signature import clean_signature_svg


class SignForm(forms.Form):
    """A yes: the typed name, with ink or the tick that the name stands for it; bound to what was shown."""

    signed_name = forms.CharField(
        label=_("Your full name"),
        min_length=2,
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Please type your full name.")},
    )
    signature_svg = forms.CharField(required=False, widget=forms.HiddenInput)
    is_typed = forms.BooleanField(
        label=_("My typed name is my signature"), required=False, help_text=_("Instead of drawing one.")
    )
    content_sha256 = forms.CharField(widget=forms.HiddenInput)
    shown_total = forms.DecimalField(required=False, widget=forms.HiddenInput)

    def clean_signature_svg(self) -> str:
        """Return the ink rebuilt from its strokes; nothing else a browser may send is kept."""
        return clean_signature_svg(self.cleaned_data["signature_svg"])

    def clean(self) -> dict[str, Any]:
        """Ask for ink or the tick."""
        data = super().clean() or self.cleaned_data
        if data.get("is_typed"):
            data["signature_svg"] = ""
        elif not data.get("signature_svg"):
            self.add_error(
                "is_typed", _("Please draw your signature, or tick “My typed name is my signature”.")
            )
        return data


#: What a customer may say is the reason; "never answered" is for the shop to say.
CUSTOMER_REASONS: Final = [choice for choice in LostReason.choices if choice[0] != LostReason.SILENT]


class ExtrasForm(forms.Form):
    """What a customer ticks before answering: the option and the extras; what cannot be is passed over."""

    option = forms.IntegerField(required=False, min_value=1, max_value=32_767)
    extra = forms.TypedMultipleChoiceField(required=False, coerce=int)

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data)
        places = [text for text in data.getlist("extra") if text.isascii() and text.isdigit()][:200]
        field_as(self, "extra", forms.TypedMultipleChoiceField).choices = [(text, text) for text in places]

    def number(self) -> int | None:
        """Return the number of the option chosen; None where none was."""
        return self.cleaned_data.get("option") if self.is_valid() else None

    def places(self) -> list[int]:
        """Return the places of the extras ticked."""
        return self.cleaned_data.get("extra", []) if self.is_valid() else []


class AskForm(forms.Form):
    """A customer's question, or wish for a change."""

    kind = forms.ChoiceField(
        label=_("What is it?"),
        choices=[
            (CustomerMessage.Kind.QUESTION, _("A question")),
            (CustomerMessage.Kind.CHANGE, _("Please change something")),
        ],
        initial=CustomerMessage.Kind.QUESTION,
        widget=forms.RadioSelect,
    )
    name = forms.CharField(
        label=_("Your name"),
        min_length=2,
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    text = forms.CharField(
        label=_("Your message"), max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 3})
    )


class DeclineForm(forms.Form):
    """A no, with its reason."""

    signed_name = forms.CharField(
        label=_("Your full name"),
        min_length=2,
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    reason = forms.CharField(
        label=_("What is not right for you"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("A few words help us make you a better offer."),
    )


class QuoteDeclineForm(DeclineForm):
    """A no to a quote: what the reason mostly was helps the next one."""

    lost_reason = forms.ChoiceField(
        label=_("Mostly"),
        required=False,
        choices=[("", _("Choose, if one fits")), *CUSTOMER_REASONS],
    )
