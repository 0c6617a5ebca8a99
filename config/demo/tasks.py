"""Finds what a visitor of the demo may try: one place of each kind, as the demo stands now."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from checklists.models import Deviation, JobSheet
from config.demo.shop import guest_path
from jobs.models import Booking, Design, Job, LayRun, Membership

S = Job.State


def try_this(request: HttpRequest) -> dict[str, str]:
    """Return addresses by what is done there, of this person's shop and part; none outside the demo."""
    membership = getattr(request, "membership", None)
    if not settings.IS_DEMO or membership is None:
        return {}
    found: dict[str, str] = {}
    if membership.may_design:
        found |= _of_the_desk(membership)
    if membership.may_install:
        found |= _of_the_bay(membership)
    if membership.takes_money:
        found |= _of_the_books(membership)
    return found


def _of_the_desk(membership: Membership) -> dict[str, str]:
    designs = Design.objects.of_shop(membership.shop).filter(state=Design.State.DRAFT)
    roof = designs.filter(job__state__in=(S.SURVEYED, S.DESIGNING)).order_by("pk").first()
    runs = LayRun.objects.of_shop(membership.shop).filter(state=LayRun.State.DONE)
    choice = runs.filter(design__in=designs).order_by("pk").first()
    links = {"quote": guest_path(), "week": _week(membership)}
    if roof is not None:
        links["roof"] = reverse("jobs:workspace", args=[roof.pk])
    if choice is not None:
        links["layouts"] = reverse("jobs:lay_detail", args=[choice.design_id])
    return {name: path for name, path in links.items() if path}


def _week(membership: Membership) -> str:
    """Return the path of the week of the next booking."""
    booked = Booking.objects.of_shop(membership.shop).filter(state=Booking.State.BOOKED, job__state=S.READY)
    first = booked.order_by("starts_on").first()
    return f"{reverse('jobs:week_board')}?week={first.starts_on:%Y-%m-%d}" if first else ""


def _of_the_bay(membership: Membership) -> dict[str, str]:
    links = {}
    jobs = Job.objects.of_shop(membership.shop).filter(state__in=(S.IN_WORK, S.PAUSED, S.COMMISSIONING))
    if jobs.exists():
        links["tablet"] = reverse("checklists:tablet")
    open_ones = Deviation.objects.of_shop(membership.shop).filter(state=Deviation.State.OPEN)
    deviation = open_ones.order_by("pk").first() if membership.is_owner else None
    if deviation is not None:
        links["deviation"] = reverse("checklists:deviation_detail", args=[deviation.pk])
    sheets = JobSheet.objects.of_shop(membership.shop).filter(is_released=True)
    sheet = sheets.order_by("-issued_at").first()
    if sheet is not None:
        links["sheet"] = reverse("checklists:sheet_detail", args=[sheet.pk])
    return links


def _of_the_books(membership: Membership) -> dict[str, str]:
    done = Job.objects.of_shop(membership.shop).filter(state__in=(S.RELEASED, S.INVOICED)).first()
    if membership.is_owner or done is None:
        return {}
    return {"invoice": reverse("jobs:job_detail", args=[done.pk])}
