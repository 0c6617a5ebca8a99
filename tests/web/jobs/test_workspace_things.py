"""Things on the roof moved in the workspace: the survey changes, drafts follow, what was accepted stays."""

from __future__ import annotations

import copy
import json
import uuid

import pytest
from django.urls import reverse

from jobs.design.revision import design_create, design_freeze, design_resize
from jobs.engine.stored import design_in_full, is_current, latest_run
from jobs.models import Design, Job, LogEntry, SizingRun
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName
from jobs.workspace.state import differences, layout_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job, now):
    """Return the golden design, sized."""
    design = golden_job.designs.get()
    design_resize(design, actor=ByName("test"), at=now)
    return Design.objects.get(pk=design.pk)


@pytest.fixture
def save(client_of, erin):
    """Return a way to send a layout to be stored."""

    def send(design, layout, seen, who=erin):
        body = {"layout": layout, "seen": seen, "key": str(uuid.uuid4())}
        address = reverse("jobs:workspace_save", args=[design.pk])
        return client_of(who).post(address, json.dumps(body), content_type="application/json")

    return send


def named(layout, kind):
    """Return the first thing of a kind in a layout."""
    return next(one for one in layout["obstacles"] if one["kind"] == kind)


def vent():
    """Return a fan nobody surveyed, at its usual size."""
    return {
        "key": str(uuid.uuid4()), "kind": "vent", "label": "New fan", "swing": "front", "round": False,
        "removed": False, "guess": True, "x_mm": 5000, "y_mm": 900, "length_mm": 460, "width_mm": 460,
        "height_mm": 100, "open_mm": 350, "keep_out_mm": 100,
    }  # fmt: skip


def test_it_works(design, layout, save):
    layout["obstacles"].append(vent())
    layout["obstacles"].sort(key=lambda one: one["key"])
    named(layout, "air_conditioner")["x_mm"] += 50
    gone = named(layout, "antenna")
    layout["obstacles"].remove(gone)
    assert save(design, layout, design.edit_count).status_code == 200
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == layout
    things = design.job.survey.obstacles
    assert things.get(label="New fan").height_open_m == 0.35
    assert not things.filter(kind="antenna").exists()
    assert LogEntry.objects.filter(job=design.job, verb="survey changed").exists()
    layout["obstacles"] = sorted([*layout["obstacles"], gone], key=lambda one: one["key"])
    assert save(design, layout, design.edit_count + 1).status_code == 200  # undo puts the same thing back
    assert str(things.get(kind="antenna").key) == gone["key"]


def test_what_was_not_touched_is_not_written(design, layout, save):
    things = design.job.survey.obstacles
    odd = things.first()
    odd.x_m = 1.0668123  # finer than the hand knows
    odd.save()
    layout = layout_state(roof_state(Design.objects.get(pk=design.pk)))
    layout["panels"][0]["x_mm"] += 10
    save(design, layout, design.edit_count)
    assert things.get(pk=odd.pk).x_m == 1.0668123
    assert not LogEntry.objects.filter(verb="survey changed").exists()


def test_another_draft_is_sized_again_and_its_open_page_is_told(design, layout, save, erin, now):
    other = design_create(job=design.job, actor=erin, at=now, copy_of=design)
    seen, theirs = other.edit_count, layout_state(roof_state(design_in_full(other.pk)))
    runs = other.runs.count()
    named(layout, "air_conditioner")["y_mm"] += 50
    save(design, layout, design.edit_count)
    assert other.runs.count() == runs + 1
    theirs["panels"][0]["x_mm"] += 10
    answer = save(other, theirs, seen)
    assert answer.status_code == 409
    assert any("Air conditioner: theirs" in said for said in answer.json()["differences"])
    assert named(layout_state(roof_state(design_in_full(design.pk))), "air_conditioner") == named(
        layout, "air_conditioner"
    )


def test_a_frozen_revision_keeps_its_sums_and_says_they_are_older(design, layout, save, now, client_of, erin):
    draft = design_create(job=design.job, actor=erin, at=now, copy_of=design)
    design_freeze(design=design, actor=ByName("test"), at=now)
    runs = list(SizingRun.objects.filter(design=design).values_list("pk", "result"))
    assert is_current(design_in_full(design.pk), latest_run(design))
    named(layout, "air_conditioner")["keep_out_mm"] += 100
    assert save(draft, layout, draft.edit_count).status_code == 200
    assert list(SizingRun.objects.filter(design=design).values_list("pk", "result")) == runs
    assert not is_current(design_in_full(design.pk), latest_run(design))
    page = client_of(erin).get(reverse("jobs:design_detail", args=[design.pk]))
    assert "changed after this revision was sized" in page.text


