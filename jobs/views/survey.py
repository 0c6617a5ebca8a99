"""Answers for the survey: the overview, its pages, their live previews, and the list of places."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from jobs.customers.job import moves_by_hand
from jobs.design import survey_preview
from jobs.design.survey_saved import survey_save
from jobs.forms.survey import (
    SurveyPage,
    starting_texts,
    texts_to_add,
    usual_texts,
    with_added_row,
    with_starting_rows,
    with_usual_values,
)
from jobs.models import Job, Survey
from jobs.shop.refusals import Refusal
from jobs.survey import PARTS, Part, places
from jobs.survey.read import (
    completeness,
    guess_label,
    guesses,
    is_accepted,
    is_closed,
    known_places,
    part_states,
    survey_for_page,
)
from jobs.views.access import ShopRequest, member_required, must_hold


@member_required
@require_GET
def survey_detail(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show what is known, what is missing before each stage, and what is a guess."""
    survey = survey_for_page(request.user, job_pk)
    stages = completeness(survey)
    moves = moves_by_hand(survey.job, request.membership)
    context = {
        "survey": survey,
        "job": survey.job,
        "tab": "survey",
        "can_be_surveyed": stages[0].is_complete and Job.State.SURVEYED in moves,
        "stages": stages,
        "parts": part_states(survey, stages),
        "guesses": sorted(guess_label(name) for name in guesses(survey)),
        "is_closed": is_closed(survey),
        "sketch": survey_preview.sketch(survey, units=request.shop.units),
    }
    return render(request, "jobs/survey_detail.html", context)


@member_required
@require_http_methods(["GET", "POST"])
def survey_edit(request: ShopRequest, job_pk: int, part: str) -> HttpResponse:
    """Show one page of the survey; take it back with what was typed, or store it."""
    survey = survey_for_page(request.user, job_pk)
    if part not in PARTS:
        raise Http404("no such page of the survey")
    if request.method == "POST":
        must_hold(request, "may_survey")
        return _taken(request, survey, PARTS[part])
    may_edit = request.membership.may_design and not is_closed(survey)
    page = _page(request, survey, PARTS[part], may_edit=may_edit)
    return _shown(request, page, may_edit=may_edit)


@member_required
@require_GET
def place_search(request: ShopRequest) -> HttpResponse:
    """Answer with the towns, and the shop's own places, that begin as typed."""
    typed = next(
        (str(text) for name, text in request.GET.items() if name == "q" or name.endswith("-place")), ""
    )
    own = known_places(request.shop)
    start = places.plain(typed)
    names = [name for name in own if start and places.plain(name).startswith(start)]
    names += [str(town) for town in places.towns_like(typed) if str(town) not in names]
    return render(request, "jobs/_survey_places.html", {"names": names[:12]})


def _taken(request: ShopRequest, survey: Survey, part: Part) -> HttpResponse:
    """Answer what was sent: a preview, a change of what was typed, or the saving of it."""
    if "preview" in request.GET:
        return _previewed(request, _page(request, survey, part, request.POST))
    act = request.POST.get("act", "save")
    changed = _acted(act, request.POST, part, survey, request.shop.units)
    if changed is not None:
        page = _page(request, survey, part, changed)
        page.show_without_judging()
        return _shown(request, page, act=act)
    page = _page(request, survey, part, request.POST)
    if page.is_valid():
        try:
            notes = survey_save(
                survey=survey,
                part_title=part.title,
                changes=page.changes(),
                actor=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            page.form.add_error(None, str(refusal))
        else:
            return _saved(request, survey, part, notes)
    return _shown(request, page, status=422)


def _acted(act: str, data: QueryDict, part: Part, survey: Survey, units: str) -> QueryDict | None:
    """Return what was typed as a button changed it; None when the button was "Save"."""
    if act.startswith("add:"):
        code = data.get("add_code", "") if act.endswith(":chosen") else ""
        what = act.removeprefix("add:").removesuffix(":chosen")
        return with_added_row(data, part, f"{what}:{code}" if code else what, units)
    if act == "start":
        return with_starting_rows(data, part, survey, units)
    if act == "usual":
        return with_usual_values(data, part, survey, units)
    return None


def _saved(request: HttpRequest, survey: Survey, part: Part, notes: list[str]) -> HttpResponse:
    messages.success(request, f"{part.title} saved.")
    for note in notes:
        messages.warning(request, f"The numbers could not be updated. {note}")
    slugs = list(PARTS)
    if request.POST.get("go") == "next" and part.slug != slugs[-1]:
        return redirect("jobs:survey_edit", survey.job_id, slugs[slugs.index(part.slug) + 1])
    if request.POST.get("go") == "next":
        return redirect("jobs:survey_detail", survey.job_id)
    return redirect("jobs:survey_edit", survey.job_id, part.slug)


def _page(
    request: ShopRequest,
    survey: Survey,
    part: Part,
    data: QueryDict | None = None,
    *,
    may_edit: bool = True,
) -> SurveyPage:
    known = known_places(request.shop) if part.slug == "travel" else {}
    return SurveyPage(
        part,
        survey,
        units=request.shop.units,
        data=data,
        may_edit=may_edit,
        known_places=known,
        seed=request.session.session_key or "",
    )


def _previewed(request: ShopRequest, page: SurveyPage) -> HttpResponse:
    """Answer with the live part of the page for what is typed so far; nothing is stored."""
    context = survey_preview.of_part(page.part.slug, page.survey, page.typed_rows(), units=request.shop.units)
    return render(request, "jobs/_survey_preview.html", context | {"part": page.part, "job": page.survey.job})


def _shown(
    request: ShopRequest,
    page: SurveyPage,
    *,
    status: int = 200,
    may_edit: bool = True,
    act: str = "",
) -> HttpResponse:
    survey = page.survey
    stages = completeness(survey)
    units = request.shop.units
    context = {
        "page": page,
        "part": page.part,
        "survey": survey,
        "job": survey.job,
        "tab": "survey",
        "known_places": page.place_names,
        "parts": part_states(survey, stages),
        "may_edit": may_edit,
        "act": act,
        "is_closed": is_closed(survey),
        "is_accepted": is_accepted(survey),
        "script_data": {
            "add": texts_to_add(page.part, units),
            "start": starting_texts(page.part, survey, units),
            "usual": usual_texts(page.part, survey, units),
        },
        **survey_preview.of_part(page.part.slug, survey, page.typed_rows(), units=units),
        **survey_preview.choices(page.part.slug),
    }
    return render(request, "jobs/survey_edit.html", context, status=status)
