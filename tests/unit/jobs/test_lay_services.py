"""Automatic layouts: asking, searching in the background, stopping, taking, each refusal.

A laid roof is judged by the layout checks, which know nothing of the search, and its year is held against
rated watts times the peak sun hours of the climate table, which no real array passes.
"""

from __future__ import annotations

import calendar

import pytest

import sizing
from common.background import SILENT
from jobs.autolayout import run as lay_do
from jobs.autolayout.answer import _chosen
from jobs.autolayout.question import LayoutOptions, LayoutSearchRefused
from jobs.design.revision import Change, DesignChangedMeanwhile
from jobs.engine.scene import ShadeNotAsked
from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignController, LayRun, Part
from jobs.roof.checks import layout_checks
from jobs.roof.layout import design_layout
from jobs.roof.read import roof_state
from jobs.shop.rights import NotAllowed
from jobs.workspace.state import layout_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design."""
    return Design.objects.select_related("job__shop").get(pk=golden_job.designs.get().pk)


@pytest.fixture
def part(design):
    """Return a panel of the catalog."""
    return Part.objects.get(shop=design.job.shop, sku="P200")


def searched(design, person, now, *parts, **options):
    """Return a search as stored after its work."""
    asked = LayoutOptions(parts=tuple(one.pk for one in parts), **options)
    run = lay_do.layout_search_ask(design=design, options=asked, actor=person, at=now)
    lay_do.layout_search_work(run.pk, clock=lambda: now)
    return LayRun.objects.get(pk=run.pk)


def asked_for(design, person, now, part):
    """Return a search that waits."""
    options = LayoutOptions(parts=(part.pk,))
    return lay_do.layout_search_ask(design=design, options=options, actor=person, at=now)


def take(design, person, now, candidate, seen=None):
    """Store a candidate."""
    lay_do.layout_candidate_take(
        design=design, candidate=candidate, change=Change(actor=person, at=now, seen=seen)
    )


def test_it_works(design, erin, now, part):
    before = layout_state(roof_state(design))
    run = searched(design, erin, now, part)
    assert (run.state, run.error, run.by_name) == ("done", "", "Erin Test")
    best = run.result["candidates"][0]
    assert best["verdict"] != "block"
    wired = [panel for row in best["layout"]["strings"] for panel in row["panels"]]
    assert sorted(wired) == [row["number"] for row in best["layout"]["panels"]]
    assert (
        len({len(row["panels"]) for row in best["layout"]["strings"]}) == 1
    )  # one controller: equal strings
    assert (
        layout_state(roof_state(Design.objects.get(pk=design.pk))) == before
    )  # nothing is stored until one is taken
    where = design.job.survey.stops.first()
    climate = sizing.climate_at(where.latitude_deg, where.longitude_deg)
    days = [calendar.monthrange(2023, month)[1] for month in range(1, 13)]
    sun_h = sum(day * sun for day, sun in zip(days, climate.ghi_kwh_m2_day, strict=True))
    assert 0.6 * best["power_w"] * sun_h < 1000 * best["mean_kwh"] < best["power_w"] * sun_h
    take(design, erin, now, best, seen=design.edit_count)
    stored = design_in_full(design.pk)
    after = layout_state(roof_state(stored))
    assert {key: after[key] for key in ("panels", "strings")} == best["layout"]
    assert after["obstacles"] == before["obstacles"]
    wrong = [
        one.sentence for one in layout_checks(design_layout(roof_state(stored))) if one.verdict != "pass"
    ]
    assert wrong == []  # edges, gaps, room round things, lids, the way to walk
    assert best["holes"] == sum(p.feet * p.fasteners_per_foot for p in stored.panels.all())
    assert best["mass_kg"] == pytest.approx(part.mass_kg * best["panels"], abs=0.05)


def test_candidates_differ_and_need_no_controller(design, erin, now):
    DesignController.objects.filter(design=design).delete()
    parts = Part.objects.filter(shop=design.job.shop, sku__in=["P200", "P400"])
    found = searched(design, erin, now, *parts, on_rafters=False).result["candidates"]
    assert len(found) == 2
    by_key = {one["key"]: one for one in found}
    assert set(by_key["other"]["models"]).isdisjoint(by_key["most"]["models"])
    assert all(one["plan"] == "" and not one["is_unwired"] for one in found)  # there is no controller


def test_limits_are_kept_and_placed_panels_stay(design, erin, now, part):
    stay = layout_state(roof_state(design))["panels"][:1]
    design.panels.exclude(number=stay[0]["number"]).delete()
    found = searched(design, erin, now, part, keep_placed=True, panels_max=1).result["candidates"]
    rows = found[0]["layout"]["panels"]
    assert rows[0] == stay[0]
    assert len(rows) == 2


def tried(panels, mean_kwh, verdict="pass"):
    """Return what the choice among tried layouts looks at."""
    return {
        "key": "most", "title": "", "panels": panels, "mean_kwh": mean_kwh, "verdict": verdict,
        "is_unwired": False,
    }  # fmt: skip


def test_the_lean_layout_gives_nine_tenths_with_the_fewest_panels():
    sweep = [tried(9, 1000), tried(8, 990), tried(7, 930), tried(6, 880)]
    most, lean = _chosen(sweep, None)
    assert (most["panels"], lean["panels"], lean["key"]) == (9, 7, "lean")
    assert [one["panels"] for one in _chosen(sweep[:1], None)] == [9]


def test_what_is_blocked_is_shown_only_where_nothing_else_stands():
    sweep = [tried(9, 1000, "block"), tried(8, 900, "caution")]
    assert [one["panels"] for one in _chosen(sweep, None)] == [8]
    assert [one["panels"] for one in _chosen(sweep[:1], None)] == [9]


def test_a_stopped_search_keeps_what_it_has(design, erin, now, part, monkeypatch):
    asked = lay_do.layout_search_ask(
        design=design, options=LayoutOptions(parts=(part.pk,)), actor=erin, at=now
    )

    def slow(_design, models, options, tell):
        yield [{"key": "first"}]
        lay_do.layout_search_stop(design=design, actor=erin, at=now)
        assert not tell(0.5, "on and on")
        yield [{"key": "never"}]

    monkeypatch.setattr(lay_do, "layout_candidates", slow)
    monkeypatch.setattr(lay_do, "TELL_EVERY", lay_do.TELL_EVERY * 0)
    lay_do.layout_search_work(asked.pk, clock=lambda: now)
    run = LayRun.objects.get(pk=asked.pk)
    assert (run.state, run.result["candidates"]) == ("stopped", [{"key": "first"}])


def test_a_newer_search_ends_the_older_one(design, erin, now, part):
    first = lay_do.layout_search_ask(
        design=design, options=LayoutOptions(parts=(part.pk,)), actor=erin, at=now
    )
    second = lay_do.layout_search_ask(
        design=design, options=LayoutOptions(parts=(part.pk,)), actor=erin, at=now
    )
    lay_do.layout_search_work(first.pk, clock=lambda: now)  # its task still comes
    assert list(design.lay_runs.values_list("pk", "state")) == [(second.pk, "queued")]


def test_a_panel_that_fits_nowhere_is_said(design, erin, now, part):
    type(part.panel_sheet).objects.filter(part=part).update(length_m=2.4, width_m=2.1)
    run = searched(design, erin, now, part)
    assert run.state == "failed"
    assert "No panel of the chosen models fits" in run.error


def test_another_reason_is_told_as_it_is(design, erin, now, part):
    asked = lay_do.layout_search_ask(
        design=design, options=LayoutOptions(parts=(part.pk,)), actor=erin, at=now
    )
    design.job.survey.stops.all().delete()
    lay_do.layout_search_work(asked.pk, clock=lambda: now)
    assert "names no place" in LayRun.objects.get(pk=asked.pk).error  # not that no panel fits


def test_a_cut_off_search_is_ended(design, erin, now, part):
    run = asked_for(design, erin, now, part)
    LayRun.objects.update(state="running")
    assert lay_do.layout_search_reap(at=now + SILENT * 2) == 1
    assert LayRun.objects.get(pk=run.pk).state == "failed"


def test_what_cannot_be_asked(design, erin, bob, charlie, now, part):
    good = LayoutOptions(parts=(part.pk,))
    for person in (bob, charlie):
        with pytest.raises(NotAllowed):
            lay_do.layout_search_ask(design=design, options=good, actor=person, at=now)
        with pytest.raises(NotAllowed):
            lay_do.layout_search_stop(design=design, actor=person, at=now)
    with pytest.raises(LayoutSearchRefused, match="at least one model"):
        lay_do.layout_search_ask(design=design, options=LayoutOptions(parts=()), actor=erin, at=now)
    with pytest.raises(LayoutSearchRefused, match="no longer in the catalog"):
        lay_do.layout_search_ask(design=design, options=LayoutOptions(parts=(10**6,)), actor=erin, at=now)
    design.job.survey.__class__.objects.update(roof_length_m=None)
    with pytest.raises(ShadeNotAsked, match="not in the survey"):
        lay_do.layout_search_ask(design=design, options=good, actor=erin, at=now)
    Design.objects.update(state="frozen")
    with pytest.raises(LayoutSearchRefused, match="frozen"):
        lay_do.layout_search_ask(design=design, options=good, actor=erin, at=now)


def test_a_roof_that_changed_meanwhile_is_not_overwritten(design, erin, now):
    with pytest.raises(DesignChangedMeanwhile):
        take(design, erin, now, {"layout": layout_state(roof_state(design))}, seen=design.edit_count + 1)
