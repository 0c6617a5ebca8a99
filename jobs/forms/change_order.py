"""What may be typed about a change: what was found, what waits, what it costs, who decides."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from common.told import told_parts
from jobs.forms.amounts import AmountField
from jobs.forms.quote import form_errors, line_sets, set_errors
from jobs.models import ChangeOrder, Job, Part, PhaseChoice
from jobs.quote.change_order import ChangeFacts
from jobs.quote.labour import codes_of
from jobs.quote.lines import LineDraft, Rates


class FoundForm(forms.Form):
    """What was found and what has to wait; whoever works on the vehicle may write it down."""

    cause = forms.CharField(
        label=_("What was found, or is wanted"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("In plain words, with the place, the size and any reading. The customer reads this."),
    )
    found_by_name = forms.CharField(label=_("Found by"), max_length=150)
    locked_phases = forms.MultipleChoiceField(
        label=_("Phases that wait for the answer"),
        choices=[(phase.value, told_parts(phase.value, phase.label)) for phase in PhaseChoice],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Nothing is recorded in these until the customer has signed."),
    )
    is_safety_critical = forms.BooleanField(
        label=_("Leaving it as it is would not be safe"),
        required=False,
        help_text=_(
            "If the customer refuses, the owner must decide, and the decision prints on the job sheet."
        ),
    )
    schedule_days = forms.IntegerField(
        label=_("Days the finish date moves"),
        min_value=-60,
        max_value=365,
        initial=0,
        help_text=_("-60 to 365 days; more is later."),
        error_messages={
            "min_value": _("Days the finish date moves must be -60 to 365 days."),
            "max_value": _("Days the finish date moves must be -60 to 365 days."),
        },
    )

    def facts(self) -> ChangeFacts:
        """Return what was typed, without money."""
        data = self.cleaned_data
        return ChangeFacts(
            cause=data["cause"],
            found_by_name=data["found_by_name"],
            locked_phases=tuple(data["locked_phases"]),
            schedule_days=data["schedule_days"],
            is_safety_critical=data["is_safety_critical"],
        )


class ChangeForm(FoundForm):
    """The same with what the office adds: allowance given back, least charge."""

    credits_allowance = AmountField(
        label=_("Allowance credited back"),
        unit="",
        required=False,
        help_text=_(
            "What this change uses of the accepted allowances, or leaves unused; no more than is left."
        ),
    )
    minimum_fee = AmountField(
        label=_("Minimum charge for a change"),
        unit="",
        high="1000",
        required=False,
        help_text=_("0 to 1,000, before tax. 0 waives it."),
    )

    def facts(self) -> ChangeFacts:
        """Return what was typed."""
        data = self.cleaned_data
        return ChangeFacts(
            cause=data["cause"],
            found_by_name=data["found_by_name"],
            locked_phases=tuple(data["locked_phases"]),
            schedule_days=data["schedule_days"],
            is_safety_critical=data["is_safety_critical"],
            credits_allowance=data["credits_allowance"] or Decimal(0),
            minimum_fee=data["minimum_fee"] or Decimal(0),
        )


class ChangeDesk:
    """All that lies on the desk while a change is written: what was found, and three sets of lines."""

    def __init__(
        self,
        *,
        job: Job,
        rates: Rates,
        parts: Iterable[Part],
        order: ChangeOrder | None = None,
        found_by: str = "",
        data: QueryDict | None = None,
    ) -> None:
        self.job, self.order = job, order
        self.catalogue = list(parts)
        codes = codes_of(job.shop)
        self.tasks = list(codes.values())
        rows = {
            "codes": codes,
            "rates": rates,
            "parts": {part.sku.upper(): part for part in self.catalogue},
            "low": "-999",
        }
        lines = list(order.lines.select_related("part").exclude(code="MIN")) if order else []
        self.form = ChangeForm(data, initial=_initial(order, found_by))
        self.labour, self.parts, self.others = line_sets(lines, rows, data)

    def is_valid(self) -> bool:
        """Return whether everything typed can be read."""
        answers = [form.is_valid() for form in (self.form, self.labour, self.parts, self.others)]
        return all(answers)

    def lines(self) -> list[LineDraft]:
        """Return the lines as typed, hours first."""
        return [form.draft() for rows in (self.labour, self.parts, self.others) for form in rows.kept()]

    def errors(self) -> list[tuple[str, str]]:
        """Return every error with the id of its field."""
        return form_errors(self.form) + set_errors([self.labour, self.parts, self.others])


def _initial(order: ChangeOrder | None, found_by: str) -> dict[str, Any]:
    if order is None:
        return {"found_by_name": found_by, "schedule_days": 0, "minimum_fee": Decimal(45)}
    names = [*FoundForm.base_fields, "credits_allowance", "minimum_fee"]
    return {name: getattr(order, name) for name in names}


class VerbalForm(forms.Form):
    """A yes by word of mouth."""

    said_by = forms.CharField(label=_("Who said yes"), max_length=150)
    through = forms.ChoiceField(
        label=_("How"),
        choices=[("phone", _("On the phone")), ("in person", _("In person")), ("message", _("By message"))],
    )


class DecisionForm(forms.Form):
    """The owner's decision on a refused safety matter."""

    decision = forms.CharField(
        label=_("Decision"),
        min_length=15,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "At least 15 characters: stop the job, or go on with the refusal in writing, and why. It"
            " prints on the job sheet."
        ),
    )
