"""Views of a table: all steps of one code on a page, saved together or not at all."""

from __future__ import annotations

from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.step import StepForm
from checklists.forms.table import left_out, planned_initial, prefix_of, with_all_feet, with_reason
from checklists.models import Step
from checklists.office.overview import is_through, next_open_step
from checklists.office.step import Doubt
from checklists.office.table import is_table, steps_of_table, table_page
from checklists.photos.photos import photo_keep, photo_read
from checklists.record.events import Recorded, events_record
from checklists.record.pages import step_for_page
from checklists.record.read import Work
from checklists.rules.entries import Entry, entry_id
from checklists.rules.install import StepInfo
from checklists.views.doubts import Doubted, refuse_doubtful
from checklists.views.step import form_of, photo_entry, tell_deviations, undo_entries, work_at
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required

Pairs = list[tuple[StepInfo, StepForm]]


@member_required
@require_GET
def table_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show all steps of one code; a code with one step has its own page."""
    row = step_for_page(request.user, pk)
    work, step = work_at(row)
    if not is_table(steps_of_table(work, step)):
        return redirect("checklists:step_detail", pk)
    return _shown(request, row, work, _forms(request, work, step))


@role_required("may_install")
@require_POST
def table_record(request: ShopRequest, pk: int) -> HttpResponse:
    """Record every cell that was filled in; "as planned" only fills the page."""
    row = step_for_page(request.user, pk)
    work, step = work_at(row)
    blank = [form for _, form in _forms(request, work, step)]
    if "as_planned" in request.POST:
        return _shown(request, row, work, _forms(request, work, step, typed=request.POST))
    pairs = _forms(request, work, step, with_reason(with_all_feet(request.POST, blank), blank))
    valid = [form.is_valid() for _, form in pairs]  # every row is looked at, not only the first that is wrong
    if not all(valid):
        return _shown(request, row, work, pairs)
    try:
        done = _recorded(request, row, work, pairs)
    except Doubted as doubted:
        return _shown(request, row, work, pairs, doubted.doubts)
    except Refusal as refusal:
        pairs[0][1].add_error(None, str(refusal))
        return _shown(request, row, work, pairs)
    name, goal = _goal(request, pairs, done)
    pks = {step.pk for step, _ in pairs}
    tell_deviations(request, done, pks if goal in pks else {goal})
    return redirect(name, goal)


def _forms(
    request: ShopRequest,
    work: Work,
    step: StepInfo,
    data: QueryDict | None = None,
    typed: QueryDict | None = None,
) -> Pairs:
    """Return the form of every step of the code; the safety lines are asked for once a page.

    ``data`` is what is to be saved; ``typed`` is what the page held when it was to be filled as planned.
    """
    pairs: Pairs = []
    for each in steps_of_table(work, step):
        facts = form_of(request, work, each) | {"prefix": prefix_of(each)}
        if pairs:
            facts["reads_on"] = ""
        form = StepForm(data, **facts)
        if typed is not None:
            form = StepForm(**facts, initial=planned_initial(form, typed, is_row=bool(each.subject)))
        pairs.append((each, form))
    return pairs


def _recorded(request: ShopRequest, row: Step, work: Work, pairs: Pairs) -> Recorded:
    """Store every row together; values out of band only where somebody said that they are what was read."""
    at = timezone.now()
    device = request.POST.get("device", "")[:64]
    entries = [entry for _, form in pairs for entry in form.entries(device=device)]
    entries += undo_entries(request, row, pairs[0][1])
    with transaction.atomic():
        entries += _pictures(request, row, pairs)
        done = events_record(
            checklist=row.checklist, entries=entries, actor=request.user, at=at, refuse_locked=True, seen=work
        )
        refuse_doubtful(request, done.work, entries, is_table=True)
        return done


def _pictures(request: ShopRequest, row: Step, pairs: Pairs) -> list[Entry]:
    """Return the photos of the common fields, and the one that proves why rows do not apply."""
    at = timezone.now()
    found = [
        photo_entry(request, row, step, form, each.spec.name, photo_read(upload))
        for step, form in pairs
        for each in form.mark.fields
        if each.spec.is_photo
        for upload in request.FILES.getlist(form.add_prefix(each.spec.name))
    ]
    proof = request.FILES.get("not_here_photo")
    rows = left_out(request.POST, [form for _, form in pairs])
    if proof is None or not rows:
        return found
    photo = photo_keep(checklist=row.checklist, picture=photo_read(proof), actor=request.user, at=at)
    return found + [
        Entry(
            id=entry_id(form.cleaned_data["submission"], form.step, "not_here_photo", str(photo.pk)),
            step=form.step,
            field="not_here_photo",
            photo=photo.pk,
        )
        for form in rows
    ]


def _goal(request: ShopRequest, pairs: Pairs, done: Recorded) -> tuple[str, int]:
    """Return the page to show next: the following open step when asked for and nothing open is left here."""
    pks = {step.pk for step, _ in pairs}
    steps = [step for step in done.work.install.in_scope if step.pk in pks]
    is_done = all(is_through(done.work, step) or done.work.holds.locks(step) for step in steps)
    following = next_open_step(done.work, steps[-1]) if is_done and "next" in request.POST else None
    if following is None:
        return "checklists:table_detail", pairs[0][0].pk
    return "checklists:table_detail", following.pk  # sends on to the step's own page where it is no table


def _shown(
    request: ShopRequest, row: Step, work: Work, pairs: Pairs, doubts: tuple[Doubt, ...] = ()
) -> HttpResponse:
    page = table_page(work, pairs, units=request.shop.units)
    page.doubts = doubts
    has_errors = any(form.is_bound and form.errors for _, form in pairs)
    context = {
        "job": row.checklist.job,
        "page": page,
        "step": pairs[0][0],
        "form": pairs[0][1],
        "ticked": set(request.POST.getlist("tick")),
        "may_record": request.membership.may_install and row.checklist.job.is_in_install and not page.locks,
    }
    return render(request, "checklists/step_table.html", context, status=422 if has_errors or doubts else 200)
