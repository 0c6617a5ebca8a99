"""Views of one step: its page, and what is recorded, ticked, undone or photographed there."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.step import StepForm
from checklists.models import Step
from checklists.office.overview import is_through, next_open_step, page_of
from checklists.office.step import Doubt, step_page
from checklists.photos.photos import Picture, photo_keep, photo_read
from checklists.record.events import Recorded, events_record
from checklists.record.pages import step_for_page
from checklists.record.read import Work, work_of
from checklists.rules.entries import Entry, entry_id
from checklists.rules.install import StepInfo
from checklists.rules.reducer import UNDO
from checklists.views.checklist import signed_parts
from checklists.views.doubts import Doubted, refuse_doubtful
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required

_TABLE: Final = "checklists:table_detail"
#: What was pressed on a page and is sent again with values somebody looked at once more.
_KEPT: Final = ("tick", "undoes", "not_here")


@member_required
@require_GET
def step_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show one step."""
    row = step_for_page(request.user, pk)
    work, step = work_at(row)
    form = StepForm(**form_of(request, work, step))
    return _shown(request, row, work, step, form)


@role_required("may_install")
@require_POST
def step_record(request: ShopRequest, pk: int) -> HttpResponse:
    """Record what was filled in, ticked, photographed or taken back; the same form twice is one record."""
    row = step_for_page(request.user, pk)
    work, step = work_at(row)
    form = StepForm(request.POST, request.FILES, **form_of(request, work, step))
    if not form.is_valid():
        return _shown(request, row, work, step, form)
    try:
        done = _recorded(request, row, work, step, form)
    except Doubted as doubted:
        return _shown(request, row, work, step, form, doubted.doubts)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _shown(request, row, work, step, form)
    goal, where = _goal(request, row, done)
    tell_deviations(request, done, {goal.pk})
    return redirect(where)


def _recorded(request: ShopRequest, row: Step, work: Work, step: StepInfo, form: StepForm) -> Recorded:
    """Store photos and events together: all of it or, when one is refused, none."""
    at = timezone.now()
    entries = list(form.entries(device=_device(request)))
    entries += undo_entries(request, row, form)
    pictures = [
        (spec, photo_read(upload))
        for spec in work.install.specs(step)
        if spec.is_photo
        for upload in request.FILES.getlist(spec.name)
    ]
    with transaction.atomic():
        entries += [photo_entry(request, row, step, form, spec.name, picture) for spec, picture in pictures]
        done = events_record(
            checklist=row.checklist, entries=entries, actor=request.user, at=at, refuse_locked=True, seen=work
        )
        refuse_doubtful(request, done.work, entries, is_table=False)
        return done


def tell_deviations(request: ShopRequest, done: Recorded, shown: Collection[int]) -> None:
    """Tell on the next page what is no longer as planned; the page of a step ``shown`` tells its own."""
    for deviation in done.deviations:
        if deviation.as_built_verdict != "pass" and deviation.step_id not in shown:
            messages.warning(request, deviation.sentence)


def undo_entries(request: ShopRequest, row: Step, form: StepForm) -> list[Entry]:
    """Return what was taken back on a page."""
    submission = form.cleaned_data["submission"]
    names = []
    for text in " ".join(request.POST.getlist("undoes")).split():
        try:
            names.append(uuid.UUID(text))
        except ValueError:
            raise Refusal("That value is no longer here.") from None
    return [
        Entry(
            id=entry_id(submission, row.pk, "undo", str(name)),
            step=row.pk,
            verb=UNDO,
            undoes=name,
            device=_device(request),
        )
        for name in names
    ]


def photo_entry(
    request: ShopRequest, row: Step, step: StepInfo, form: StepForm, name: str, picture: Picture
) -> Entry:
    """Keep one picture of a page and return its event."""
    photo = photo_keep(checklist=row.checklist, picture=picture, actor=request.user, at=timezone.now())
    return Entry(
        id=entry_id(form.cleaned_data["submission"], step.pk, name, str(photo.pk)),
        step=step.pk,
        field=name,
        photo=photo.pk,
        device=_device(request),
    )


def _goal(request: ShopRequest, row: Step, done: Recorded) -> tuple[StepInfo, str]:
    """Return the step to show next and its page: the following open one when asked for and this one is done.

    A row goes back to its table, at its place.
    """
    step = next(each for each in done.work.install.steps if each.pk == row.pk)
    if {"back", "not_here"} & request.POST.keys() and page_of(done.work, step) == _TABLE:
        return step, f"{reverse(_TABLE, args=[step.pk])}#row-{step.pk}"
    is_next = "next" in request.POST and is_through(done.work, step)
    following = next_open_step(done.work, step) if is_next else None
    if following is None:
        return step, reverse("checklists:step_detail", args=[step.pk])
    place = f"#row-{following.pk}" if following.code == step.code else ""
    return following, reverse(page_of(done.work, following), args=[following.pk]) + place


def work_at(row: Step) -> tuple[Work, StepInfo]:
    """Return the work on a step's checklist, and the step in it."""
    work = work_of(row.checklist, signed_parts=signed_parts(row.checklist))
    return work, next(step for step in work.install.steps if step.pk == row.pk)


def form_of(request: ShopRequest, work: Work, step: StepInfo) -> dict[str, Any]:
    """Return what the form of a step is made from; the safety lines are read once a person, phase and day."""
    day = timezone.now().astimezone(ZoneInfo(request.shop.time_zone)).date().isoformat()
    must_read = work.install.must_read(step, name_of(request.user), day)
    return {
        "step": step.pk,
        "mark": work.install.mark(step),
        "units": request.shop.units,
        "reads_on": day if must_read else "",
    }


def _shown(
    request: ShopRequest,
    row: Step,
    work: Work,
    step: StepInfo,
    form: StepForm,
    doubts: tuple[Doubt, ...] = (),
) -> HttpResponse:
    page = step_page(work, step, form, units=request.shop.units)
    page.doubts = doubts
    context = {
        "job": row.checklist.job,
        "page": page,
        "step": page.step,
        "form": form,
        "may_record": request.membership.may_install
        and row.checklist.job.is_in_install
        and row.is_in_scope
        and not page.locks,
        "problem": row.checklist.as_built_problem if row.re_runs else "",
        "kept": [(name, each) for name in _KEPT for each in request.POST.getlist(name)] if doubts else [],
    }
    return render(
        request, "checklists/step_detail.html", context, status=422 if form.errors or doubts else 200
    )


def _device(request: ShopRequest) -> str:
    return request.POST.get("device", "")[:64]
