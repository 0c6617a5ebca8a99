"""What may be typed on the way from a design to a sent quote, and in the customer's answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from common.fields import PercentField
from common.forms import RecordForm
from jobs.forms.amounts import AmountField
from jobs.forms.quote_lines import (
    BANDS,
    PERCENT_OF_PARTS,
    LabourLineForm,
    OtherLineForm,
    PartLineForm,
    ScopeForm,
    row_set,
)
from jobs.models import LineKind, LostReason, Part, Quote, ScopeItem
from jobs.models.quote import Line
from jobs.quote import money
from jobs.quote.draft import QuoteTerms
from jobs.quote.labour import codes_of
from jobs.quote.lines import LineDraft, Rates
from jobs.quote.messages import LONGEST
from jobs.quote.proposal import Trip
from jobs.quote.scope import ScopeDraft

_STORED_LABOUR: Final = ("code", "text", "quantity", "is_pair", "unit_price", "is_optional", "free_reason")
_STORED_PART: Final = ("text", "quantity", "unit", "unit_cost", "markup", "is_optional", "free_reason")
_STORED_OTHER: Final = (
    "kind", "code", "text", "quantity", "unit", "unit_price", "unit_cost", "is_optional", "free_reason",
)  # fmt: skip


class NewQuoteForm(forms.Form):
    """What a quote needs to know that no design can tell: the way to the work, and what was paid already."""

    miles = AmountField(
        label=_("‹Kilometers|Miles› to the work, one way"),
        unit="‹km|miles›",
        high="2000",
        required=False,
        help_text=_("0 to 2,000 ‹km|miles›. Leave empty when the vehicle comes to the shop."),
    )
    hours_each_way = AmountField(
        label=_("Hours on the road, one way"),
        unit="h",
        high="24",
        required=False,
        help_text=_("0 to 24 h. Time past one hour each way is charged at half the rate."),
    )
    survey_fee_paid = AmountField(
        label=_("Survey fee already paid"),
        unit="",
        high="5000",
        required=False,
        help_text=_("0 to 5,000. Credited on the quote."),
    )
    by_band = forms.BooleanField(
        label=_("Mark up by what a part costs"),
        required=False,
        help_text=_(
            "60% on the first 50 of a part's cost, 40% on what lies between 50 and 500, 28% up to 2,500, 20%"
            " beyond, instead of the shop's one markup."
        ),
    )

    def options(self) -> dict[str, Any]:
        """Return the answers as the service takes them."""
        data = self.cleaned_data
        return {
            "trip": Trip(data["miles"] or Decimal(0), data["hours_each_way"] or Decimal(0)),
            "survey_fee_paid": data["survey_fee_paid"] or Decimal(0),
            "by_band": data["by_band"],
        }


class TermsForm(RecordForm[Quote]):
    """Words, tax and deposit of a quote."""

    tax_fraction = PercentField(label=_("Sales tax"), help_text=_("On what is ticked beside it."))
    deposit_fraction = PercentField(
        label=_("Deposit"), help_text=_("Of the total, before parts are ordered.")
    )
    edits = forms.IntegerField(widget=forms.HiddenInput)

    class Meta:
        model = Quote
        fields = [
            "title", "summary", "tax_fraction", "tax_on_parts", "tax_on_labour", "tax_exempt_text",
            "deposit_fraction",
        ]  # fmt: skip
        labels = {
            "title": _("Title"),
            "summary": _("What the customer gets, in short"), "tax_on_parts": _("Parts are taxed"),
            "tax_on_labour": _("Labor is taxed"), "tax_exempt_text": _("Exemption certificate"),
        }  # fmt: skip
        help_texts = {
            "title": _("Up to 160 characters."),
            "summary": _("The customer reads this first."),
            "tax_exempt_text": _("Its number, up to 80 characters. If filled in, no tax is charged."),
        }
        widgets = {"summary": forms.Textarea(attrs={"rows": 3})}

    def terms(self) -> QuoteTerms:
        """Return the terms as typed."""
        return QuoteTerms(**{name: self.cleaned_data[name] for name in QuoteTerms.__slots__})


class QuoteDesk:
    """All that lies on the desk while a quote is priced: terms, three sets of lines, the scope list."""

    def __init__(self, *, quote: Quote, parts: Iterable[Part], data: QueryDict | None = None) -> None:
        self.quote = quote
        rates = Rates.of_quote(quote)
        self.catalogue = list(parts)
        codes = codes_of(quote.job.shop)
        self.tasks = list(codes.values())
        rows = {"rates": rates, "codes": codes, "parts": {part.sku.upper(): part for part in self.catalogue}}
        lines = list(quote.lines.select_related("part"))
        self.terms_form = TermsForm(data, instance=quote, initial={"edits": quote.edits})
        self.labour, self.parts, self.others = line_sets(lines, rows, data)
        self.scope = row_set(ScopeForm, extra=1)(
            data, prefix="scope", initial=_scope_rows(quote.scope_items.all())
        )

    def is_valid(self) -> bool:
        """Return whether everything typed can be read."""
        answers = [form.is_valid() for form in (self.terms_form, *self.sets)]  # ask all: every error shows
        return all(answers)

    @property
    def sets(self) -> list[Any]:
        """Return the four sets of rows."""
        return [self.labour, self.parts, self.others, self.scope]

    def lines(self) -> list[LineDraft]:
        """Return the lines as typed, hours first."""
        return [form.draft() for rows in (self.labour, self.parts, self.others) for form in rows.kept()]

    def scope_items(self) -> list[ScopeDraft]:
        """Return the scope list as typed."""
        kept = [form.cleaned_data for form in self.scope.kept()]
        return [ScopeDraft(data["text"], data["answer"], data["note"]) for data in kept]

    def errors(self) -> list[tuple[str, str]]:
        """Return every error with the id of its field, for the summary on top."""
        return form_errors(self.terms_form) + set_errors(self.sets)


def line_sets(lines: Sequence[Line], rows: dict[str, Any], data: QueryDict | None) -> tuple[Any, Any, Any]:
    """Return the sets of labor, part and other rows, filled with stored lines or with what was typed."""
    grouped: dict[str, list[dict[str, Any]]] = {"labour": [], "parts": [], "others": []}
    for line in lines:
        if line.kind == LineKind.LABOUR:
            grouped["labour"].append(_row(line, _STORED_LABOUR))
        elif line.kind == LineKind.PART:
            grouped["parts"].append(_part_row(line))
        else:
            grouped["others"].append(_other_row(line))
    kinds = {"labour": LabourLineForm, "parts": PartLineForm, "others": OtherLineForm}
    made = [
        row_set(form, extra=1)(data, prefix=name, initial=grouped[name], form_kwargs=rows)
        for name, form in kinds.items()
    ]
    return made[0], made[1], made[2]


ROWS = {"labour": "Labor", "parts": "Parts", "others": "Other", "scope": "Scope"}


def set_errors(sets: Iterable[Any]) -> list[tuple[str, str]]:
    """Return the errors of sets of rows, each with the id of its field and the row it is in."""
    found: list[tuple[str, str]] = []
    for rows in sets:
        found += [("", text) for text in rows.non_form_errors()]
        for place, form in enumerate(rows.forms, start=1):
            if rows.can_delete and rows._should_delete_form(form):
                continue
            found += [
                (where, f"{ROWS.get(rows.prefix, rows.prefix.title())} row {place}, {text}")
                for where, text in form_errors(form)
            ]
    return found


def form_errors(form: forms.BaseForm) -> list[tuple[str, str]]:
    """Return a form's errors, each with the id of its field."""
    found = [("", str(text)) for text in form.non_field_errors()]
    for bound in form:
        found += [(bound.auto_id, str(text)) for text in bound.errors]
    return found


