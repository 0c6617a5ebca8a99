"""A layout is tried on plain data: no database, no record, and what it was tried on stays as it was."""

from __future__ import annotations

import pickle
from dataclasses import replace

import pytest

from jobs.engine.scene import SunBasis
from jobs.engine.state import DesignState
from jobs.engine.system import Circuit, SystemBasis, system_input
from jobs.parts.panel_model import PanelFacts, PanelModel
from jobs.parts.power_inputs import DesignIncomplete
from jobs.roof.layout import design_layout
from jobs.roof.state import RoofController, RoofObstacle, RoofPanel, RoofState, SurveyedRoof
from jobs.roof.wires import InsideRun
from jobs.workspace.edit import layout_try, read_layout
from jobs.workspace.obstacles import obstacle_json
from jobs.workspace.state import layout_state
from sizing import CircuitInput, CircuitKind, RuleSet, SystemInput

SHEET = PanelFacts(
    pmp_w=100.0, vmp_v=20.4, imp_a=4.91, voc_v=24.3, isc_a=5.21, length_m=1.2, width_m=0.54,
    thickness_m=0.035, beta_voc_percent_per_c=-0.28, gamma_pmp_percent_per_c=-0.36,
    alpha_isc_percent_per_c=0.05, max_series_fuse_a=15.0, cells_in_series=36, cell_columns=9,
    cell_rows=4, bypass_diodes=2, is_half_cut=False, is_flexible=False, connector="",
    curve=None, box_place="short",
)  # fmt: skip
MODEL = PanelModel(7, "Model", "M-1", 6.5, SHEET)
VENT = RoofObstacle(
    pk=3, key="0b0ad5ce-4be5-4a0f-8f2f-1a3f0c2f7b11", kind="vent", label="", is_round=False, x_m=4.0, y_m=1.0,
    length_m=0.36, width_m=0.36, height_m=0.12, height_open_m=None, swing="", keep_out_m=0.1,
    will_be_removed=False, is_guess=False,
)  # fmt: skip
BARE = SurveyedRoof(
    survey_id=1, length_m=6.0, width_m=2.2, edge_radius_mm=None, edge_clearance_mm=150.0,
    front_clearance_mm=300.0, walkway_width_mm=400.0, rafter_spacing_mm=400.0, rafter_first_mm=None,
    rafter_kind="wood", gland=(5.0, 1.1), obstacles=(VENT,), is_known_bare=False,
)  # fmt: skip
PANEL = RoofPanel(1, MODEL, 0.5, 0.3, False, False, 0.05, 4, 4)
HOME_RUN = Circuit("C2", "controller:A", 9.0, "guess", CircuitInput("C2", CircuitKind.HOME_RUN, None))
DESIGN = DesignState(
    roof=RoofState(1, BARE, (PANEL,), (), (RoofController("A", 9, None, ()),), 0.1),
    system=SystemBasis(
        rest=SystemInput(RuleSet.MARINE_105C, 12.0, -20.0, None),
        problem="",
        circuits=(HOME_RUN,),
        source_ids=(),
        plugs_rating_a=None,
    ),
    sun=SunBasis("Roof", False, (), {}, False, None),
    inside={"C1": InsideRun(0.0, ""), "C2": InsideRun(2.0, "measured")},
    units="metric",
)
SPOT = {"part": 7, "y_mm": 300.0, "turned": False, "height_mm": 50.0, "feet": 4, "fasteners": 4}
SENT = {
    "panels": [{**SPOT, "number": 2, "x_mm": 1800.0}, {**SPOT, "number": 1, "x_mm": 400.0, "box_far": True}],
    "strings": [{"controller": "A", "panels": [2, 1], "fuse_a": None, "lead": [[3100.0, 600.0]]}],
    "obstacles": [obstacle_json(VENT) | {"x_mm": 4500.0}],
    "path": {"slack": 0.1, "combiners": {"A": [3000.0, 1100.0]}, "homes": {}, "gland": [5000.0, 1100.0]},
}


def tried(**changes) -> DesignState:
    """Return the design with the sent layout on its roof."""
    return layout_try(DESIGN, read_layout(SENT | changes, {7: MODEL}, ["A"]))


def test_what_was_sent_comes_back_as_it_was_sent():
    back = layout_state(tried().roof)
    in_order = sorted(SENT["panels"], key=lambda one: one["number"])
    assert back == SENT | {"panels": in_order}


def test_the_design_it_was_tried_on_stays_as_it_was():
    before = pickle.dumps(DESIGN)
    tried()
    assert pickle.dumps(DESIGN) == before
    assert DESIGN.roof.surveyed.obstacles == (VENT,)


def test_a_moved_obstacle_stays_the_stored_one_and_one_not_moved_is_untouched():
    moved = tried().roof.surveyed.obstacles[0]
    assert (moved.pk, moved.x_m, moved.name) == (3, 4.5, "Powered vent")
    assert tried(obstacles=[obstacle_json(VENT)]).roof.surveyed.obstacles[0] is VENT


def test_a_drawn_home_run_gives_its_circuit_the_new_length():
    # 2.0 m from combiner to gland, 10 % slack, 2.0 m inside: 4.2 m, as well known as a drawing to scale.
    circuit = tried().system.circuits[0]
    assert (circuit.run_len_m, circuit.confidence) == (pytest.approx(4.2), "scaled")
    assert layout_try(DESIGN, read_layout({"panels": []}, {}, ["A"])).system.circuits == (HOME_RUN,)


def test_the_sizing_face_is_asked_about_the_layout_that_was_sent():
    design = tried()
    asked = system_input(design.roof, design.system)
    assert [(one.id, one.string_id, one.x_m) for one in asked.panels] == [("1", "1", 0.4), ("2", "1", 1.8)]
    assert [one.panel_ids for one in asked.strings] == [("2", "1")]
    assert (asked.circuits[0].serves, asked.circuits[0].run_len_m) == ("controller:A", pytest.approx(4.2))


def test_a_panel_without_a_data_sheet_speaks_before_what_else_is_missing():
    blank = replace(PANEL, model=replace(MODEL, name="Blank", panel_sheet=None))
    roof = replace(DESIGN.roof, panels=(blank,))
    lacking = replace(DESIGN.system, rest=None, problem="“Box” has no data sheet in the catalog.")
    with pytest.raises(DesignIncomplete, match="“Blank” has no data sheet"):
        system_input(roof, lacking)
    with pytest.raises(DesignIncomplete, match="“Box” has no data sheet"):
        system_input(DESIGN.roof, lacking)
    assert design_layout(roof).panels == ()
