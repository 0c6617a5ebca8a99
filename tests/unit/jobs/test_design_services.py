"""How designs begin, change, are sized and frozen: permission, log, versions, stale answers."""

from __future__ import annotations

import uuid

import pytest

import sizing
from jobs.design.basis import basis_change
from jobs.design.circuits import circuits_change, circuits_propose, devices_take, proposals_take
from jobs.design.page import answer_for
from jobs.design.panels import panels_change, panels_place_row
from jobs.design.power import power_change
from jobs.design.revision import (
    Change,
    DesignChangedMeanwhile,
    DesignRefused,
    design_create,
    design_freeze,
    design_resize,
    design_size,
    design_size_built,
)
from jobs.design.string_plan import plan_words, string_rows
from jobs.design.strings import plan_take, strings_change
from jobs.engine.stored import design_in_full, designs_of_job, is_current, latest_run, result_of
from jobs.engine.string_options import string_options
from jobs.engine.system import system_basis, system_input
from jobs.models import (
    Design,
    DesignSource,
    ExistingItem,
    InverterSheet,
    Job,
    LogEntry,
    Part,
    SizingRun,
    WireLeg,
)
from jobs.parts.circuits import missing_circuits, surveyed_run
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName
from jobs.shop.rights import NotAllowed

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the first design of the golden job."""
    return golden_job.designs.get()


@pytest.fixture
def change(erin, now) -> Change:
    """Return a change by the estimator."""
    return Change(actor=erin, at=now)


def part(sku: str) -> Part:
    """Return a part of the shop by its stock code."""
    return Part.objects.get(sku=sku)


# --- beginning ------------------------------------------------------------------------------------


def test_a_first_design_takes_over_what_charges_and_stays(golden_job, erin, now):
    survey = golden_job.survey
    ExistingItem.objects.create(survey=survey, kind="converter", name="Shore charger", rating_a=30)
    ExistingItem.objects.create(survey=survey, kind="converter", name="Gone", rating_a=40, fate="remove")
    ExistingItem.objects.create(survey=survey, kind="converter", name="No plate")
    design = design_create(job=golden_job, actor=erin, at=now)
    assert design.number == 2
    assert [str(source) for source in design.sources.all()] == ["Shore charger"]
    (circuit,) = design.circuits.all()
    assert (circuit.kind, circuit.serves) == ("C10", f"source:{design.sources.get().pk}")
    assert (circuit.run_len_m, circuit.confidence) == (2.2, "measured")  # the survey's leg
    found = {check.key: check.verdict for check in result_of(latest_run(design)).checks}
    unplated = ExistingItem.objects.get(name="No plate")
    assert found[f"source:existing-{unplated.pk}/counted"] is sizing.Verdict.NOT_ENOUGH_DATA


def test_beginning_moves_a_surveyed_job_on_and_is_logged(golden_job, erin, now):
    Job.objects.filter(pk=golden_job.pk).update(state=Job.State.SURVEYED)
    golden_job.refresh_from_db()
    design_create(job=golden_job, actor=erin, at=now)
    golden_job.refresh_from_db()
    assert golden_job.state == Job.State.DESIGNING
    assert LogEntry.objects.filter(job=golden_job, verb="design begun", actor=erin).count() == 1


def test_a_copy_is_the_same_design_under_a_new_number(golden_job, design, erin, now):
    copy = design_create(job=golden_job, actor=erin, at=now, copy_of=design)
    assert (copy.number, copy.state, copy.note) == (2, Design.State.DRAFT, design.note)

    def bare(one: Design) -> dict:
        full = design_in_full(one.pk)
        system = system_input(roof_state(full), system_basis(full))
        data = sizing.input_to_dict(system)
        ids = {source["id"]: f"s{place}" for place, source in enumerate(data["sources"])}
        for source in data["sources"]:
            source["id"] = ids[source["id"]]
        for circuit in data["circuits"]:
            kind, _, name = circuit["serves"].partition(":")
            circuit["serves"] = f"{kind}:{ids.get(name, name)}"
        return data

    assert bare(copy) == bare(design)


def test_a_technician_may_not_begin_or_change(golden_job, design, bob, now):
    with pytest.raises(NotAllowed, match="owner or an estimator"):
        design_create(job=golden_job, actor=bob, at=now)
    with pytest.raises(NotAllowed, match="owner or an estimator"):
        circuits_propose(design=design, change=Change(actor=bob, at=now))


def test_another_shops_owner_may_not_either(design, charlie, now):
    with pytest.raises(NotAllowed):
        circuits_propose(design=design, change=Change(actor=charlie, at=now))


def test_a_closed_job_takes_no_design(golden_job, erin, now):
    Job.objects.filter(pk=golden_job.pk).update(state=Job.State.CANCELLED)
    golden_job.refresh_from_db()
    with pytest.raises(DesignRefused, match="closed"):
        design_create(job=golden_job, actor=erin, at=now)


# --- changing -------------------------------------------------------------------------------------


def test_every_change_is_logged_and_sized_once(design, change):
    before = SizingRun.objects.count()
    basis_change(design=design, basis={"rule_set": "code_75c"}, change=change)
    assert SizingRun.objects.count() == before + 1
    assert latest_run(design).inputs["rule_set"] == "code_75c"
    assert LogEntry.objects.filter(verb="design basis changed").count() == 1


def test_the_same_form_twice_is_done_once(design, erin, now):
    twice = Change(actor=erin, at=now, seen=0, key=uuid.uuid4())
    row = {"part": part("P100"), "count": 1, "x_m": 0.2, "y_m": 0.3, "gap_m": 0.03}
    for _ in range(2):
        panels_place_row(design=design, **row, is_turned=False, is_along=True, change=twice)
    assert design.panels.count() == 5
    assert LogEntry.objects.filter(verb="panels changed").count() == 1


def test_a_form_opened_before_somebody_elses_change_is_refused(design, erin, alice, now):
    basis_change(design=design, basis={"note": "hers"}, change=Change(actor=alice, at=now, seen=0))
    with pytest.raises(DesignChangedMeanwhile, match="still below"):
        basis_change(design=design, basis={"note": "mine"}, change=Change(actor=erin, at=now, seen=0))
    design.refresh_from_db()
    assert design.note == "hers"


def test_a_row_of_panels_runs_forward_with_gaps(design, change):
    panels_change(
        design=design,
        rows=[{"id": panel.pk, "DELETE": True} for panel in design.panels.all()],
        change=change,
    )
    panels_place_row(
        design=design,
        part=part("P400"),
        count=3,
        x_m=0.5,
        y_m=0.2,
        gap_m=0.03,
        is_turned=True,
        is_along=True,
        change=change,
    )
    # Turned, a panel of 1.722 by 1.134 m takes 1.134 m of length; and it is long enough for six feet.
    placed = list(design.panels.values_list("number", "x_m", "feet"))
    assert placed == [(1, 0.5, 6), (2, 1.664, 6), (3, 2.828, 6)]


def test_a_row_of_panels_runs_across(design, change):
    panels_place_row(
        design=design,
        part=part("P100"),
        count=2,
        x_m=0.1,
        y_m=0.2,
        gap_m=0.05,
        is_turned=False,
        is_along=False,
        change=change,
    )
    placed = list(design.panels.filter(number__gt=4).values_list("x_m", "y_m", "feet"))
    assert placed == [(0.1, 0.2, 4), (0.1, 0.79, 4)]  # 0.54 m wide


def test_a_new_panel_takes_the_lowest_free_number(design, change):
    gone = design.panels.get(number=2)
    panels_change(
        design=design,
        rows=[
            {"id": gone.pk, "DELETE": True},
            {"id": None, "part": part("P100"), "x_m": 0.2, "y_m": 0.2},
        ],
        change=change,
    )
    assert design.panels.get(number=2).part.sku == "P100"
    assert sorted(design.panels.values_list("number", flat=True)) == [1, 2, 3, 4]


def test_a_row_of_another_design_is_refused(golden_job, design, change):
    other = design_create(job=golden_job, actor=change.actor, at=change.at, copy_of=design)
    with pytest.raises(DesignRefused, match="no longer in this design"):
        panels_change(design=other, rows=[{"id": design.panels.first().pk, "x_m": 1.0}], change=change)


def test_a_plan_wires_all_panels_in_order(design, change):
    strings = [{"panels": [1, 2, 3, 4], "controller": "A"}]
    plan_take(design=design, strings=strings, change=change)
    assert plan_words(string_rows(design)) == "4S1P on A"
    check = result_of(latest_run(design)).check("controller:A/cold_voc")
    # 4 × 24.3 V × (1 + 0.0028 × 55 K) = 112.2 V on a 100 V controller; NFPA 70 (2017) 690.7(A).
    assert check.verdict is sizing.Verdict.BLOCK
    assert check.value == pytest.approx(112.17, abs=0.01)


def test_strings_by_hand_on_two_controllers(design, change):
    first = design.controllers.get()
    strings_change(
        design=design,
        controllers=[
            {"id": first.pk, "part": first.part, "label": "A"},
            {"id": None, "part": part("CC28"), "label": "B"},
        ],
        strings=[
            {"panels": [2, 1], "controller": "A", "fuse_a": None},
            {"panels": [3, 4], "controller": "B", "fuse_a": 15.0},
        ],
        change=change,
    )
    assert plan_words(string_rows(design)) == "2S1P on A, 2S1P on B"
    assert string_rows(design)[0]["panels"] == [2, 1]
    labels = set(design.circuits.values_list("label", flat=True))
    assert {"C1B", "C2B", "C3B"} <= labels  # the second controller's wires join the schedule


def test_taking_a_controller_away_unwires_its_panels(design, change):
    first = design.controllers.get()
    strings_change(design=design, controllers=[{"id": first.pk, "DELETE": True}], strings=[], change=change)
    assert design.strings.count() == 0
    assert design.panels.filter(string=None).count() == 4
    answer = result_of(latest_run(design))
    assert answer.check("roof/unwired").verdict is sizing.Verdict.NOT_ENOUGH_DATA
    assert answer.check("circuit:C2/serves").verdict is sizing.Verdict.NOT_ENOUGH_DATA


@pytest.mark.parametrize(
    ("panels", "controller", "words"),
    [([1, 9], "A", "panel 9"), ([1, 1], "A", "panel 1"), ([1, 2], "F", "no controller F")],
)
def test_strings_that_cannot_be_are_refused_and_nothing_changes(design, change, panels, controller, words):
    first = design.controllers.get()
    with pytest.raises(DesignRefused, match=words):
        strings_change(
            design=design,
            controllers=[{"id": first.pk, "part": first.part, "label": "A"}],
            strings=[{"panels": panels, "controller": controller, "fuse_a": None}],
            change=change,
        )
    assert plan_words(string_rows(design)) == "2S2P on A"


def test_power_with_a_dc_dc_brings_its_two_circuits(design, change):
    source = design.sources.get()
    power_change(
        design=design,
        bank={"part": part("L100"), "quantity": 4, "in_series": 1, "is_new": True},
        inverter=None,
        sources=[
            {"id": source.pk, "part": source.part, "existing": None, "label": source.label},
            {
                "id": None,
                "part": part("D30"),
                "existing": None,
                "label": "Engine",
                "alternator_rating_a": 180,
            },
        ],
        change=change,
    )
    design.refresh_from_db()
    assert design.bank.quantity == 4
    assert not hasattr(Design.objects.get(pk=design.pk), "inverter")
    engine = DesignSource.objects.get(label="Engine")
    kinds = set(design.circuits.filter(serves=f"source:{engine.pk}").values_list("kind", flat=True))
    assert kinds == {"C8", "C9"}


def test_two_circuits_with_one_label_are_refused(design, change):
    rows = [{"id": None, "kind": "C2", "label": "C2"}]
    with pytest.raises(DesignRefused, match="already exists"):
        circuits_change(design=design, rows=rows, change=change)


def test_proposals_fill_only_what_was_left_blank(design, change):
    design.circuits.filter(label="C3").update(size="", fuse_a=None, fuse_family="")
    design_resize(design, actor=ByName("test"), at=change.at)
    proposed = {row.id: row for row in result_of(latest_run(design)).circuits}["C3"]
    assert proposed.is_proposed_size
    assert proposed.is_proposed_fuse
    proposals_take(design=design, change=change)
    taken = design.circuits.get(label="C3")
    assert (taken.size, taken.fuse_a) == (proposed.size, proposed.fuse_a)
    assert taken.fuse_family
    assert taken.fuse_family == (proposed.proposed_family or "small bolt-down (SF30)")  # else the usual one
    assert design.circuits.get(label="C2").size == "10"  # what was chosen stays


def test_there_is_nothing_to_take_before_sizing(design, change):
    with pytest.raises(DesignRefused, match="has not been sized"):
        proposals_take(design=design, change=change)


# --- sizing and freezing --------------------------------------------------------------------------


def test_what_cannot_be_asked_leaves_no_older_answer_standing(design, change):
    basis_change(design=design, basis={"note": "ok"}, change=change)
    assert latest_run(design) is not None
    design.panels.first().part.panel_sheet.delete()
    assert basis_change(design=design, basis={"note": "x"}, change=change) is None
    design.refresh_from_db()
    assert "no data sheet" in design.unsized_reason
    assert latest_run(design) is None


def test_a_value_the_engine_refuses_is_a_reason_with_its_path(design, change):
    design.circuits.filter(label="C2").update(size="11")
    design_resize(design, actor=ByName("test"), at=change.at)
    design.refresh_from_db()
    assert "circuits[1].size" in design.unsized_reason
    with pytest.raises(DesignRefused, match="cannot be sized yet"):
        design_size(design=design, actor=ByName("test"), at=change.at)


def test_an_answer_knows_when_the_survey_moved_on(design, now):
    run = design_size(design=design, actor=ByName("test"), at=now)
    assert is_current(design_in_full(design.pk), run)
    design.job.survey.tmin_storage_c = -35
    design.job.survey.save()
    assert not is_current(design_in_full(design.pk), run)


def test_a_frozen_design_is_not_changed_or_sized_again(design, change, now):
    design_freeze(design=design, actor=ByName("customer"), at=now)
    design_freeze(design=design, actor=ByName("customer"), at=now)  # twice does no harm
    design.refresh_from_db()
    assert design.is_frozen
    assert SizingRun.objects.filter(design=design).count() == 1  # sized once, for the record
    with pytest.raises(DesignRefused, match="frozen"):
        basis_change(design=design, basis={"note": "no"}, change=change)
    with pytest.raises(DesignRefused, match="frozen"):
        design_size(design=design, actor=ByName("test"), at=now)


def test_a_frozen_design_is_sized_as_built(design, now):
    design_freeze(design=design, actor=ByName("customer"), at=now)
    run = design_size_built(
        accepted=latest_run(design),
        as_built={"circuit:C2.run_len_m": 10.4, "circuit:C2.size": "10"},
        actor=ByName("Bob"),
        at=now,
    )
    row = {row.id: row for row in result_of(run).circuits}["C2"]
    # 2 × 10.4 m × 19.6 A × 3.277 mΩ/m = 1.336 V of 40.8 V; resistance as NFPA 70 (2017) chapter 9 table 8
    # reduces to at 20 °C for a solid conductor.
    assert row.drop_v == pytest.approx(1.336, abs=0.005)
    assert latest_run(design).purpose == SizingRun.Purpose.PLANNED
    assert latest_run(design, "as_built") == run


def test_the_layout_is_judged_with_the_rest_and_stored(design, now):
    design.panels.filter(number=2).update(x_m=2.0, y_m=0.2)
    run = design_size(design=design, actor=ByName("test"), at=now)
    assert run.verdict == "block"
    assert result_of(run).check("panel:2/layout_overlap:1").verdict is sizing.Verdict.BLOCK


def test_the_list_knows_each_revisions_newest_verdict(golden_job, design, erin, now):
    sized = design_size(design=design, actor=ByName("test"), at=now)
    design_create(job=golden_job, actor=erin, at=now)
    verdicts = [one.latest_verdict for one in designs_of_job(golden_job)]
    assert verdicts == ["not_enough_data", sized.verdict]


# --- what a design needs --------------------------------------------------------------------------


def test_legs_of_a_circuit_add_up_and_are_as_sure_as_the_least_sure():
    legs = [
        WireLeg(circuit="C2", place="drop", length_m=2.2, confidence="measured"),
        WireLeg(circuit="C2", place="floor", length_m=3.5, confidence="scaled"),
    ]
    assert surveyed_run("C2", legs, "travel_trailer") == (5.7, "scaled")


def test_without_legs_the_usual_path_is_a_guess():
    assert surveyed_run("C2", [], "class_b") == (4.5, "guess")
    assert surveyed_run("C3", [], "class_b") == (1.5, "guess")


def test_the_schedule_lacks_what_is_not_in_it(design):
    # Three batteries need links, and every negative lands behind the shunt.
    design.circuits.filter(kind__in=["C5", "C7"]).delete()
    assert [circuit.label for circuit in missing_circuits(design_in_full(design.pk))] == ["C5", "C7"]


def test_a_heated_bank_wants_its_own_feed(design):
    bank = design.bank
    bank.part = part("L100H")
    bank.save()
    (heater,) = [one for one in missing_circuits(design_in_full(design.pk)) if one.kind == "C17"]
    assert heater.current_a == 12.5  # three of 50 W on 12 V


# --- ways to wire ---------------------------------------------------------------------------------


def options_of(design, now):
    """Return the ways to wire a design as it is now."""
    design_resize(design, actor=ByName("test"), at=now)
    return string_options(latest_run(design), design.unsized_reason)


def test_ways_to_wire_are_ranked_by_the_engine(design, now):
    options = options_of(design, now)
    assert [option.plan.label for option in options.plans] == ["2S2P", "1S4P"]
    assert options.now.label == "2S2P"
    assert not options.plans[0].differences
    assert any("string fuses" in words for words in options.plans[1].differences)
    # 4 × 24.3 V × (1 + 0.0028 × 55 K) = 112.2 V.
    assert any("112.2 V" in one.reason for one in options.refused)
    assert options.labelled("4S1P") is None


def test_a_plan_is_now_only_when_the_same_panels_stand_together(design, change, now):
    first = options_of(design, now).plans[0]
    plan_take(design=design, strings=first.rows, change=change)
    assert string_options(latest_run(design)).plans[0].is_now


def test_there_is_no_way_to_wire_without_controller_or_panels(design, now):
    design.controllers.all().delete()
    options = options_of(design, now)
    assert (options.plans, options.now) == ((), None)
    assert "controller" in options.sentence


def test_a_design_that_cannot_be_asked_about_says_why(design, now):
    design.panels.first().part.panel_sheet.delete()
    assert "no data sheet" in options_of(design, now).sentence
    assert string_options(None).sentence == "The design has not been sized yet."


def test_the_page_names_months_with_their_place(design, now):
    design_size(design=design, actor=ByName("test"), at=now)
    answer = answer_for(design_in_full(design.pk))
    (only,) = (
        answer.months
    )  # the shop's own sun hours are the same all season: the design month stands for it
    assert (only.title, only.month.month, only.month.leg) == ("Harvest", 6, "Hollow Pine camp, 45° N")
    assert sum(count.number for count in answer.counts) == len(answer.result.checks)
    titles = [group.title for group in answer.groups]
    assert titles.index("Controller A") < titles.index("C2 combiner to controller (home run)")
    assert "C10 converter or charger to bus" in titles


def test_best_and_worst_months_are_named_where_they_differ(golden_job, erin, now):
    design = golden_job.designs.get()
    golden_job.survey.stops.all().delete()
    golden_job.survey.stops.create(place="Summer meadow", latitude_deg=45.0, psh_h=6.4, months=[6, 7])
    golden_job.survey.stops.create(place="Winter flats", latitude_deg=33.0, psh_h=3.0, months=[12])
    design_size(design=design, actor=erin, at=now)
    months = answer_for(design_in_full(design.pk)).months
    assert [(one.title, one.month.month, one.month.leg) for one in months] == [
        ("Worst month", 12, "Winter flats"),
        ("Typical month", 6, "Summer meadow"),
        ("Best month", 7, "Summer meadow"),
    ]
    assert months[0].month.harvest_wh == pytest.approx(800 * 3.0 * 0.75)


def test_without_a_travel_plan_no_month_is_promised(golden_job, erin, now):
    golden_job.survey.stops.all().delete()
    design = golden_job.designs.get()
    design_size(design=design, actor=erin, at=now)
    assert answer_for(design_in_full(design.pk)).months == ()


def test_an_inverter_that_charges_unknown_amps_is_in_no_sum(design, now):
    InverterSheet.objects.filter(part=design.inverter.part).update(is_charger=True, charge_a=None)
    run = design_size(design=design, actor=ByName("test"), at=now)
    check = result_of(run).check("source:inverter/counted")
    assert check.verdict is sizing.Verdict.NOT_ENOUGH_DATA


def test_a_generator_makes_line_voltage_and_is_not_missed(design, now):
    ExistingItem.objects.create(survey=design.job.survey, kind="generator", name="Generator", rating_w=3400)
    run = design_size(design=design, actor=ByName("test"), at=now)
    assert not [check for check in result_of(run).checks if check.key.endswith("/counted")]


def test_branch_plugs_are_judged(design, change):
    first = design.controllers.get()
    strings = [{"panels": [number], "controller": "A", "fuse_a": 20.0} for number in (1, 2, 3, 4)]
    run = strings_change(
        design=design,
        controllers=[{"id": first.pk, "part": first.part, "label": "A"}],
        strings=strings,
        plugs={"has_branch_plugs": True, "branch_plug_rating_a": 30.0},
        change=change,
    )
    # 1.25 × 4 × 10.2 A = 51 A through plugs of 30 A.
    plugs = [check for check in result_of(run).checks if check.limit == 30.0 and check.value == 51.0]
    assert [check.verdict for check in plugs] == [sizing.Verdict.BLOCK]


def test_a_check_that_is_not_there_is_none(design, now):
    design_size(design=design, actor=ByName("test"), at=now)
    assert answer_for(design_in_full(design.pk)).check("no such check") is None


# --- devices that pass in place of those that do not ------------------------------------------------


def weak(design, change):
    """Put a 10 kA device on the main, for which the shop asks 20 kA, and size."""
    design.circuits.filter(label="C4").update(fuse_family="terminal fuse", fuse_interrupting_a=10_000.0)
    design_resize(design, actor=ByName("test"), at=change.at)
    return next(row for row in result_of(latest_run(design)).circuits if row.id == "C4")


def test_a_device_that_passes_takes_the_place_of_one_that_does_not(design, change):
    row = weak(design, change)
    assert (row.verdict, row.proposed_family) == (sizing.Verdict.BLOCK, "class T")
    run = devices_take(design=design, change=change, labels=["C4"])
    main = design.circuits.get(label="C4")
    assert (main.fuse_family, main.fuse_a) == ("class T", row.proposed_fuse_a)
    assert main.fuse_interrupting_a is None  # what was marked on the old one went with it
    assert result_of(run).check("circuit:C4/interrupting").verdict is sizing.Verdict.PASS
    entry = design.job.log.get(verb="fuses replaced")
    assert "C4: class T" in entry.detail


def test_where_nothing_does_better_nothing_is_replaced(design, change):
    weak(design, change)
    with pytest.raises(DesignRefused, match="nothing to replace"):
        devices_take(design=design, change=change, labels=["C99"])
    assert design.circuits.get(label="C4").fuse_interrupting_a == 10_000.0


def test_devices_are_not_replaced_before_sizing(design, change):
    with pytest.raises(DesignRefused, match="has not been sized"):
        devices_take(design=design, change=change)