def test_a_quote_that_went_out_keeps_its_plan_and_numbers(sent_quote, save, erin, now):
    before, digest = copy.deepcopy(sent_quote.snapshot), sent_quote.content_sha256
    draft = design_create(job=sent_quote.job, actor=erin, at=now, copy_of=sent_quote.design)
    layout = layout_state(roof_state(design_in_full(draft.pk)))
    named(layout, "air_conditioner")["x_mm"] += 500
    assert save(draft, layout, draft.edit_count).status_code == 200
    sent_quote.refresh_from_db()
    assert (sent_quote.snapshot, sent_quote.content_sha256) == (before, digest)


def test_a_closed_job_keeps_its_roof(design, layout, save, client_of, erin):
    Job.objects.update(state=Job.State.RELEASED)
    named(layout, "air_conditioner")["x_mm"] += 50
    answer = save(design, layout, design.edit_count)
    assert answer.status_code == 422
    assert "its survey stays as it was" in answer.json()["error"]
    page = client_of(erin).get(reverse("jobs:workspace", args=[design.pk]))
    assert "its survey stays as it was" in page.text


def test_the_live_answer_follows_a_moved_thing(design, layout, client_of, erin):
    panel = layout["panels"][0]
    named(layout, "air_conditioner").update(x_mm=panel["x_mm"] + 100, y_mm=panel["y_mm"] + 100)
    body = json.dumps({"layout": layout, "draw": True})
    address = reverse("jobs:workspace_live", args=[design.pk])
    got = client_of(erin).post(address, body, content_type="application/json").json()
    assert any(
        "over Air conditioner" in rule["sentence"] and rule["verdict"] == "block" for rule in got["rules"]
    )
    assert f'data-thing="{named(layout, "air_conditioner")["key"]}"' in got["svg"]
    assert design.job.survey.obstacles.get(kind="air_conditioner").x_m != panel["x_mm"] / 1000 + 0.1


def test_a_layout_without_things_leaves_them(design, layout, save):
    before = copy.deepcopy(layout["obstacles"])
    sent = {name: layout[name] for name in ("panels", "strings")}
    assert save(design, sent, design.edit_count).status_code == 200
    assert layout_state(roof_state(Design.objects.get(pk=design.pk)))["obstacles"] == before


WRONG = [
    ("height_mm", 1e6, "New fan, height: must be from 0 in to 118 1/8 in."),
    ("length_mm", 0, "New fan, length: must be from 1/4 in to 1,181 1/8 in."),
    ("x_mm", -1, "New fan, from rear: must be from 0 in to 1,181 1/8 in."),
    ("keep_out_mm", None, "New fan, keep clear all around: must be from 0 in to 196 7/8 in."),
    ("width_mm", "wide", "New fan, width: must be from 1/4 in to 196 7/8 in."),
    ("kind", "piano", "an unknown kind"),
    ("swing", "up", "New fan, opens: no such side."),
    ("key", "1", "one has no key"),
    ("label", "x" * 61, "must be at most 60 letters"),
]


def test_what_cannot_be_right_is_refused_by_name(design, layout, save):
    for field, value, said in WRONG:
        wrong = {**layout, "obstacles": [*layout["obstacles"], {**vent(), field: value}]}
        answer = save(design, wrong, design.edit_count)
        assert answer.status_code == 422, field
        assert said in answer.json()["error"]


def test_one_thing_twice_and_a_crowd_are_refused(design, layout, save):
    twice = {**layout, "obstacles": [layout["obstacles"][0]] * 2}
    assert "listed twice" in save(design, twice, design.edit_count).json()["error"]
    crowd = {**layout, "obstacles": [vent() for _ in range(61)]}
    assert "at most 60" in save(design, crowd, design.edit_count).json()["error"]


def test_a_key_of_another_shops_thing_stays_theirs(design, layout, save, charlie, now):
    from jobs.models import Obstacle, Survey

    stranger = Survey.objects.exclude(pk=design.job.survey.pk).first()
    if stranger is None:
        job = Job.objects.get(pk=design.job.pk)
        job.pk, job.number = None, "9999-1"
        job.save()
        stranger = Survey.objects.create(job=job)
    theirs = Obstacle.objects.create(
        survey=stranger, kind="vent", x_m=1, y_m=1, length_m=0.4, width_m=0.4, height_m=0.1
    )
    layout["obstacles"].append({**vent(), "key": str(theirs.key)})
    assert save(design, layout, design.edit_count).status_code == 200
    theirs.refresh_from_db()
    assert (theirs.survey_id, theirs.x_m, theirs.label) == (stranger.pk, 1, "")


def test_differences_name_things(layout):
    mine, theirs = copy.deepcopy(layout), copy.deepcopy(layout)
    gone = theirs["obstacles"].pop()
    theirs["obstacles"][0]["height_mm"] += 20
    said = differences(mine, theirs, "metric")
    assert len(said) == 2
    assert any("is on your roof, not on theirs" in one for one in said), gone
    assert any("differs in its kind, size, height" in one for one in said)
