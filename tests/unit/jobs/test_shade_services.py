"""Asking for a year of shade: who may, what is stored, what happens after a stop or a failure.

The unshaded year is held against the climate table's own sun: rated watts times peak sun hours is more than
any real array gives, and four fifths of it is less than a clean, cool, level one does (common practice).
"""

from __future__ import annotations

import calendar
import datetime as dt
import json

import pytest

import sizing
from common.background import SILENT
from jobs.design.revision import Change, design_change, design_resize
from jobs.engine import years as shade_answer
from jobs.engine.scene import AS_DESIGNED, ShadeNotAsked
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignController, ShadeRun
from jobs.shade.run import KEPT, shade_ask, shade_reap, shade_work
from jobs.shop.rights import NotAllowed

pytestmark = pytest.mark.django_db
YEAR, CHECK = ShadeRun.Kind.YEAR, ShadeRun.Kind.CHECK


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design."""
    return Design.objects.select_related("job__shop").get(pk=golden_job.designs.get().pk)


@pytest.fixture
def asked(design, alice, now) -> ShadeRun:
    """Return a waiting run."""
    return shade_ask(design=design, actor=alice, at=now)


def worked(run: ShadeRun, now: dt.datetime) -> ShadeRun:
    """Return a run as stored after its work."""
    shade_work(run.pk, clock=lambda: now)
    return ShadeRun.objects.get(pk=run.pk)


def quick(monkeypatch, **named) -> None:
    """Let the engine answer at once: these tests are about what is around it."""
    monkeypatch.setattr(shade_answer, "year_answer", named.get("year", lambda inputs, tell: {"year": {}}))


# --- the answer -----------------------------------------------------------------------------------


def test_a_string_shaded_from_two_sides_is_told_by_its_number_in_the_design():
    wired = {"controllers": [{"strings": [["1", "2"], ["3", "4"]]}]}
    question = {"scene": {"wirings": {AS_DESIGNED: wired}}, "strings": {"A": [5, 8]}}
    told = {"kind": "two_sided_string", "panel_ids": ("3", "4"), "sentence": "String 2 (3, 4) loses 12 kWh."}
    assert shade_answer._renumbered(told, question)["sentence"] == "String 8 (3, 4) loses 12 kWh."
    other = {"kind": "swap", "panel_ids": ("1", "3"), "sentence": "Swap 1 and 3: strings 1-2 and 3-4."}
    assert shade_answer._renumbered(other, question) == other


def test_it_works(asked, now):
    run = worked(asked, now)
    assert (run.state, run.error, run.attempts) == ("done", "", 1)
    assert run.by_name == "Alice Test"
    year = run.result["year"]
    main = year["wirings"][0]
    assert main["name"] == AS_DESIGNED
    where = run.inputs["scene"]["location"]
    climate = sizing.climate_at(where["lat"], where["lon"])
    days = [calendar.monthrange(2023, month)[1] for month in range(1, 13)]
    sun_kwh_m2 = sum(day * sun for day, sun in zip(days, climate.ghi_kwh_m2_day, strict=True))
    assert 0.8 * 0.8 * sun_kwh_m2 < main["unshaded_kwh"] < 0.8 * sun_kwh_m2  # 800 W of panels
    assert main["mean_kwh"] < main["unshaded_kwh"]
    assert len(main["kwh_by_heading"]) == len(year["headings_deg"]) == 24
    assert sum(panel["delivered_kwh"] for panel in year["panels"]) == pytest.approx(main["mean_kwh"])
    costs = {one["name"]: one["cost_kwh"] for one in year["obstructions"]}
    assert max(costs, key=costs.get) == "air conditioner"  # 330 mm high between four panels
    assert any("air conditioner costs" in one["sentence"] for one in year["findings"])
    assert "CRU CL 2.0" in run.inputs["weather"]["source"]
    rules = {sentence.split('"')[1] for sentence in run.result["folk"]}
    assert rules >= {"Series is worse in shade", "All in parallel is best", "Half cells are better in shade"}
    assert any("than as designed" in sentence for sentence in run.result["folk"])


def test_wirings_keep_the_sizing_rules(asked, now):
    run = worked(asked, now)
    (ranking,) = run.result["rankings"]
    # 4 × 24.3 V × (1 + 0.0028 × 55) = 112 V at -30 °C: beyond the controller's 100 V.
    assert [one["shape"] for one in ranking["refused"]] == ["4S1P"]
    assert "Cold open-circuit voltage" in ranking["refused"][0]["why"]
    assert {len(one["strings"]) for one in ranking["wirings"]} == {2, 4}
    assert ranking["n_tried"] == 4  # 1S4P once, 2S2P in three ways
    energies = [one["mean_kwh"] for one in ranking["wirings"]]
    assert energies == sorted(energies, reverse=True)
    mine = next(w for w in ranking["wirings"] if shade_answer.same_strings(w["strings"], ranking["designed"]))
    assert mine["mean_kwh"] == pytest.approx(ranking["designed_kwh"])


def test_each_controller_is_ranked_by_itself(design, alice, now):
    second = DesignController.objects.create(design=design, part=design.controllers.get().part, label="B")
    design.strings.filter(number=2).update(controller=second)
    run = worked(shade_ask(design=design, actor=alice, at=now), now)
    assert [one["controller"] for one in run.result["rankings"]] == ["A", "B"]
    assert [one["designed"] for one in run.result["rankings"]] == [[["1", "2"]], [["3", "4"]]]
    total = sum(one["designed_kwh"] for one in run.result["rankings"])
    assert total == pytest.approx(run.result["year"]["wirings"][0]["mean_kwh"], rel=0.002)


def test_the_slow_path_agrees(design, alice, now):
    year = worked(shade_ask(design=design, actor=alice, at=now), now)
    check = worked(shade_ask(design=design, actor=alice, at=now, kind=CHECK), now)
    assert check.state == "done"
    found = check.result["check"]["wirings"][0]
    quick_kwh = year.result["year"]["wirings"][0]["mean_kwh"]
    assert found["mean_kwh"] == pytest.approx(quick_kwh, rel=0.003)
    assert abs(found["worst_heading_off_fraction"]) < 0.006


def test_the_stored_scene_is_one_the_engine_reads(asked, now):
    run = worked(asked, now)
    scene = sizing.scene_from_json(json.loads(json.dumps(run.inputs["scene"])))
    again = sizing.shade_year(scene, detail=False)
    assert again.wirings[0].mean_kwh == pytest.approx(run.result["year"]["wirings"][0]["mean_kwh"])


def test_the_very_same_question_is_not_worked_out_twice(design, asked, alice, now, monkeypatch):
    calls = []
    quick(monkeypatch, year=lambda inputs, tell: calls.append(1) or {"year": {"n": len(calls)}})
    first = worked(asked, now)
    second = worked(shade_ask(design=design, actor=alice, at=now), now)
    assert (len(calls), second.result) == (1, first.result)
    design.panels.filter(number=1).update(x_m=1.9)
    assert worked(shade_ask(design=design, actor=alice, at=now), now).result == {"year": {"n": 2}}


def test_older_answers_are_dropped(design, alice, now, monkeypatch):
    quick(monkeypatch)
    for _ in range(6):
        worked(shade_ask(design=design, actor=alice, at=now), now)
    assert design.shade_runs.count() == KEPT


# --- asking ---------------------------------------------------------------------------------------


def test_a_technician_may_not_ask(design, bob, now):
    with pytest.raises(NotAllowed):
        shade_ask(design=design, actor=bob, at=now)


def test_the_owner_of_another_shop_may_not_ask(design, charlie, now):
    with pytest.raises(NotAllowed):
        shade_ask(design=design, actor=charlie, at=now)


def test_asking_without_a_place_is_refused(design, alice, now):
    design.job.survey.stops.all().delete()
    with pytest.raises(ShadeNotAsked, match="names no place"):
        shade_ask(design=design, actor=alice, at=now)
    assert not design.shade_runs.exists()


def test_there_is_nothing_to_check_without_strings(design, alice, now):
    design.panels.update(string=None)
    with pytest.raises(ShadeNotAsked, match="wired"):
        shade_ask(design=design, actor=alice, at=now, kind=CHECK)


def test_a_design_that_is_sized_is_asked_again_once(design, alice, now, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as callbacks:
        for place in (1.9, 1.8):
            change = Change(actor=alice, at=now)
            design_change(
                design, change, "moved", lambda one, x=place: one.panels.filter(number=1).update(x_m=x) and ""
            )
    assert design.shade_runs.filter(state="queued").count() == 1
    assert len(callbacks) == 2  # the second finds nothing left to do


def test_the_place_stays_as_chosen(golden_job, design, alice, now, monkeypatch):
    quick(monkeypatch)
    other = golden_job.survey.stops.create(
        place="Far camp", latitude_deg=33.0, longitude_deg=-112.0, months=[1], nights=5
    )
    worked(shade_ask(design=design, actor=alice, at=now, stop_key=other.key), now)
    design_resize(design, actor=alice, at=now)
    run = worked(design.shade_runs.first(), now)
    assert run.inputs["question"]["place"]["name"] == "Far camp"


# --- the background -------------------------------------------------------------------------------


def test_the_task_does_the_work(
    design, alice, now, settings, monkeypatch, django_capture_on_commit_callbacks
):
    quick(monkeypatch)
    settings.TASKS = {
        "default": {"BACKEND": "django.tasks.backends.immediate.ImmediateBackend", "QUEUES": []}
    }
    with django_capture_on_commit_callbacks(execute=True):
        run = shade_ask(design=design, actor=alice, at=now)
    run.refresh_from_db()
    assert run.state == "done"


def test_a_run_is_worked_out_by_one_worker_only(asked, now, monkeypatch):
    calls = []
    quick(monkeypatch, year=lambda inputs, tell: calls.append(1) or {"year": {}})
    worked(asked, now)
    worked(asked, now)
    assert len(calls) == 1


def test_what_cannot_be_asked_when_its_turn_comes_is_said(design, asked, now):
    design.panels.all().delete()
    run = worked(asked, now)
    assert (run.state, run.error) == ("failed", "There is no panel on the roof yet.")


def test_a_panel_that_cannot_be_is_named(design, asked, now):
    sheet = design.panels.first().part.panel_sheet
    sheet.imp_a = sheet.isc_a * 1.2
    sheet.save()
    run = worked(asked, now)
    assert run.state == "failed"
    assert "no cell curve passes" in run.error


def test_a_broken_engine_leaves_a_failed_run(asked, now, monkeypatch, caplog):
    def broken(inputs, tell):
        raise ZeroDivisionError

    quick(monkeypatch, year=broken)
    run = worked(asked, now)
    assert run.state == "failed"
    assert "its log says where" in run.error
    assert "ZeroDivisionError" in caplog.text


def test_progress_is_written_down(asked, now, monkeypatch):
    seen = []

    def slow(inputs, tell):
        tell(0.4, "Half way")
        seen.append(ShadeRun.objects.values_list("progress_fraction", "doing").get(pk=asked.pk))
        return {"year": {}}

    quick(monkeypatch, year=slow)
    shade_work(asked.pk, clock=iter([now + dt.timedelta(seconds=s) for s in range(9)]).__next__)
    assert seen == [(0.4, "Half way")]


def test_a_run_deleted_meanwhile_stops(design, asked, now, monkeypatch):
    def cut_off(inputs, tell):
        design.shade_runs.all().delete()
        tell(0.5, "going on")
        raise AssertionError("the work went on")

    quick(monkeypatch, year=cut_off)
    clock = iter([now + dt.timedelta(seconds=s) for s in range(9)]).__next__
    shade_work(asked.pk, clock=clock)
    assert not design.shade_runs.exists()


def test_a_run_cut_off_is_taken_up_again_once(asked, now, monkeypatch):
    quick(monkeypatch)
    ShadeRun.objects.filter(pk=asked.pk).update(state="running", attempts=1)
    assert shade_reap(at=now + SILENT * 2) == 1
    assert worked(asked, now).state == "done"
    ShadeRun.objects.filter(pk=asked.pk).update(state="running", attempts=2)
    shade_reap(at=now + SILENT * 4)
    run = ShadeRun.objects.get(pk=asked.pk)
    assert run.state == "failed"
    assert "stopped twice" in run.error


def test_rules_of_a_design_that_cannot_be_sized_say_why(design):
    full = design_in_full(design.pk)
    question = shade_answer.year_inputs(design_state(full), None)["question"]
    design.controllers.get().part.controller_sheet.delete()
    rules = shade_answer.string_rules(design_state(design_in_full(design.pk)), question)
    assert "has no data sheet" in rules["A"]["problem"]


def test_years_of_weather_near_the_place_give_a_band(design, settings, tmp_path, monkeypatch):
    full = design_in_full(design.pk)
    where = shade_answer.year_inputs(design_state(full), None)["scene"]["location"]
    head = f"LOCATION,Near,-,-,-,0,{where['lat'] + 0.1:.2f},{where['lon']:.2f},0.0,10.0\n"
    for year in range(5):
        settings.WEATHER_YEARS = str(tmp_path)
        assert "years" not in shade_answer.year_inputs(
            design_state(full), None
        )  # fewer than five make no band
        (tmp_path / f"{year}.epw").write_text(head)
    inputs = shade_answer.year_inputs(design_state(full), None)
    assert [one["format"] for one in inputs["years"]] == ["epw"] * 5
    scene = sizing.scene_from_json(inputs["scene"])
    monkeypatch.setattr(
        sizing, "year_band", lambda scene, years, progress: sizing.YearBand("w", len(years), 1, 2, 3, ())
    )
    assert shade_answer._band(scene, inputs["years"], lambda *_: None)["n_years"] == 5
