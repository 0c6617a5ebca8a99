"""What vehicle, survey, equipment, design and shop say of weight and wind reaches the question to the engine.

A different prime in each field, so that no two can be mixed up; the sums are worked by hand.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

import sizing
from jobs.design.checks import extra_checks
from jobs.engine.stored import design_in_full
from jobs.engine.system import system_basis, system_input
from jobs.engine.weight import hitch_of, people_kg
from jobs.models import Design, ExistingItem, Shop, Survey, Vehicle
from jobs.roof.read import roof_state

pytestmark = pytest.mark.django_db

VEHICLE = {
    "fresh_water_l": 101.0,
    "gvwr_kg": 4003.0,
    "uvw_kg": 2003.0,
    "cargo_label_kg": 1009.0,
    "gawr_front_kg": 1511.0,
    "gawr_rear_kg": 1523.0,
    "gawr_tag_kg": 1531.0,
    "hitch_limit_kg": 503.0,
    "scale_front_kg": 401.0,
    "scale_rear_kg": 1301.0,
    "wheelbase_m": 5.3,
    "rear_overhang_m": 2.9,
    "tag_spacing_m": 1.3,
}
SURVEY = {
    "scale_tag_kg": 997.0,
    "lp_gas_kg": 19.0,
    "grey_water_l": 103.0,
    "black_water_l": 107.0,
    "people_on_board_kg": 131.0,
    "customer_cargo_kg": 211.0,
    "fresh_water_carried_l": 97.0,
    "bank_x_m": 1.7,
    "equipment_x_m": 2.3,
    "gear_x_m": 4.1,
}


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design with a prime in every field of weight."""
    design = golden_job.designs.get()
    Vehicle.objects.filter(pk=golden_job.vehicle_id).update(**VEHICLE, scale_is_loaded=True)
    Survey.objects.filter(pk=golden_job.survey.pk).update(**SURVEY)
    golden_job.survey.existing_items.filter(fate=ExistingItem.Fate.REMOVE).update(mass_kg=59.0, axle_x_m=0.7)
    Design.objects.filter(pk=design.pk).update(gear_mass_kg=23.0)
    return design


def asked(design: Design) -> sizing.SystemInput:
    full = design_in_full(design.pk)
    return system_input(roof_state(full), system_basis(full))


def ledger_of(design: Design) -> sizing.WeightInput:
    ledger = asked(design).weight
    assert ledger is not None
    return ledger


def test_each_field_stands_where_it_belongs(design):
    ledger = ledger_of(design)
    assert ledger == sizing.WeightInput(
        label_kg=1009.0,
        label_type="occc",
        fresh_water_kg=97.0,
        people_kg=131.0,
        customer_cargo_kg=211.0,
        lp_gas_kg=19.0,
        waste_tanks_kg=103.0 + 107.0,
        added=(("wire, mounts and gear", 23.0),),
        removed=(("Flooded 12 V pair", 59.0),),
        mass_points=(("wire, mounts and gear", 23.0, 4.1), ("Flooded 12 V pair", -59.0, 0.7)),
        gvwr_kg=4003.0,
        uvw_kg=2003.0,
        front_limit_kg=503.0,  # of a trailer: hitch
        rear_limit_kg=1511.0 + 1523.0,  # and all axles; the third stands apart
        tag_limit_kg=1531.0,
        front_kg=401.0,
        rear_kg=1301.0,
        tag_kg=997.0,
        is_weighed_loaded=True,
        hitch="tongue",
        wheelbase_m=5.3,
        tag_spacing_m=1.3,
        rear_edge_x_m=pytest.approx(5.3 + 2.9),
        bank_x_m=1.7,
        equipment_x_m=2.3,
    )


def test_of_a_motor_home_the_ratings_are_those_of_its_axles(design):
    Vehicle.objects.update(kind=Vehicle.Kind.CLASS_A)
    ledger = ledger_of(design)
    limits = (ledger.front_limit_kg, ledger.rear_limit_kg, ledger.tag_limit_kg, ledger.hitch)
    assert limits == (1511.0, 1523.0, 1531.0, "")


