"""The pages of the schedule: the week board, bookings, bays."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_POST

from jobs.board.jobs import job_for_page
from jobs.forms.schedule import BayForm, BookingForm, BookingMoveForm
from jobs.models import Bay, Booking, Job
from jobs.schedule import bays
from jobs.schedule.book import booking_change, booking_create, booking_move, booking_off, wish_of
from jobs.schedule.days import days_needed, productive_hours
from jobs.schedule.needs import WEATHER, Needs, needs_of
from jobs.schedule.speed import speed_of
from jobs.schedule.visit import visit_tell
from jobs.schedule.week import monday_of, own_days, undated, week_of
from jobs.shop.days import local_date
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required
from jobs.views.refused import on_form


@member_required
def week_board(request: ShopRequest) -> HttpResponse:
    """Show a week: bays and people by day; ``?week=`` names any day of it."""
    today = local_date(request.shop, timezone.now())
    monday = monday_of(_day(request.GET.get("week", "")) or today)
    context = {
        "week": week_of(request.shop, monday),
        "today": today,
        "this_monday": monday_of(today),
        "undated": undated(request.shop),
        "own_days": own_days(request.membership, today),
        "all_bays": Bay.objects.of_shop(request.shop).filter(is_active=True),
        "weather": WEATHER,
    }
    return render(request, "jobs/week_board.html", context)


def _day(text: str) -> date | None:
    try:
        found = parse_date(text)
    except ValueError:
        return None
    return found if found and 2000 <= found.year <= 2100 else None


@role_required("may_design")
def booking_new(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Book days for a job; ``?day=`` and ``?bay=`` say where on the board it was begun."""
    job = job_for_page(request.user, job_pk)
    if not Bay.objects.of_shop(request.shop).filter(is_active=True).exists():
        messages.error(request, "Say first which bays and crews there are.")
        return redirect("jobs:bay_list")
    needs = needs_of(job)
    form = BookingForm(request.POST or None, shop=request.shop, initial=_start(request, job, needs))
    if request.method == "POST" and form.is_valid():
        booked = on_form(
            form,
            lambda: booking_create(job=job, wish=form.wish(), actor=request.user, at=timezone.now()),
        )
        if booked:
            messages.success(request, booked.says)
            return redirect(_week_url(booked.booking.starts_on))
    return _booking_page(request, form, job, needs, None)


def _start(request: ShopRequest, job: Job, needs: Needs) -> dict[str, Any]:
    """Return how the form of a new booking begins: tomorrow, or when the last part can be here."""
    bay = request.GET.get("bay", "")
    today = local_date(request.shop, timezone.now())
    first = today + timedelta(days=max(1, needs.longest_wait))
    while first.weekday() >= 5:
        first += timedelta(days=1)
    return {
        "state": Booking.State.BOOKED if needs.is_sold else Booking.State.PENCILLED,
        "bay": int(bay) if bay.isdigit() else None,
        "place": Booking.Place.SHOP,
        "starts_on": _day(request.GET.get("day", "")) or first,
        "arrive_at": "08:00",
        "people": list(
            job.assigned_to.filter(membership__shop=request.shop).values_list("membership", flat=True)
        ),
        "promise_on": None,
        "travel_min": 0,
    }


