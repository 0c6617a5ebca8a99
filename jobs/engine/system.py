"""Knows how records become a question to the sizing face, and how the answer is stored and read back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import sizing
from jobs.engine.as_built import Built, fitted_sizes
from jobs.models import (
    ConfidenceChoice,
    Design,
    DesignCircuit,
    DesignController,
    DesignInverter,
    DesignPanel,
    DesignString,
    ExistingItem,
    LoadItem,
    SizingRun,
    Survey,
    TravelStop,
    Vehicle,
)
from jobs.parts.power_inputs import (
    bank_input,
    controller_input,
    inverter_as_charger,
    inverter_input,
    only_of,
    panel_spec,
    source_input,
)

#: A person as seat and label rules count one (150 lb, FMVSS 110 S4.3.2 label figure). [kg]
PERSON_KG: Final = 68.0
#: A guessed length is judged this much longer; common practice, no source. [-]
GUESS_LENGTH: Final = 1.25
#: Survey words for guessed facts and the words the sizing face knows.
GUESS_NAMES: Final[Mapping[str, str]] = {
    "battery.tmin": "bank.tmin",
    "battery_tmin_c": "bank.tmin",
    "material": "roof.material",
    "deck_thickness_mm": "roof.deck",
    "roof.deck_thickness": "roof.deck",
    "rafter_spacing_mm": "roof.rafters",
    "rafter_first_mm": "roof.rafters",
    "rafter_kind": "roof.rafters",
    "roof.rafter_spacing": "roof.rafters",
    "overall_height_m": "roof.height",
    "vehicle.height": "roof.height",
    "tmin_travel_c": "site.tmin_travel",
    "tmin_storage_c": "site.tmin_storage",
    "tmax_c": "site.tmax",
    "stops": "legs",
    "travel": "legs",
    "weight.label": "weight",
}


def built_input(accepted: SizingRun, as_built: Mapping[str, Any]) -> sizing.SystemInput:
    """Return the question that was accepted, as stored, with the values as built laid over it.

    Survey, vehicle and catalogue may have been edited since: they are not read again. The cables the
    accepted answer proposed count as fitted.
    """
    built = Built(as_built, fitted_sizes(result_from_json(accepted.result)))
    return built.applied_to(input_from_json(accepted.inputs))


def system_input(design: Design) -> sizing.SystemInput:
    """Return the question for a design as planned, with survey and catalogue as they stand."""
    survey, vehicle = design.job.survey, design.job.vehicle
    controllers = list(design.controllers.all())
    panels = list(design.panels.all())
    strings = _strings(design.strings.all(), panels)
    bank = only_of(design, "bank")
    inverter = only_of(design, "inverter")
    sources = list(design.sources.all())
    circuits = sorted(design.circuits.all(), key=lambda one: (len(one.kind), one.kind, one.label))
    subjects = served_subjects(design)
    return sizing.SystemInput(
        rule_set=sizing.RuleSet(design.rule_set),
        v_nominal_v=float(survey.v_nominal_v),
        tmin_travel_c=survey.tmin_travel_c,
        tmin_storage_c=survey.tmin_storage_c,
        tmax_c=survey.tmax_c,
        autonomy_days=survey.autonomy_days,
        k_sys=survey.k_sys,
        loads=tuple(_load(row) for row in survey.loads.all()),
        legs=tuple(_leg(stop) for stop in survey.stops.all()),
        design_month=survey.design_month,
        panels=tuple(_panel(panel) for panel in panels),
        strings=strings,
        controllers=tuple(controller_input(controller) for controller in controllers),
        bank=bank_input(bank, survey) if bank else None,
        inverter=inverter_input(inverter) if inverter else None,
        sources=(*(source_input(source) for source in sources), *inverter_as_charger(design)),
        circuits=tuple(_circuit(circuit, subjects) for circuit in circuits),
        plugs=_plugs(design, controllers),
        roof=_roof(design, survey, vehicle, panels),
        weight=_weight(design, survey, vehicle),
        glued_panels=design.is_glued,
        guesses=guesses_of(survey, circuits),
    )


def energy_of(loads: Iterable[LoadItem], inverter: DesignInverter | None = None) -> sizing.EnergyResult:
    """Return a day's use of these loads, for the live total of the survey; they need not be stored."""
    return sizing.daily_energy(
        tuple(_load(row) for row in loads), inverter_input(inverter) if inverter is not None else None
    )


