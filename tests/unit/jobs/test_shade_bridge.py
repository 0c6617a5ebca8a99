"""A design and its survey become a scene: places, units and sides worked by hand from the records.

Shadows are checked with plane trigonometry: a thing of height h reaches (h - z)/tan(elevation) away from the
sun on a plane at height z.
"""

from __future__ import annotations

import math

import pytest

import sizing
from jobs.engine.scene import AS_DESIGNED, scene_json, shade_question
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignController, Obstacle, PanelSheet
from jobs.roof.layout import design_layout
from jobs.roof.read import roof_state
from jobs.shop.refusals import Refusal

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design."""
    return golden_job.designs.get()


def asked(design: Design, stop_key=None) -> dict:
    """Return the question, read afresh."""
    state = design_state(design_in_full(design.pk))
    return shade_question(state.roof, state.sun, stop_key)


def scene_of(design: Design) -> sizing.SceneInput:
    """Return the scene as the engine reads it."""
    return sizing.scene_from_json(scene_json(asked(design)))


def change_sheet(design: Design, **values) -> None:
    """Change the data sheet of the golden panel."""
    part = design.panels.first().part
    PanelSheet.objects.filter(part=part).update(**values)


# --- places, sizes, sides --------------------------------------------------------------------------


def test_panels_and_things_stand_where_the_records_say(design):
    scene = scene_of(design)
    first = scene.panels[0]
    assert (first.id, first.x_m, first.y_m) == ("1", 1.95, 0.18)
    assert first.z_m == pytest.approx(0.085)  # 50 mm above the roof + 35 mm frame
    conditioner = scene.obstructions[0]
    assert (conditioner.kind, conditioner.h_m) == ("box", 0.33)
    assert conditioner.cx_m == pytest.approx(3.66 + 1.07 / 2)
    assert conditioner.cy_m == pytest.approx(0.73 + 0.74 / 2)
    assert (conditioner.lx_m, conditioner.ly_m) == (1.07, 0.74)
    assert (scene.roof.len_x_m, scene.roof.len_y_m) == (
        design.job.survey.roof_length_m,
        design.job.survey.roof_width_m,
    )


@pytest.mark.parametrize(("when", "side"), [("2023-06-21T08:00", 1), ("2023-06-21T16:00", -1)])
def test_the_morning_sun_of_a_nose_to_the_north_stands_at_the_right(design, when, side):
    """Nose north the right side looks east: the morning's shadow falls to the left, the afternoon's right."""
    moment = sizing.shade_moment(scene_of(design), when=when, heading_deg=0.0)
    shadow = next(one for one in moment.outlines if one.name == "air conditioner" and one.z_m > 0.08)
    reach_m = (0.33 - shadow.z_m) / math.tan(math.radians(moment.solar_elevation_deg))
    across_m = reach_m * math.sin(math.radians(moment.solar_azimuth_deg))  # + to the left
    along_m = -reach_m * math.cos(math.radians(moment.solar_azimuth_deg))
    assert math.copysign(1, across_m) == side
    ys, xs = [y for _, y in shadow.corners_m], [x for x, _ in shadow.corners_m]
    assert max(ys) == pytest.approx(1.47 + max(0.0, across_m), abs=0.003)
    assert min(ys) == pytest.approx(0.73 + min(0.0, across_m), abs=0.003)
    assert max(xs) == pytest.approx(4.73 + max(0.0, along_m), abs=0.003)


def test_a_turned_panel_lies_across_as_on_the_plan(design):
    design.panels.filter(number=1).update(is_turned=True)
    full = design_in_full(design.pk)
    panel = next(one for one in scene_of(design).panels if one.id == "1")
    kind = scene_of(design).panel_type(panel)
    box = design_layout(roof_state(full)).panels[0].box
    assert panel.rot_deg == 90
    assert box.length == pytest.approx(1000 * kind.len_y_m)  # 670 mm along the vehicle
    assert box.width == pytest.approx(1000 * kind.len_x_m)
    assert (kind.nx, kind.ny) == (9, 4)  # cells keep their own length


def test_round_things_and_domes(design):
    shapes = {one.name: one for one in scene_of(design).obstructions}
    assert shapes["stack"].kind == "cylinder"
    assert shapes["stack"].r_m == pytest.approx(0.06)  # 120 mm across
    survey = design.job.survey
    Obstacle.objects.create(
        survey=survey, kind="dome", label="Dish", x_m=6, y_m=1, length_m=0.5, width_m=0.5, height_m=0.4
    )
    dome = next(one for one in scene_of(design).obstructions if one.name == "dish")
    assert (dome.kind, dome.r_m, dome.h_m) == ("dome", 0.25, 0.4)


def test_what_will_be_removed_shades_nothing(design):
    design.job.survey.obstacles.filter(label="Air conditioner").update(will_be_removed=True)
    assert "air conditioner" not in [one.name for one in scene_of(design).obstructions]


def test_two_things_of_one_name_are_told_apart(design):
    design.job.survey.obstacles.filter(label__in=["Bath vent", "Front vent"]).update(label="Vent")
    names = [one.name for one in scene_of(design).obstructions]
    assert {"vent", "vent 2", "TV antenna"} <= set(names)


# --- strings and controllers ----------------------------------------------------------------------


def test_strings_and_the_window_of_the_controller(design):
    controller = scene_of(design).wirings[0].controllers[0]
    assert controller.strings == (("1", "2"), ("3", "4"))
    assert controller.v_min_v == pytest.approx(14.2 + 1.0)  # absorption + run margin
    assert controller.v_start_v == pytest.approx(14.2 + 5.0)
    assert controller.v_max_v == 100.0
    assert controller.p_max_w == pytest.approx(50 * 14.2 / 0.96, abs=0.1)


def test_a_plain_controller_ties_the_panels_to_the_battery(design):
    sheet = design.controllers.get().part.controller_sheet
    sheet.principle = "pwm"
    sheet.save()
    controller = scene_of(design).wirings[0].controllers[0]
    assert (controller.kind, controller.v_pwm_v) == ("pwm", 13.2)


def test_two_controllers_keep_their_own_strings(design):
    second = DesignController.objects.create(design=design, part=design.controllers.get().part, label="B")
    design.strings.filter(number=2).update(controller=second)
    question = asked(design)
    assert question["strings"] == {"A": [1], "B": [2]}
    found = question["scene"]["wirings"][AS_DESIGNED]["controllers"]
    assert [one["strings"] for one in found] == [[["1", "2"]], [["3", "4"]]]


def test_unwired_panels_stand_on_the_roof_in_no_string(design):
    design.panels.update(string=None)
    question = asked(design)
    assert question["scene"]["wirings"] == {}
    assert len(question["scene"]["panels"]) == 4
    assert scene_of(design).wirings == ()


# --- cells ----------------------------------------------------------------------------------------


def test_cells_as_on_the_sheet(design):
    kind = scene_of(design).panel_type(scene_of(design).panels[0])
    assert (kind.nx, kind.ny, kind.n_bypass, kind.halves) == (9, 4, 2, 1)
    assert asked(design)["guesses"] == []


def test_a_half_cut_sheet_keeps_its_columns(design):
    change_sheet(
        design, cells_in_series=54, cell_columns=18, cell_rows=6, bypass_diodes=3, is_half_cut=True,
        voc_v=37.1, vmp_v=31.0, isc_a=13.8, imp_a=12.9, pmp_w=400, length_m=1.722, width_m=1.134,
    )  # fmt: skip
    kind = scene_of(design).panel_type(scene_of(design).panels[0])
    assert (kind.nx, kind.ny, kind.n_bypass, kind.halves, kind.n_series) == (18, 6, 3, 2, 54)


@pytest.mark.parametrize(
    ("blank", "words"),
    [
        ({"cell_columns": None, "cell_rows": None}, "is not in the catalog: taken from its shape"),
        ({"cell_columns": 10}, "does not fit its count of cells in series"),
        ({"bypass_diodes": None}, "one for every two rows of cells"),
        ({"bypass_diodes": 3}, "do not divide its rows of cells evenly"),
    ],
)
def test_what_the_sheet_leaves_open_is_a_guess(design, blank, words):
    change_sheet(design, **blank)
    assert any(words in guess for guess in asked(design)["guesses"])
    kind = scene_of(design).panel_type(scene_of(design).panels[0])
    assert (kind.nx, kind.ny, kind.n_bypass) == (9, 4, 2)  # 36 cells on 1.49 × 0.67 m: nearest to square


def test_no_working_diode_stays_none(design):
    change_sheet(design, bypass_diodes=0)
    assert scene_of(design).panel_type(scene_of(design).panels[0]).n_bypass == 0


def test_glued_panels_run_hotter(design):
    open_air = scene_of(design).weather.heat
    Design.objects.filter(pk=design.pk).update(is_glued=True)
    glued = scene_of(design).weather.heat
    assert glued.u0_w_m2k < open_air.u0_w_m2k
    rise = [1.0 / (heat.u0_w_m2k + 1.5 * heat.u1_ws_m3k) for heat in (open_air, glued)]
    assert rise[1] / rise[0] == pytest.approx((80 - 42) / (70 - 42), rel=0.03)  # hot noon at 42 °C air


# --- place ----------------------------------------------------------------------------------------


def test_the_place_of_most_nights_or_the_chosen_one(golden_job, design):
    survey = golden_job.survey
    other = survey.stops.create(
        place="Far camp", latitude_deg=33.0, longitude_deg=-112.0, months=[1, 2, 3, 4], nights=None
    )
    assert asked(design)["place"]["name"] == "Far camp"  # four whole months against 100 nights
    first = survey.stops.exclude(pk=other.pk).get()
    assert asked(design, first.key)["place"]["name"] == first.place
    assert asked(design, first.key)["scene"]["location"] == {"lat": 45.0, "lon": -110.5, "utc_offset_h": -7}


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda design: design.job.survey.stops.all().delete(), "names no place"),
        (lambda design: design.job.survey.stops.update(longitude_deg=None), "has no longitude"),
        (lambda design: design.panels.all().delete(), "no panel on the roof"),
        (lambda design: design.panels.first().part.panel_sheet.delete(), "has no data sheet"),
        (
            lambda design: type(design.job.survey).objects.update(roof_length_m=None),
            "length and width are not in the survey",
        ),
    ],
)
def test_what_is_missing_is_said(design, spoil, words):
    spoil(design)
    with pytest.raises(Refusal, match=words):
        asked(design)


def test_the_open_sea_has_no_climate(design):
    design.job.survey.stops.update(latitude_deg=0.0, longitude_deg=-30.0)
    with pytest.raises(Refusal, match="outside the climate table"):
        scene_json(asked(design))