@role_required("may_design")
def booking_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a booking."""
    booking = _booking(request, pk)
    wish = wish_of(booking)
    start = {
        "state": wish.state, "bay": wish.bay, "place": wish.place, "starts_on": wish.starts_on,
        "arrive_at": wish.arrive_at, "people": [one.pk for one in wish.people], "days": wish.days,
        "travel_min": wish.travel_min, "note": wish.note, "edits": booking.edits,
    }  # fmt: skip
    form = BookingForm(request.POST or None, shop=request.shop, initial=start)
    if request.method == "POST" and form.is_valid():
        edits = form.cleaned_data["edits"]
        booked = on_form(
            form,
            lambda: booking_change(
                booking=booking, edits=-1 if edits is None else edits, wish=form.wish(), actor=request.user,
                at=timezone.now(),
            ),
        )  # fmt: skip
        if booked:
            messages.success(request, booked.says)
            return redirect(_week_url(booked.booking.starts_on))
    return _booking_page(request, form, booking.job, needs_of(booking.job), booking)


def _booking_page(
    request: ShopRequest, form: BookingForm, job: Job, needs: Needs, booking: Booking | None
) -> HttpResponse:
    speed = speed_of(request.shop)
    places = [
        (label, productive_hours(place), *(_count(needs, people, place, speed) for people in (1, 2)))
        for place, label in Booking.Place.choices
    ]
    context = {
        "form": form, "job": job, "tab": "overview", "needs": needs, "booking": booking, "speed": speed,
        "places": places, "weather": WEATHER, "release": job.release_day(),
    }  # fmt: skip
    return render(request, "jobs/booking_edit.html", context, status=422 if form.errors else 200)


def _count(needs: Needs, people: int, place: str, speed: Any) -> int:
    return days_needed(needs.hours, people=people, place=place, speed=speed) + needs.extra_days


@role_required("may_design")
@require_POST
def booking_moved(request: ShopRequest, pk: int) -> HttpResponse:
    """Move a booking to another day or bay, from the board."""
    booking = _booking(request, pk)
    form = BookingMoveForm(request.POST, shop=request.shop)
    back = booking.starts_on
    if not form.is_valid():
        messages.error(request, "Not moved: choose a day and a bay.")
    else:
        try:
            booked = booking_move(booking=booking, **form.cleaned_data, actor=request.user, at=timezone.now())
        except Refusal as refusal:
            messages.error(request, f"Not moved. {refusal}")
        else:
            messages.success(request, booked.says)
            back = booked.booking.starts_on
    return redirect(_week_url(_day(request.POST.get("week", "")) or back))


@role_required("may_design")
@require_POST
def booking_taken_off(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a booking off; its days are free again."""
    booking = _booking(request, pk)
    edits = request.POST.get("edits", "")
    try:
        booking_off(
            booking=booking, edits=int(edits) if edits.isdigit() else -1,
            reason=request.POST.get("reason", ""), actor=request.user, at=timezone.now(),
        )  # fmt: skip
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:booking_edit", pk)
    messages.success(request, "Taken off. The days are free again.")
    return redirect(_week_url(booking.starts_on))


@role_required("may_design")
@require_POST
def visit_told(request: ShopRequest, pk: int) -> HttpResponse:
    """Mail the customer the days."""
    try:
        visit_tell(booking=_booking(request, pk), actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(
            request, "The letter with the days is on its way; the job's log says when it was sent."
        )
    return redirect("jobs:booking_edit", pk)


@role_required("may_design")
def bay_list(request: ShopRequest) -> HttpResponse:
    """Show the bays and crews, and take a new one."""
    return _bay_page(request, Bay(shop=request.shop))


@role_required("may_design")
def bay_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a bay or crew."""
    return _bay_page(request, get_object_or_404(Bay.objects.visible_to(request.user), pk=pk))


def _bay_page(request: ShopRequest, bay: Bay) -> HttpResponse:
    form = BayForm(request.POST or None, instance=bay, units=request.shop.units)
    if request.method == "POST" and form.is_valid():
        try:
            bays.bay_save(bay=form.save(commit=False), actor=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "Saved.")
            return redirect("jobs:bay_list")
    found = Bay.objects.visible_to(request.user)
    context = {"bays": found, "form": form, "bay": bay if bay.pk else None}
    return render(request, "jobs/bay_list.html", context, status=422 if form.errors else 200)


def _booking(request: ShopRequest, pk: int) -> Booking:
    rows = Booking.objects.visible_to(request.user).exclude(state=Booking.State.OFF)
    return get_object_or_404(rows.select_related("job__shop", "job__vehicle__customer", "bay"), pk=pk)


def _week_url(day: date) -> str:
    return f"{reverse('jobs:week_board')}?week={monday_of(day):%Y-%m-%d}"
