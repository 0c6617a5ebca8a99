"""A different prime in every number of survey, vehicle, design and catalog: each arrives where it belongs.

Two numbers that were swapped, a wrong unit, the lowest taken for the highest or a fallback taken for a value
show as the wrong prime. Where each belongs is written from what the words mean.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import models

import sizing
from jobs.engine.stored import design_in_full
from jobs.engine.system import system_basis, system_input
from jobs.models import Design, DesignSource, ExistingItem, PanelSheet, Part
from jobs.parts.panel_curve import RESTS_ON
from jobs.parts.power_inputs import planned_absorb_v, single_diode
from jobs.roof.read import roof_state

pytestmark = pytest.mark.django_db
NUMBERS = (models.FloatField, models.IntegerField)
#: Numbers that mean something by themselves: volts of the system, a month, a number printed on a thing.
_AS_IT_IS = {"v_nominal_v", "design_month", "number", "position_in_string", "position", "edit_count"}


def primes() -> Iterator[int]:
    """Yield the primes from 101 up, so that none is a size, a count or a limit of the code."""
    return (n for n in itertools.count(101) if all(n % k for k in range(2, int(n**0.5) + 1)))


@dataclass
class Primes:
    """Writes a prime into every number of a record, and remembers which."""

    source: Iterator[int] = field(default_factory=primes)
    told: dict[str, int] = field(default_factory=dict)

    def write(self, name: str, record: Any) -> None:
        """Write the record; its numbers are told as ``name.field``."""
        numbers = [
            one.name
            for one in record._meta.concrete_fields
            if isinstance(one, NUMBERS) and not one.primary_key and one.name not in _AS_IT_IS
        ]
        values = {one: next(self.source) for one in numbers}
        type(record).objects.filter(pk=record.pk).update(**values)
        self.told |= {f"{name}.{one}": value for one, value in values.items()}


@pytest.fixture
def design(golden_job) -> Design:
    """Return the first design of the golden job."""
    return golden_job.designs.get()


def question(design: Design) -> sizing.SystemInput:
    """Return what the engine is asked of a design."""
    full = design_in_full(design.pk)
    return system_input(roof_state(full), system_basis(full))


def same_panel(design: Design) -> Part:
    return design.panels.first().part


@pytest.fixture
def filled(design) -> tuple[dict[str, int], sizing.SystemInput]:
    """Return the primes by record and field, and the question."""
    survey, given = design.job.survey, Primes()
    source = design.sources.first()
    for name, record in {
        "survey": survey,
        "vehicle": design.job.vehicle,
        "design": design,
        "load": survey.loads.order_by("pk")[1],
        "stop": survey.stops.get(),
        "panel": design.panels.get(number=2),
        "string": design.strings.get(number=2),
        "controller": design.controllers.get(),
        "bank": design.bank,
        "inverter": design.inverter,
        "source": source,
        "circuit": design.circuits.get(label="C2"),
        "panel sheet": same_panel(design).panel_sheet,
        "panel part": same_panel(design),
        "controller sheet": design.controllers.get().part.controller_sheet,
        "controller part": design.controllers.get().part,
        "battery sheet": design.bank.part.battery_sheet,
        "battery part": design.bank.part,
        "inverter sheet": design.inverter.part.inverter_sheet,
        "inverter part": design.inverter.part,
        "charger sheet": source.part.charger_sheet,
        "charger part": source.part,
    }.items():
        given.write(name, record)
    return given.told, question(design)


def circuit(asked: sizing.SystemInput) -> sizing.CircuitInput:
    return next(one for one in asked.circuits if one.id == "C2")


def panel(asked: sizing.SystemInput) -> sizing.PlacedPanel:
    return next(one for one in asked.panels if one.id == "2")


#: Where each number belongs, and by what it is multiplied on its way (millimeters, percent).
GOES: dict[str, Callable[[sizing.SystemInput], Any] | tuple[Callable[[sizing.SystemInput], Any], float]] = {
    "survey.roof_length_m": lambda asked: asked.roof.length_m,
    "survey.roof_width_m": lambda asked: asked.roof.width_m,
    "survey.deck_thickness_mm": (lambda asked: asked.roof.deck_thickness_m, 0.001),
    "survey.rafter_spacing_mm": (lambda asked: asked.roof.rafter_spacing_m, 0.001),
    "survey.gland_screws": lambda asked: asked.roof.gland_screws,
    "survey.cable_holes": lambda asked: asked.roof.cable_holes,
    "survey.tmin_travel_c": lambda asked: asked.tmin_travel_c,
    "survey.tmin_storage_c": lambda asked: asked.tmin_storage_c,
    "survey.tmax_c": lambda asked: asked.tmax_c,
    "survey.battery_tmin_c": lambda asked: asked.bank.tmin_c,
    "survey.autonomy_days": lambda asked: asked.autonomy_days,
    "survey.k_sys": lambda asked: asked.k_sys,
    "survey.people_on_board_kg": lambda asked: asked.weight.people_kg,
    "survey.customer_cargo_kg": lambda asked: asked.weight.customer_cargo_kg,
    "survey.fresh_water_carried_l": lambda asked: asked.weight.fresh_water_kg,  # one kilogram a liter
    "survey.lp_gas_kg": lambda asked: asked.weight.lp_gas_kg,
    "survey.scale_tag_kg": lambda asked: asked.weight.tag_kg,
    "survey.bank_x_m": lambda asked: asked.weight.bank_x_m,
    "survey.equipment_x_m": lambda asked: asked.weight.equipment_x_m,
    "survey.gear_x_m": lambda asked: asked.weight.mass_points[0][2],
    "survey.screws_per_rafter_foot": lambda asked: asked.roof.screws_per_rafter_foot,
    "vehicle.gvwr_kg": lambda asked: asked.weight.gvwr_kg,
    "vehicle.uvw_kg": lambda asked: asked.weight.uvw_kg,
    "vehicle.gawr_tag_kg": lambda asked: asked.weight.tag_limit_kg,
    "vehicle.hitch_limit_kg": lambda asked: asked.weight.front_limit_kg,
    "vehicle.scale_front_kg": lambda asked: asked.weight.front_kg,
    "vehicle.scale_rear_kg": lambda asked: asked.weight.rear_kg,
    "vehicle.wheelbase_m": lambda asked: asked.weight.wheelbase_m,
    "vehicle.tag_spacing_m": lambda asked: asked.weight.tag_spacing_m,
    "vehicle.cargo_label_kg": lambda asked: asked.weight.label_kg,
    "vehicle.overall_height_m": lambda asked: asked.roof.overall_height_m,
    "vehicle.height_limit_m": lambda asked: asked.roof.height_limit_m,
    "design.feet_on_rafter": lambda asked: asked.roof.feet_on_rafter,
    "design.fastener_tested_n": lambda asked: asked.roof.fastener_tested_n,
    "design.gear_mass_kg": lambda asked: dict(asked.weight.added)["wire, mounts and gear"],
    "load.power_w": lambda asked: asked.loads[1].power_w,
    "load.duty_fraction": lambda asked: asked.loads[1].duty_fraction,
    "load.hours_per_day": lambda asked: asked.loads[1].hours_per_day,
    "load.quantity": lambda asked: asked.loads[1].quantity,
    "load.surge_factor": lambda asked: asked.loads[1].surge_factor,
    "stop.latitude_deg": lambda asked: asked.legs[0].latitude_deg,
    "stop.longitude_deg": lambda asked: asked.legs[0].longitude_deg,
    "stop.psh_h": lambda asked: asked.legs[0].psh_h,
    "panel.x_m": lambda asked: panel(asked).x_m,
    "panel.y_m": lambda asked: panel(asked).y_m,
    "panel.feet": lambda asked: panel(asked).feet,
    "panel.fasteners_per_foot": lambda asked: panel(asked).fasteners_per_foot,
    "panel.height_above_roof_m": lambda asked: panel(asked).gap_m,
    "string.fuse_a": lambda asked: asked.strings[1].fuse_a,
    "controller.absorb_v": lambda asked: asked.controllers[0].absorb_v,
    "bank.quantity": lambda asked: asked.bank.quantity,
    "bank.in_series": lambda asked: asked.bank.in_series,
    "inverter.hours_on_per_day": lambda asked: asked.inverter.hours_on_per_day,
    "source.absorb_v": lambda asked: asked.sources[0].absorb_v,
    "source.limited_to_a": lambda asked: asked.sources[0].limited_to_a,
    "source.alternator_rating_a": lambda asked: asked.sources[0].alternator_rating_a,
    "source.input_v": lambda asked: asked.sources[0].input_v,
    "source.driving_hours_per_day": lambda asked: asked.sources[0].driving_hours_per_day,
    "source.shore_hours_per_day": lambda asked: asked.sources[0].shore_hours_per_day,
    "circuit.run_len_m": lambda asked: circuit(asked).run_len_m,
    "circuit.fuse_a": lambda asked: circuit(asked).ocpd.rating_a,
    "circuit.fuse_voltage_v": lambda asked: circuit(asked).ocpd.voltage_rating_v,
    "circuit.fuse_interrupting_a": lambda asked: circuit(asked).ocpd.interrupting_a,
    "circuit.fuse_distance_m": lambda asked: circuit(asked).ocpd.distance_to_source_m,
    "circuit.current_a": lambda asked: circuit(asked).current_a,
    "circuit.bundle_count": lambda asked: circuit(asked).bundle_count,
    "circuit.ambient_c": lambda asked: circuit(asked).ambient_c,
    "panel sheet.pmp_w": lambda asked: panel(asked).panel.pmp_w,
    "panel sheet.vmp_v": lambda asked: panel(asked).panel.vmp_v,
    "panel sheet.imp_a": lambda asked: panel(asked).panel.imp_a,
    "panel sheet.voc_v": lambda asked: panel(asked).panel.voc_v,
    "panel sheet.isc_a": lambda asked: panel(asked).panel.isc_a,
    "panel sheet.length_m": lambda asked: panel(asked).panel.length_m,
    "panel sheet.width_m": lambda asked: panel(asked).panel.width_m,
    "panel sheet.thickness_m": lambda asked: panel(asked).panel.thickness_m,
    "panel sheet.beta_voc_percent_per_c": (lambda asked: panel(asked).panel.beta_voc_fraction_per_c, 0.01),
    "panel sheet.gamma_pmp_percent_per_c": (lambda asked: panel(asked).panel.gamma_pmp_fraction_per_c, 0.01),
    "panel sheet.alpha_isc_percent_per_c": (lambda asked: panel(asked).panel.alpha_isc_fraction_per_c, 0.01),
    "panel sheet.max_series_fuse_a": lambda asked: panel(asked).panel.max_series_fuse_a,
    "panel sheet.cells_in_series": lambda asked: panel(asked).panel.cells_in_series,
    "panel sheet.bypass_diodes": lambda asked: panel(asked).panel.bypass_diodes,
    "panel part.mass_kg": lambda asked: panel(asked).panel.mass_kg,
    "controller sheet.pv_voltage_limit_v": lambda asked: asked.controllers[0].pv_voltage_limit_v,
    "controller sheet.rated_output_a": lambda asked: asked.controllers[0].rated_output_a,
    "controller sheet.pv_isc_limit_a": lambda asked: asked.controllers[0].pv_isc_limit_a,
    "controller sheet.start_margin_v": lambda asked: asked.controllers[0].start_margin_v,
    "controller sheet.run_margin_v": lambda asked: asked.controllers[0].run_margin_v,
    "controller sheet.efficiency_fraction": lambda asked: asked.controllers[0].efficiency_fraction,
    "controller part.mass_kg": lambda asked: asked.controllers[0].mass_kg,
    "battery sheet.nominal_v": lambda asked: asked.bank.unit_nominal_v,
    "battery sheet.capacity_ah": lambda asked: asked.bank.unit_capacity_ah,
    "battery sheet.max_charge_a": lambda asked: asked.bank.max_charge_a,
    "battery sheet.max_discharge_a": lambda asked: asked.bank.max_discharge_a,
    "battery sheet.max_peak_discharge_a": lambda asked: asked.bank.max_peak_discharge_a,
    "battery sheet.absorb_low_v": lambda asked: asked.bank.maker_absorb_low_v,
    "battery sheet.absorb_high_v": lambda asked: asked.bank.maker_absorb_high_v,
    "battery sheet.short_circuit_a": lambda asked: asked.bank.short_circuit_a,
    "battery part.mass_kg": lambda asked: asked.bank.unit_mass_kg,
    "inverter sheet.power_w": lambda asked: asked.inverter.power_w,
    "inverter sheet.surge_w": lambda asked: asked.inverter.surge_w,
    "inverter sheet.idle_w": lambda asked: asked.inverter.idle_w,
    "inverter sheet.efficiency_fraction": lambda asked: asked.inverter.efficiency_fraction,
    "inverter sheet.max_fuse_a": lambda asked: asked.inverter.max_fuse_a,
    "inverter part.mass_kg": lambda asked: asked.inverter.mass_kg,
    "charger sheet.output_a": lambda asked: asked.sources[0].output_a,
    "charger sheet.lockout_v": lambda asked: asked.sources[0].lockout_v,
    "charger part.mass_kg": lambda asked: asked.sources[0].mass_kg,
}


def test_every_number_arrives_where_it_belongs(filled):
    told, asked = filled
    wrong = []
    for name, goes in GOES.items():
        reads, factor = goes if isinstance(goes, tuple) else (goes, 1)
        found, wanted = reads(asked), told[name] * factor
        if found is None or abs(found - wanted) > 1e-9 * abs(wanted):
            wrong.append((name, found, wanted))
    assert not wrong


def test_what_is_made_of_several_numbers_is_made_of_these(filled):
    told, asked = filled
    # The heaters of all batteries together.
    assert asked.bank.heater_w == told["battery sheet.heater_w"] * told["bank.quantity"]
    # Of a trailer the ratings of both axles, the distance from the hitch to its rear edge, both waste tanks.
    weight = asked.weight
    assert weight.rear_limit_kg == told["vehicle.gawr_front_kg"] + told["vehicle.gawr_rear_kg"]
    assert weight.rear_edge_x_m == told["vehicle.wheelbase_m"] + told["vehicle.rear_overhang_m"]
    assert weight.waste_tanks_kg == told["survey.grey_water_l"] + told["survey.black_water_l"]
    # The top of the highest panel over the skin: its underside and its thickness.
    assert asked.roof.array_top_m == told["panel.height_above_roof_m"] + told["panel sheet.thickness_m"]


# --- the highest, the one that wins, the one that is left out -----------------------------------------------


@pytest.mark.parametrize("highest", [1, 2, 3, 4])
def test_the_top_of_the_array_is_that_of_the_highest_panel(design, highest):
    """Panels stand 20 to 50 mm over the skin, one 110 mm; each is 35 mm thick but one that is not."""
    for number, height_m in ((1, 0.02), (2, 0.03), (3, 0.04), (4, 0.05)):
        height_m = 0.11 if number == highest else height_m
        design.panels.filter(number=number).update(height_above_roof_m=height_m)
    PanelSheet.objects.filter(part=same_panel(design)).update(thickness_m=0.035)
    assert question(design).roof.array_top_m == pytest.approx(0.145)


def test_a_thick_panel_on_low_feet_may_be_the_highest(design):
    thick = Part.objects.filter(shop=design.job.shop, panel_sheet__isnull=False).exclude(
        pk=same_panel(design).pk
    )[0]
    PanelSheet.objects.filter(part=same_panel(design)).update(thickness_m=0.03)
    PanelSheet.objects.filter(part=thick).update(thickness_m=0.2)
    design.panels.update(height_above_roof_m=0.05)
    design.panels.filter(number=3).update(part=thick, height_above_roof_m=0.01)
    assert question(design).roof.array_top_m == pytest.approx(0.21)


@pytest.mark.parametrize(("has_plugs", "rated_a"), [(True, [41.0]), (False, [])])
def test_branch_plugs_are_asked_about_where_there_are_some(design, has_plugs, rated_a):
    Design.objects.filter(pk=design.pk).update(has_branch_plugs=has_plugs, branch_plug_rating_a=41.0)
    assert [plug.rating_a for plug in question(design).plugs] == rated_a


@pytest.mark.parametrize(("glued", "only"), [((), False), ((1,), False), ((1, 2, 3, 4), True)])
def test_a_roof_is_bonded_only_where_no_panel_has_feet(design, glued, only):
    """The panel of the reference is 1.49 × 0.67 m: 0.9983 m² each that holds by glue."""
    design.panels.filter(number__in=glued).update(feet=0)
    roof = question(design).roof
    assert roof.is_bonded_only == only
    assert roof.bond_area_m2 == (pytest.approx(0.9983 * len(glued)) if glued else None)


@pytest.mark.parametrize(
    ("carried_l", "tank_l", "counted_kg"),
    [(37.0, 151.0, 37.0), (0.0, 151.0, 0.0), (None, 151.0, 151.0), (None, None, 0.0)],
)
def test_the_water_said_to_be_carried_wins_over_the_tank(design, carried_l, tank_l, counted_kg):
    survey, vehicle = design.job.survey, design.job.vehicle
    survey.fresh_water_carried_l, vehicle.fresh_water_l = carried_l, tank_l
    survey.save()
    vehicle.save()
    assert question(design).weight.fresh_water_kg == counted_kg


@pytest.mark.parametrize(("cargo_kg", "counted_kg"), [(83.0, 83.0), (0.0, 0.0), (None, 0.0)])
def test_cargo_nobody_told_is_nothing_and_named_as_guessed(design, cargo_kg, counted_kg):
    design.job.survey.customer_cargo_kg = cargo_kg
    design.job.survey.save()
    asked = question(design)
    assert asked.weight.customer_cargo_kg == counted_kg
    assert ("weight" in asked.guesses) == (cargo_kg is None)


@pytest.mark.parametrize(
    ("length_m", "width_m", "is_known"), [(8.0, 2.3, True), (None, 2.3, False), (8.0, None, False)]
)
def test_a_roof_of_which_a_side_is_not_measured_is_not_asked(design, length_m, width_m, is_known):
    design.job.survey.roof_length_m, design.job.survey.roof_width_m = length_m, width_m
    design.job.survey.save()
    assert (question(design).roof is not None) == is_known


@pytest.mark.parametrize(
    ("overall_m", "heights", "skin_m"),
    [
        (3.5, [(0.3, False), (0.2, False)], 3.2),  # the tallest measured thing is the highest point
        (3.5, [(0.3, True), (0.2, False)], 3.3),  # a guessed one does not put the skin lower
        (3.5, [(0.3, True)], None),
        (3.5, [], None),
        (None, [(0.3, False)], None),
    ],
)
def test_the_skin_lies_under_the_tallest_measured_thing(design, overall_m, heights, skin_m):
    survey, vehicle = design.job.survey, design.job.vehicle
    vehicle.overall_height_m = overall_m
    vehicle.save()
    kept = list(survey.obstacles.order_by("pk")[: len(heights)])
    survey.obstacles.exclude(pk__in=[one.pk for one in kept]).delete()
    for one, (height_m, is_guess) in zip(kept, heights, strict=True):
        one.height_m, one.is_guess = height_m, is_guess
        one.save()
    found = question(design).roof.skin_height_m
    assert found == (None if skin_m is None else pytest.approx(skin_m))


@pytest.mark.parametrize("fate", ExistingItem.Fate.values)
def test_only_what_goes_is_taken_off_the_weight(design, fate):
    item = design.job.survey.existing_items.filter(mass_kg__gt=0).first()
    design.job.survey.existing_items.exclude(pk=item.pk).update(fate="keep")
    ExistingItem.objects.filter(pk=item.pk).update(fate=fate, mass_kg=127.0)
    removed = [mass for _, mass in question(design).weight.removed]
    assert removed == ([127.0] if fate in {"remove", "replace"} else [])


# --- chargers and curves ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("has_profile", "set_v", "told_v"),
    [(True, None, 14.2), (True, 13.9, 13.9), (False, 13.9, 13.9), (False, None, None)],
)
def test_a_charger_without_a_lithium_profile_has_the_volts_somebody_set(design, has_profile, set_v, told_v):
    """14.2 V is what the shop sets lithium iron phosphate to at 12 V where nobody says otherwise."""
    source = DesignSource.objects.filter(design=design).exclude(part=None).first()
    source.absorb_v = set_v
    source.save()
    sheet = source.part.charger_sheet
    sheet.has_lithium_profile = has_profile
    sheet.save()
    assert question(design).sources[0].absorb_v == pytest.approx(told_v)


def test_without_a_battery_sheet_nobody_knows_the_volts_to_set(design):
    design.bank.part.battery_sheet.delete()
    full = design_in_full(design.pk)
    assert planned_absorb_v(full, None) is None
    assert planned_absorb_v(full, 13.7) == 13.7
    design.bank.delete()
    assert planned_absorb_v(design_in_full(design.pk), None) is None


@pytest.mark.parametrize("name", RESTS_ON)
def test_a_curve_falls_with_any_one_value_it_rests_on(design, name):
    """Each value of the sheet alone: a curve of another panel must not stand because the rest is the same."""
    sheet = same_panel(design).panel_sheet
    parameters = {
        "alpha_sc_a_per_c": 0.005, "a_ref_v": 1.5, "i_l_ref_a": 10.2, "i_o_ref_a": 1e-10, "r_s_ohm": 0.2,
        "r_sh_ref_ohm": 300.0,
    }  # fmt: skip
    sheet.curve = {"parameters": parameters, "rests_on": {one: getattr(sheet, one) for one in RESTS_ON}}
    assert single_diode(sheet) is not None
    setattr(sheet, name, (getattr(sheet, name) or 0) + 1)
    assert single_diode(sheet) is None
    sheet.curve = {}
    assert single_diode(sheet) is None
