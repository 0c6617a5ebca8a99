"""What is typed to put options side by side: which designs, their names, which one is recommended."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from common.forms import field_as
from jobs.forms.quote import NewQuoteForm
from jobs.models import Design, Quote
from jobs.quote.compare import option_name
from jobs.quote.offer import MOST_OPTIONS, OptionWords


class NewOfferForm(NewQuoteForm):
    """Which designs are offered together; the rest is asked once for all of them."""

    designs = forms.ModelMultipleChoiceField(
        label=_("Offer side by side"),
        queryset=Design.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("One to three designs, each of another plan."),
        error_messages={"required": _("Choose one to three designs.")},
    )
    recommended = forms.ModelChoiceField(
        label=_("We recommend"),
        queryset=Design.objects.none(),
        required=False,
        empty_label=_("None of them"),
    )
    field_order = ["designs", "recommended"]

    def __init__(self, data: QueryDict | None = None, *, designs: Sequence[Design]) -> None:
        newest = {design.option: design for design in reversed(designs)}  # newest first comes in
        chosen = list(newest.values())[:MOST_OPTIONS]
        super().__init__(data, initial={"designs": chosen, "recommended": _middle(chosen)})
        rows = Design.objects.filter(pk__in=[design.pk for design in designs])
        field_as(self, "designs", forms.ModelMultipleChoiceField).queryset = rows
        field_as(self, "recommended", forms.ModelChoiceField).queryset = rows

    def clean(self) -> dict[str, Any]:
        """Refuse more than three, two of one plan, and a recommendation that is not offered."""
        data = super().clean() or self.cleaned_data
        chosen, recommended = list(data.get("designs") or ()), data.get("recommended")
        if len(chosen) > MOST_OPTIONS:
            self.add_error("designs", _("Choose one to three designs; an offer holds no more."))
        if len({design.option for design in chosen}) != len(chosen):
            self.add_error("designs", _("Two of these are of the same plan: choose one of them."))
        if recommended is not None and recommended not in chosen:
            self.add_error("recommended", _("Recommend one of the designs you offer."))
        return data


class OfferWordsForm(forms.Form):
    """Names and purposes of the options of an offer, and the recommended one."""

    def __init__(
        self,
        data: QueryDict | None = None,
        *,
        quotes: Sequence[Quote],
        recommended: int | None,
    ) -> None:
        super().__init__(data)
        self.quotes = list(quotes)
        for quote in quotes:
            self.fields[f"name_{quote.pk}"] = forms.CharField(
                label=_("Name"), max_length=40, initial=option_name(quote)
            )
            self.fields[f"purpose_{quote.pk}"] = forms.CharField(
                label=_("What it is for"), max_length=160, required=False, initial=quote.option_purpose
            )
        self.fields["recommended"] = forms.TypedChoiceField(
            label=_("We recommend"),
            coerce=int,
            empty_value=None,
            required=False,
            choices=[("", _("None of them")), *((quote.pk, option_name(quote)) for quote in quotes)],
            initial=recommended or "",
        )

    def words(self) -> dict[int, OptionWords]:
        """Return what was typed, by quote."""
        data = self.cleaned_data
        return {q.pk: OptionWords(data[f"name_{q.pk}"], data[f"purpose_{q.pk}"]) for q in self.quotes}


def _middle(designs: Sequence[Design]) -> Design | None:
    """Return the design between the two others: a start the estimator changes at a click."""
    return designs[len(designs) // 2] if designs else None
