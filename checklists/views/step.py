"""Views of one step: its page, and what is recorded, ticked, undone or photographed there."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.step import StepForm
from checklists.models import Step
from checklists.office.overview import next_open_step, page_of
from checklists.office.step import step_page
from checklists.photos.photos import Picture, photo_keep, photo_read
from checklists.record.events import Recorded, events_record
from checklists.record.pages import step_for_page
from checklists.record.read import Work, work_of
from checklists.rules.entries import Entry, entry_id
from checklists.rules.install import StepInfo
from checklists.rules.reducer import UNDO
from checklists.views.checklist import signed_parts
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


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
    form = StepForm(request.POST, **form_of(request, work, step))
    if not form.is_valid():
        return _shown(request, row, work, step, form)
    try:
        done = _recorded(request, row, work, step, form)
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _shown(request, row, work, step, form)
    goal = _goal(request, row, done)
    tell_deviations(request, done, {goal.pk})
    name = "checklists:step_detail" if goal.pk == row.pk else page_of(done.work, goal)
    return redirect(name, goal.pk)


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
        return events_record(
            checklist=row.checklist, entries=entries, actor=request.user, at=at, refuse_locked=True, seen=work
        )


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


def _goal(request: ShopRequest, row: Step, done: Recorded) -> StepInfo:
    """Return the step to show next: the following open one when asked for and this one is done."""
    step = next(each for each in done.work.install.steps if each.pk == row.pk)
    if "next" not in request.POST:
        return step
    is_done = (
        done.work.holds.of_step(step).is_passed if step.is_hold else done.work.install.mark(step).is_done
    )
    following = next_open_step(done.work, step) if is_done else None
    return step if following is None else following


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


def _shown(request: ShopRequest, row: Step, work: Work, step: StepInfo, form: StepForm) -> HttpResponse:
    page = step_page(work, step, form, units=request.shop.units)
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
    }
    return render(request, "checklists/step_detail.html", context, status=422 if form.errors else 200)


def _device(request: ShopRequest) -> str:
    return request.POST.get("device", "")[:64]
