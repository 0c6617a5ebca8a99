"""Lengths of drawn wire: plane geometry on paper (Pythagoras), slack, and what lies inside the vehicle."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.autolayout.wiring import roof_leads_m
from jobs.design.revision import design_resize
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.models import DesignCircuit, WireLeg
from jobs.roof.read import roof_state
from jobs.roof.wires import BOX_INSET_MM, Lead, box_place, drawn_runs, path_mm
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job):
    """Return the golden design without wire legs, its combiner 0.5 m from the rear, 1.1 m from the right."""
    design = golden_job.designs.get()
    WireLeg.objects.filter(survey=golden_job.survey).delete()
    controller = design.controllers.get()
    controller.combiner_x_m, controller.combiner_y_m = 0.5, 1.1
    controller.save()
    return design


def runs_of(design):
    """Return what the drawing says of every circuit, read afresh."""
    state = design_state(design_in_full(design.pk))
    return drawn_runs(state.roof, state.inside)


def run_of(design, kind, serves="controller:A"):
    """Return what the drawing says of one circuit."""
    return next(run for run in runs_of(design) if (run.kind, run.serves) == (kind, serves))


def test_a_way_is_the_sum_of_its_stretches():
    # Euclid I.47: 3-4-5 and 5-12-13 triangles
    assert path_mm([(0, 0), (3000, 4000), (8000, 16000)]) == pytest.approx(18000)
    assert path_mm([(1, 1)]) == 0


def test_a_lead_is_half_of_there_and_back():
    """One wire from each end of the string: there 5 m, back 13 m, both 2 m more together."""
    lead = Lead("1", "A", ends=((0, 4000), (12000, -5000)), bends=((3000.0, 0.0),), combiner=(3000, -2000))
    # 3-4-5: (0, 4000) to (3000, 0). From (12000, -5000): 9 and 5, the root of 106 (square root by hand).
    assert lead.length_mm == pytest.approx((5000 + 10295.63) / 2 + 2000, abs=0.01)


def test_the_home_run_has_slack_and_half_the_usual_run_where_nobody_measured_inside(design):
    run = run_of(design, "C2")
    # combiner (0.5, 1.1), gland (3.5, 1.1): 3.0 m drawn; a tenth more; half of a trailer's usual 8.0 m inside
    assert run.drawn_m == pytest.approx(3.0)
    assert run.run_len_m == pytest.approx(3.3 + 4.0)
    assert run.confidence == "guess"


def test_leads_of_a_layout_follow_the_drawn_way(design):
    """Two wires from the combiner (0.5, 1.1) over (2.0, 1.1) to the gland (3.5, 1.1), once: 2 x 3.0 m.

    And from both ends of each string to the combiner, straight, as drawn on the plan (Pythagoras). Without a
    combiner the ends go to the gland along the axes, which is what is counted then.
    """
    controller = design.controllers.get()
    controller.home_bends_m = [[2.0, 1.1]]
    controller.save()
    drawn = roof_leads_m(roof_state(design_in_full(design.pk)))
    ends = 0.0
    roof = roof_state(design_in_full(design.pk))
    for string in roof.strings:
        members = roof.panels_of(string.number)
        spots = [box_place(one) for one in (members[0], members[-1])]
        ends += sum(((x / 1000 - 0.5) ** 2 + (y / 1000 - 1.1) ** 2) ** 0.5 for x, y in spots)
    hops = drawn - 6.0 - ends  # what lies between panels does not change with the way
    assert hops >= -1e-9
    controller.home_bends_m = [[2.0, 2.1], [2.0, 1.1]]  # a meter more, there and back
    controller.save()
    way = 2 * ((1.5**2 + 1.0**2) ** 0.5 + 1.0 + 1.5)
    assert roof_leads_m(roof_state(design_in_full(design.pk))) == pytest.approx(way + ends + hops)
    controller.combiner_x_m = controller.combiner_y_m = None
    controller.save()
    assert roof_leads_m(roof_state(design_in_full(design.pk))) != pytest.approx(drawn)


def test_measured_legs_inside_take_the_place_of_the_guess_and_roof_legs_do_not_count_twice(design):
    survey = design.job.survey
    WireLeg.objects.create(survey=survey, circuit="C2", place="roof", length_m=9, confidence="guess")
    WireLeg.objects.create(survey=survey, circuit="C2", place="drop", length_m=2.1, confidence="measured")
    WireLeg.objects.create(survey=survey, circuit="C2", place="cabinet", length_m=1.2, confidence="measured")
    run = run_of(design, "C2")
    assert run.run_len_m == pytest.approx(3.3 + 3.3)
    assert run.confidence == "scaled"


def test_bends_lengthen_the_home_run(design):
    design.controllers.update(home_bends_m=[[0.5, 2.1], [3.5, 2.1]])
    assert run_of(design, "C2").drawn_m == pytest.approx(1 + 3 + 1)


def test_the_longest_lead_speaks_for_its_controller(design):
    leads = [run_of(design, "C1", f"string:{number}").drawn_m for number in (1, 2)]
    assert run_of(design, "C1").drawn_m == max(leads)
    assert run_of(design, "C1").confidence == "scaled"


def test_without_a_gland_there_is_no_home_run(design):
    design.job.survey.__class__.objects.update(gland_x_m=None)
    assert {run.kind for run in runs_of(design)} == {"C1"}


SIDES = [
    ("short", False, False, (BOX_INSET_MM, 335)),
    ("short", False, True, (1490 - BOX_INSET_MM, 335)),
    ("short", True, False, (335, BOX_INSET_MM)),
    ("short", True, True, (335, 1490 - BOX_INSET_MM)),
    ("long", False, False, (745, BOX_INSET_MM)),
    ("long", True, True, (670 - BOX_INSET_MM, 745)),
    ("middle", False, True, (745, 335)),
]


def test_the_junction_box_is_on_its_side(design):
    """A panel of 1490 by 670 mm with its corner at the rear right corner of the roof."""
    panel = roof_state(design_in_full(design.pk)).panels[0]
    for place, turned, far, expected in SIDES:
        model = replace(panel.model, panel_sheet=replace(panel.model.sheet, box_place=place))
        laid = replace(panel, model=model, x_m=0.0, y_m=0.0, is_turned=turned, box_is_far=far)
        assert box_place(laid) == pytest.approx(expected)


def test_the_schedule_follows_the_drawing_when_the_design_is_sized(design, now):
    design_resize(design, actor=ByName("test"), at=now)
    home = DesignCircuit.objects.get(design=design, kind="C2")
    assert home.run_len_m == pytest.approx(7.3)
    design.controllers.update(combiner_x_m=2.5)
    run = design_resize(design, actor=ByName("test"), at=now)
    home.refresh_from_db()
    assert home.run_len_m == pytest.approx(1.1 + 4.0)
    row = next(row for row in run.result["circuits"] if row["id"] == home.label)
    # a guess counts a quarter longer: the bridge's own rule
    assert row["run_len_m"] == pytest.approx((1.1 + 4.0) * 1.25)