def guesses_of(survey: Survey, circuits: Iterable[DesignCircuit]) -> frozenset[str]:
    """Return the guessed facts in the words of the sizing face."""
    named = {GUESS_NAMES.get(name, name) for name in survey.guessed_fields if not name.startswith("circuit:")}
    lengths = {
        f"circuit:{circuit.label}.run_len"
        for circuit in circuits
        if circuit.confidence == ConfidenceChoice.GUESS
    }
    if survey.battery_tmin_c is None:
        named.add("bank.tmin")
    if survey.customer_cargo_kg is None:  # counted as nothing, which nobody believes
        named.add("weight")
    return frozenset(named | lengths)


def input_to_json(system: sizing.SystemInput) -> dict[str, Any]:
    """Return the question as plain data, in the shape the command line reads."""
    return sizing.input_to_dict(system)


def input_from_json(data: Mapping[str, Any]) -> sizing.SystemInput:
    """Return the question that was stored."""
    return sizing.input_from_dict(data)


def result_to_json(result: sizing.SystemResult) -> dict[str, Any]:
    """Return the answer as plain data."""
    return sizing.result_to_dict(result)


def result_from_json(data: Mapping[str, Any]) -> sizing.SystemResult:
    """Return the answer that was stored."""
    return sizing.result_from_dict(data)


def _load(row: LoadItem) -> sizing.LoadRow:
    return sizing.LoadRow(
        name=row.name,
        bus=sizing.Bus(row.bus),
        power_w=row.power_w,
        duty_fraction=row.duty_fraction,
        hours_per_day=row.hours_per_day,
        quantity=row.quantity,
        surge_factor=row.surge_factor,
        is_critical=row.is_critical,
    )


def _leg(stop: TravelStop) -> sizing.TravelLeg:
    return sizing.TravelLeg(
        name=stop.place,
        latitude_deg=stop.latitude_deg,
        longitude_deg=stop.longitude_deg,
        months=tuple(stop.months),
        shade_habit=sizing.ShadeHabit(stop.shade_habit),
        psh_h=stop.psh_h,
    )


def _panel(panel: DesignPanel) -> sizing.PlacedPanel:
    return sizing.PlacedPanel(
        id=str(panel.number),
        panel=panel_spec(panel.part),
        x_m=panel.x_m,
        y_m=panel.y_m,
        turned=panel.is_turned,
        feet=panel.feet,
        fasteners_per_foot=panel.fasteners_per_foot,
        string_id=None if panel.string is None else str(panel.string.number),
    )


def _strings(
    strings: Iterable[DesignString], panels: Iterable[DesignPanel]
) -> tuple[sizing.StringInput, ...]:
    ordered = sorted(panels, key=lambda panel: (panel.position_in_string, panel.number))
    return tuple(
        sizing.StringInput(
            id=str(string.number),
            controller_id=string.controller.label,
            panel_ids=tuple(str(panel.number) for panel in ordered if panel.string_id == string.pk),
            fuse_a=string.fuse_a,
        )
        for string in strings
    )


def served_subjects(design: Design) -> frozenset[str]:
    """Return everything a circuit of this design can belong to."""
    return frozenset(
        {"", "bank", "inverter", "load"}
        | {f"controller:{one.label}" for one in design.controllers.all()}
        | {f"string:{one.number}" for one in design.strings.all()}
        | {f"source:{one.pk}" for one in design.sources.all()}
    )


def _circuit(circuit: DesignCircuit, subjects: frozenset[str]) -> sizing.CircuitInput:
    return sizing.CircuitInput(
        id=circuit.label,
        kind=sizing.CircuitKind(circuit.kind),
        run_len_m=run_len_m(circuit),
        serves=circuit.serves if circuit.serves in subjects else "",
        size=circuit.size or None,
        ocpd=_ocpd(circuit),
        has_no_ocpd=circuit.has_no_protection,
        current_a=circuit.current_a,
        bundle_count=circuit.bundle_count,
        ambient_c=circuit.ambient_c,
        in_engine_space=circuit.in_engine_space,
        on_roof_in_sun=circuit.on_roof_in_sun,
        cable_standard=circuit.cable_standard,
        is_critical=circuit.is_critical,
        confidence=sizing.Confidence(circuit.confidence),
    )