def _row(line: Line, names: Sequence[str]) -> dict[str, Any]:
    """Return a stored line as typed; a free line was typed without a price."""
    row = {name: getattr(line, name) for name in names}
    return row | {"unit_price": None} if line.free_reason else row


def _part_row(line: Line) -> dict[str, Any]:
    row = _row(line, _STORED_PART)
    part: Part | None = line.part
    how = BANDS if line.is_banded else "1" if line.is_margin else ""
    return row | {"sku": part.sku if part else "", "is_margin": how}


def _other_row(line: Line) -> dict[str, Any]:
    """Return a stored line as typed: a share of the parts shows as percent, its sums are not typed."""
    row = _row(line, _STORED_OTHER)
    if money.is_share(line.kind, line.unit):
        row |= {
            "quantity": line.quantity * 100,
            "unit": PERCENT_OF_PARTS,
            "unit_price": None,
            "unit_cost": None,
        }
    return row


def _scope_rows(items: Iterable[ScopeItem]) -> list[dict[str, Any]]:
    return [{"text": item.text, "answer": item.answer, "note": item.note} for item in items]


class SendForm(forms.Form):
    """The owner's reason when something stands in the way."""

    reason = forms.CharField(
        label=_("Why it is sent anyway"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Kept with the quote and in the log."),
    )


class ReasonForm(forms.Form):
    """A reason in a few words."""

    reason = forms.CharField(label=_("Reason"), max_length=500, widget=forms.Textarea(attrs={"rows": 2}))


class AnswerForm(forms.Form):
    """The shop's answer to a customer."""

    text = forms.CharField(
        label=_("Your answer"), max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 3})
    )


class LostForm(forms.Form):
    """Why an offer was not taken, as the shop learned it."""

    lost_reason = forms.ChoiceField(choices=LostReason.choices)
    note = forms.CharField(required=False, max_length=500)


class EditsForm(forms.Form):
    """The count a page was made with, so that nobody overwrites what another changed meanwhile."""

    edits = forms.IntegerField(min_value=0, max_value=2_000_000_000)
