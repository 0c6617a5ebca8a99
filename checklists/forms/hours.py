"""The form in which hours are put right by hand, and the one that settles a shortage."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from checklists.models import Checklist
from checklists.plan.steps import phases
from checklists.rules.clocks import Span
from checklists.rules.job_entries import MOST_BY_HAND_H, REASON_LENGTH, SETTLED_LENGTH, Worked
from common.forms import field_as
from common.told import Words
from jobs.models import Membership, Shop

_LOCAL = "%Y-%m-%dT%H:%M"


def _moment(label: Words) -> forms.DateTimeField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=_LOCAL)
    return forms.DateTimeField(label=label, widget=widget, input_formats=[_LOCAL, "%Y-%m-%dT%H:%M:%S"])


class _Person(forms.ModelChoiceField):  # type: ignore[type-arg]  # Django's own takes no arguments when run
    def label_from_instance(self, obj: Any) -> str:
        """Print the person's name."""
        return str(obj.user.get_full_name() or obj.user.username)


class HoursForm(forms.Form):
    """From when to when somebody worked in a phase, and why it is put right."""

    submission = forms.UUIDField(widget=forms.HiddenInput)
    person = _Person(label=_("Who"), queryset=Membership.objects.none())
    phase = forms.ChoiceField(label=_("Phase"))
    start = _moment("From")
    end = _moment("To")
    reason = forms.CharField(
        label=_("Why it is put right"),
        min_length=REASON_LENGTH,
        max_length=400,
        help_text=_("For example: forgot to stop. What the clock ran is kept beside it."),
    )

    def __init__(self, *args: Any, checklist: Checklist, clock: Span | None, **kwargs: Any) -> None:
        self.clock = clock
        first: dict[str, Any] = {"submission": uuid.uuid4()}
        if clock is not None:
            first |= {"phase": clock.phase, "start": clock.start, "end": clock.end}
        super().__init__(*args, **({"initial": first} | kwargs))
        names = phases(checklist.template_version)
        letters = checklist.steps.order_by("phase").values_list("phase", flat=True).distinct()
        field_as(self, "phase", forms.ChoiceField).choices = [
            (letter, f"{letter} {names[letter].title}")
            for letter in dict.fromkeys(letters)
            if letter in names
        ]
        if clock is not None:
            del self.fields["person"]
            return
        field_as(self, "person", _Person).queryset = _people(checklist.job.shop)

    def clean(self) -> dict[str, Any]:
        """Refuse hours that end before they begin, or go on for more than a day."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        start, end = cleaned.get("start"), cleaned.get("end")
        if start and end:
            hours = (end - start).total_seconds() / 3600
            if not 0 <= hours <= MOST_BY_HAND_H:
                words = (
                    f"From and to must be 0 to {MOST_BY_HAND_H:g} hours apart; you typed {hours:.1f} hours."
                )
                self.add_error("end", words)
        return cleaned

    def worked(self) -> Worked:
        """Return what was typed; a clock keeps its person."""
        data = self.cleaned_data
        user = data["person"].user if self.clock is None else None
        return Worked(
            phase=data["phase"],
            start=data["start"],
            end=data["end"],
            reason=data["reason"],
            clock=self.clock.id if self.clock else None,
            who=user.pk if user else 0,
            name=(user.get_full_name() or user.username) if user else "",
        )


def _people(shop: Shop) -> Any:
    rows = Membership.objects.of_shop(shop).filter(is_active=True)
    return rows.select_related("user").order_by("user__first_name", "pk")


class SettleForm(forms.Form):
    """How a shortage was settled."""

    submission = forms.UUIDField(widget=forms.HiddenInput)
    key = forms.CharField(widget=forms.HiddenInput, max_length=40)
    note = forms.CharField(
        label=_("How it was settled"),
        min_length=SETTLED_LENGTH,
        max_length=400,
        help_text=_("For example: two in stock, Bob takes them along."),
    )
