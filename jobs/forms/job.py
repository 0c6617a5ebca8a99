"""What may be typed about a job: what is asked for, where, by when, by whom, and its moves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import get_user_model
from django.utils.translation import gettext_lazy as _

from common.edit_conflicts import WatchedForm
from common.forms import RecordForm, field_as
from jobs.models import Job, Membership, Shop
from jobs.shop.actor import name_of


class JobForm(WatchedForm, RecordForm[Job]):
    """What the customer asks for."""

    class Meta:
        model = Job
        fields = ["title", "asked_for", "work_place", "promised_date"]
        labels = {
            "title": _("What the job is called"),
            "asked_for": _("What the customer wants, in their own words"),
        }
        help_texts = {
            "title": _("Shown on the board, like “Solar and lithium”."),
            "asked_for": _("What must run, how long away, where to, known leaks, what was promised."),
            "work_place": _("Where the vehicle will be worked on."),
            "promised_date": _("Day the vehicle is needed back, if agreed."),
        }
        widgets = {
            "asked_for": forms.Textarea(attrs={"rows": 4}),
            "promised_date": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }


class _PeopleField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # takes no model at run time
    def label_from_instance(self, obj: Any) -> str:
        """Return the name of a person as the log prints it."""
        return name_of(obj)


class JobEditForm(JobForm):
    """The same, with the people who work on it."""

    people = _PeopleField(
        queryset=get_user_model().objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=_("Who works on it"),
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, units=shop.units, **kwargs)
        members = Membership.objects.of_shop(shop).filter(is_active=True)
        field = field_as(self, "people", _PeopleField)
        field.queryset = get_user_model().objects.filter(membership__in=members).order_by("first_name", "pk")
        if self.instance.pk:
            self.initial["people"] = list(self.instance.assigned_to.values_list("pk", flat=True))


class MoveForm(forms.Form):
    """Where the job goes next, and why."""

    to = forms.ChoiceField(label=_("Move the job to"))
    reason = forms.CharField(
        label=_("Why"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Required if the job ends here; otherwise it helps whoever reads the log."),
    )

    def __init__(self, *args: Any, states: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        labels = dict(Job.State.choices)
        field_as(self, "to", forms.ChoiceField).choices = [(state, labels[state]) for state in states]


class NoteForm(forms.Form):
    """A line for the log."""

    text = forms.CharField(label=_("Note"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))