@pytest.mark.parametrize("name", VEHICLE)
def test_every_weight_of_the_vehicle_changes_the_question(design, name):
    if name == "fresh_water_l":
        Survey.objects.update(
            fresh_water_carried_l=None
        )  # a full tank counts where nobody said what is carried
    before = ledger_of(design)
    Vehicle.objects.update(**{name: VEHICLE[name] + 2.0})
    assert ledger_of(design) != before


@pytest.mark.parametrize("name", SURVEY)
def test_every_weight_of_the_survey_changes_the_question(design, name):
    before = ledger_of(design)
    Survey.objects.update(**{name: SURVEY[name] + 2.0})
    assert ledger_of(design) != before


def test_people_count_where_their_mass_is_not_written_down(design):
    Vehicle.objects.update(kind=Vehicle.Kind.CLASS_C)
    Survey.objects.update(people_on_board_kg=None, people_count=3)
    assert ledger_of(design).people_kg == 3 * 68.0  # 150 lb each, 49 CFR 571.110


@pytest.mark.parametrize(
    ("wording", "dated", "year", "expected"),
    [
        ("occc", None, 2001, ("occc", False)),
        ("cargo", None, 2001, ("occc", False)),
        ("ccc", dt.date(2008, 6, 2), 2008, ("occc", False)),
        ("ccc", dt.date(2008, 6, 1), 2008, ("ccc", False)),
        ("ccc", None, 2008, ("ccc", True)),
        ("ccc", None, 2004, ("ccc", False)),
        ("ccc", None, 2019, ("occc", False)),
    ],
)
def test_the_label_is_read_by_wording_and_date(design, wording, dated, year, expected):
    Vehicle.objects.update(cargo_label_type=wording, year=year)
    Survey.objects.update(cargo_label_date=dated)
    ledger = ledger_of(design)
    assert (ledger.label_type, ledger.is_label_undated) == expected


@pytest.mark.parametrize(
    ("kind", "written", "rule_set", "hitch"),
    [
        ("travel_trailer", "", "marine_105c", "tongue"),
        ("toy_hauler", "pin", "marine_105c", "pin"),
        ("fifth_wheel", "", "code_75c", "pin"),
        ("fifth_wheel", "", "metric", "pin"),
        ("travel_trailer", "", "metric", "caravan"),
        ("travel_trailer", "tongue", "metric", "tongue"),
        ("small_trailer", "caravan", "marine_105c", "caravan"),
        ("class_a", "tongue", "marine_105c", ""),
        ("truck_camper", "", "metric", ""),
    ],
)
def test_what_a_trailer_hangs_on(kind, written, rule_set, hitch):
    assert hitch_of(Vehicle(kind=kind, hitch=written), rule_set) == hitch


def test_the_axles_by_hand(design):
    """Panels at x 1.95 and 4.92 m, 1.49 m long, rear edge 8.2 m behind the ball: 5.505 and 2.535 m.

    Added: 4 × 11.5, bank 38.1 at 1.7, inverter 9 + controller 1.8 + converter 2.7 at 2.3, gear 23 at 4.1;
    off: 59 at 0.7. Moment 184.92 + 64.77 + 31.05 + 94.3 - 41.3 = 333.74 kg·m on 5.3 m: 62.97 kg on the axles,
    61.6 - 62.97 = -1.37 kg on the hitch.
    """
    result = sizing.size_system(asked(design))
    assert result.weight.net_added_kg == pytest.approx(61.6)
    assert result.check("vehicle/axle_front").value == pytest.approx(401.0 - 1.37, abs=0.01)
    assert result.check("vehicle/axle_rear").value == pytest.approx(1301.0 + 997.0 + 62.97, abs=0.01)
    assert result.check("vehicle/gvwr").value == pytest.approx(401.0 + 1301.0 + 997.0 + 61.6)
    assert result.check("vehicle/hitch_share").value == pytest.approx(399.63 / 2760.6, abs=1e-4)


