"""What may be typed on the schedule: bays, bookings, moves."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from common.forms import RecordForm, ShopForm, field_as
from jobs.models import Bay, Booking, Membership, Shop
from jobs.schedule.book import Wish
from jobs.schedule.days import MOST_DAYS
from jobs.shop.actor import name_of


def _date_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class BayForm(ShopForm, RecordForm[Bay]):
    """A bay of the shop, or a crew that drives out."""

    class Meta:
        model = Bay
        fields = ["name", "kind", "works_saturday", "works_sunday", "is_active"]
        labels = {
            "name": _("Name"),
            "kind": _("What it is"),
            "works_saturday": _("Works on Saturdays"),
            "works_sunday": _("Works on Sundays"),
            "is_active": _("In use"),
        }
        help_texts = {"name": _("Short, as people say it: “Bay 1”, “Van”.")}

    def clean_name(self) -> str:
        """Refuse a name the shop has already."""
        name = " ".join(self.cleaned_data["name"].split())
        same = Bay.objects.filter(shop=self.instance.shop, name__iexact=name).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError(_("There is a bay of this name already."))
        return name


class _PeopleField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # takes no model at run time
    def label_from_instance(self, obj: Any) -> str:
        """Return the name of a person, and their license."""
        name = name_of(obj.user)
        return f"{name} ({obj.licence_no})" if obj.licence_no else name


class BookingForm(forms.Form):
    """Days of a job: where, from when, by whom."""

    state = forms.ChoiceField(
        label=_("How firm"),
        choices=[(one.value, one.label) for one in (Booking.State.BOOKED, Booking.State.PENCILLED)],
        help_text=_("Booked needs an accepted quote; penciled in holds the days too, and says so."),
    )
    bay = forms.ModelChoiceField(label=_("Bay or crew"), queryset=Bay.objects.none(), empty_label=None)
    place = forms.ChoiceField(
        label=_("Place"),
        choices=Booking.Place,
        help_text=_("Of a day 6.5 h end up in the work in the shop, 5.5 h on a driveway, 5 h on a campsite."),
    )
    starts_on = forms.DateField(label=_("First day"), widget=_date_input())
    arrive_at = forms.TimeField(
        label=_("The vehicle comes, or the crew, at"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    people = _PeopleField(
        label=_("Who works on it"),
        queryset=Membership.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Two do the work of 1.7."),
    )
    travel_min = forms.IntegerField(
        label=_("Travel there and back [min a day]"),
        min_value=0,
        max_value=600,
        required=False,
        help_text=_("Beyond the first hour it is taken off the day."),
    )
    days = forms.IntegerField(
        label=_("Working days"),
        min_value=1,
        max_value=MOST_DAYS,
        required=False,
        help_text=_("Blank: by the hours of the quote."),
    )
    promise_on = forms.DateField(
        label=_("Promised to the customer for"),
        required=False,
        widget=_date_input(),
        help_text=_("Blank: the first day it may drive, or as many days after it as before."),
    )
    note = forms.CharField(label=_("Note for the crew"), max_length=200, required=False)
    edits = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bays = Bay.objects.of_shop(shop).filter(is_active=True)
        field_as(self, "bay", forms.ModelChoiceField).queryset = bays
        members = Membership.objects.of_shop(shop).filter(is_active=True).select_related("user")
        members = members.exclude(role=Membership.Role.BOOKKEEPER).order_by("user__first_name", "pk")
        field_as(self, "people", _PeopleField).queryset = members

    def wish(self) -> Wish:
        """Return what was typed as a wish."""
        told = {**self.cleaned_data}
        told.pop("edits")
        told["people"] = tuple(told["people"])
        told["travel_min"] = told["travel_min"] or 0
        return Wish(**told)


class BookingMoveForm(forms.Form):
    """Another day or bay for a booking; the page says which state of it was seen."""

    starts_on = forms.DateField(label=_("First day"), widget=_date_input())
    bay = forms.ModelChoiceField(label=_("Bay or crew"), queryset=Bay.objects.none(), empty_label=None)
    edits = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        bays = Bay.objects.of_shop(shop).filter(is_active=True)
        field_as(self, "bay", forms.ModelChoiceField).queryset = bays