def run_len_m(circuit: DesignCircuit) -> float | None:
    """Return the one-way path a circuit is judged by [m]: a guess counts a quarter longer."""
    if circuit.run_len_m is None or circuit.confidence != ConfidenceChoice.GUESS:
        return circuit.run_len_m
    return circuit.run_len_m * GUESS_LENGTH


def _ocpd(circuit: DesignCircuit) -> sizing.OcpdInput | None:
    if circuit.fuse_a is None:
        return None
    return sizing.OcpdInput(
        rating_a=circuit.fuse_a,
        family=circuit.fuse_family,
        voltage_rating_v=circuit.fuse_voltage_v,
        interrupting_a=circuit.fuse_interrupting_a,
        distance_to_source_m=circuit.fuse_distance_m,
        is_sheathed=circuit.is_sheathed,
        at_both_ends=circuit.at_both_ends,
    )


def _plugs(design: Design, controllers: Iterable[DesignController]) -> tuple[sizing.PlugInput, ...]:
    if not design.has_branch_plugs:
        return ()
    return tuple(
        sizing.PlugInput(controller_id=controller.label, rating_a=design.branch_plug_rating_a)
        for controller in controllers
    )


def _roof(
    design: Design, survey: Survey, vehicle: Vehicle, panels: list[DesignPanel]
) -> sizing.RoofInput | None:
    if survey.roof_length_m is None or survey.roof_width_m is None:
        return None
    is_bonded_only = bool(panels) and all(panel.feet == 0 for panel in panels)
    specs = [panel_spec(panel.part) for panel in panels]
    return sizing.RoofInput(
        length_m=survey.roof_length_m,
        width_m=survey.roof_width_m,
        material=survey.material,
        deck_thickness_m=_metres(survey.deck_thickness_mm),
        rafter_spacing_m=_metres(survey.rafter_spacing_mm),
        rafter_kind=survey.rafter_kind,
        feet_on_rafter=design.feet_on_rafter,
        gland_screws=survey.gland_screws,
        cable_holes=survey.cable_holes,
        overall_height_m=vehicle.overall_height_m,
        skin_height_m=_skin_height_m(survey, vehicle),
        height_limit_m=vehicle.height_limit_m,
        is_bonded_only=is_bonded_only,
        fastener_tested_n=design.fastener_tested_n,
        array_top_m=max(
            (panel.height_above_roof_m + spec.thickness_m for panel, spec in zip(panels, specs, strict=True)),
            default=0.0,
        ),
        bond_area_m2=sum(spec.length_m * spec.width_m for spec in specs) if is_bonded_only else None,
    )


def _skin_height_m(survey: Survey, vehicle: Vehicle) -> float | None:
    """Return the roof skin over ground [m]: the highest point less the tallest thing measured up there.

    A guessed height does not count, so that the skin is never put too low by one.
    """
    heights = [thing.height_m for thing in survey.obstacles.all() if not thing.is_guess]
    if "obstacle" in survey.absent_kinds:
        heights.append(0.0)
    if vehicle.overall_height_m is None or not heights:
        return None
    return vehicle.overall_height_m - max(heights)


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres / 1000


def _weight(design: Design, survey: Survey, vehicle: Vehicle) -> sizing.WeightInput:
    water_l = survey.fresh_water_carried_l
    if water_l is None:
        water_l = vehicle.fresh_water_l or 0.0
    return sizing.WeightInput(
        label_kg=vehicle.cargo_label_kg,
        label_type=vehicle.cargo_label_type,
        fresh_water_kg=water_l,
        people_kg=people_kg(survey, vehicle),
        customer_cargo_kg=survey.customer_cargo_kg or 0.0,
        added=(("wire, mounts and gear", design.gear_mass_kg),) if design.gear_mass_kg else (),
        removed=tuple(_removed(survey)),
    )


def people_kg(survey: Survey, vehicle: Vehicle) -> float:
    """Return the mass of the people who ride in this vehicle [kg]; none where it is towed or carried."""
    if survey.people_on_board_kg is not None:
        return survey.people_on_board_kg
    if vehicle.is_towed or vehicle.kind == Vehicle.Kind.TRUCK_CAMPER:
        return 0.0
    return survey.people_count * PERSON_KG


def _removed(survey: Survey) -> Iterable[tuple[str, float]]:
    for item in survey.existing_items.all():
        if item.fate in {ExistingItem.Fate.REMOVE, ExistingItem.Fate.REPLACE} and item.mass_kg:
            yield str(item), item.mass_kg