@pytest.mark.parametrize("name", ["bank_x_m", "equipment_x_m", "gear_x_m"])
def test_a_place_nobody_wrote_down_is_not_enough_data(design, name):
    Survey.objects.update(**{name: None})
    result = sizing.size_system(asked(design))
    assert result.check("vehicle/axles").verdict is sizing.Verdict.NOT_ENOUGH_DATA
    assert not [check for check in result.checks if check.key.startswith("vehicle/axle_")]


def test_a_ticket_nobody_asked_about_is_not_taken_as_loaded(design):
    Vehicle.objects.update(scale_is_loaded=None)
    assert ledger_of(design).is_weighed_loaded is None
    check = sizing.size_system(asked(design)).check("vehicle/axle_rear")
    assert check.verdict is sizing.Verdict.NOT_ENOUGH_DATA


@pytest.mark.parametrize("looked", [None, True, False])
def test_front_screw_and_speed_reach_the_roof(design, looked):
    Survey.objects.update(is_front_open=looked, foot_screw="#10", screws_per_rafter_foot=3)
    Shop.objects.update(design_speed_mps=41.0)
    question = asked(design)
    roof = question.roof
    assert (roof.is_front_open, roof.screw, roof.screws_per_rafter_foot) == (looked, "#10", 3)
    assert question.design_speed_mps == 41.0


def test_each_panel_keeps_its_feet_screws_and_gap(design):
    """The highest panel, of 35 mm, sets the height of the array: 0.13 + 0.035 m."""
    for number, gap in ((1, 0.03), (2, 0.07), (3, 0.13), (4, 0.11)):
        panels = design.panels.filter(number=number)
        panels.update(feet=number + 4, fasteners_per_foot=number + 1, height_above_roof_m=gap)
    question = asked(design)
    found = [(one.feet, one.fasteners_per_foot, one.gap_m) for one in question.panels]
    assert found == [(5, 2, 0.03), (6, 3, 0.07), (7, 4, 0.13), (8, 5, 0.11)]
    assert question.roof.array_top_m == pytest.approx(0.165)
    assert not question.roof.is_bonded_only
    assert question.roof.bond_area_m2 is None


def test_glued_panels_beside_panels_on_feet_bring_their_area(design):
    """Two P200 of 1.49 × 0.67 m without feet: 1.9966 m²."""
    design.panels.filter(number__in=[1, 2]).update(feet=0)
    roof = asked(design).roof
    assert roof.bond_area_m2 == pytest.approx(1.9966)
    assert not roof.is_bonded_only


def test_a_new_part_without_a_weight_is_named(design):
    full = design_in_full(design.pk)
    assert not [one for one in extra_checks(full, roof_state(full)) if one.key == "vehicle/weighed"]
    full.inverter.part.mass_kg = 0.0
    full.inverter.part.save()
    full = design_in_full(design.pk)
    check = next(one for one in extra_checks(full, roof_state(full)) if one.key == "vehicle/weighed")
    assert check.verdict is sizing.Verdict.NOT_ENOUGH_DATA
    assert full.inverter.part.name in check.sentence


def test_people_ride_in_what_drives_itself(design):
    survey = design.job.survey
    survey.people_on_board_kg, survey.people_count = None, 2
    assert people_kg(survey, Vehicle(kind=Vehicle.Kind.CLASS_A)) == 136.0
    assert people_kg(survey, Vehicle(kind=Vehicle.Kind.FIFTH_WHEEL)) == 0.0


def test_what_is_asked_survives_being_stored(design):
    question = asked(design)
    assert dataclasses.asdict(sizing.input_from_dict(sizing.input_to_dict(question))) == dataclasses.asdict(
        question
    )
