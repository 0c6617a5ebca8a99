"""Knows how records become a question to the sizing face, and how the answer is stored and read back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import sizing
from jobs.as_built import Built
from jobs.models import (
    ConfidenceChoice,
    Design,
    DesignBank,
    DesignCircuit,
    DesignController,
    DesignInverter,
    DesignPanel,
    DesignSource,
    DesignString,
    ExistingItem,
    LoadItem,
    Part,
    Survey,
    TravelStop,
    Vehicle,
)
from jobs.services.refusals import Refusal

#: A person as seat and label rules count one (150 lb, FMVSS 110 S4.3.2 label figure). [kg]
PERSON_KG: Final = 68.0
#: What a controller or charger with a low-temperature stop is planned to be set to; shop default. [°C]
LOW_T_STOP_C: Final = 5.0
#: A bank inside the living space is taken as no colder than this when nobody has measured it. [°C]
INSIDE_TMIN_C: Final = 5.0
#: What a charger is planned to be set to where nobody says otherwise, per 12 V; shop defaults. [V]
PLANNED_ABSORB_V: Final[Mapping[str, float]] = {"lfp": 14.2, "agm": 14.4, "gel": 14.1, "flooded": 14.4}
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
_SOURCE_KINDS: Final[Mapping[str, sizing.SourceKind]] = {
    ExistingItem.Kind.CONVERTER: sizing.SourceKind.CONVERTER,
    ExistingItem.Kind.INVERTER_CHARGER: sizing.SourceKind.INVERTER_CHARGER,
    ExistingItem.Kind.GENERATOR: sizing.SourceKind.GENERATOR,
    ExistingItem.Kind.DC_DC: sizing.SourceKind.DC_DC,
    ExistingItem.Kind.TOW_WIRE: sizing.SourceKind.TOW_CHARGE_WIRE,
    ExistingItem.Kind.ISOLATOR: sizing.SourceKind.TOW_CHARGE_WIRE,
}
#: Kinds of existing equipment that charge the house bank when kept.
CHARGING_KINDS: Final = tuple(_SOURCE_KINDS)


class DesignIncomplete(Refusal):
    """A record cannot be put to the sizing face; says which one and what it lacks."""


def system_input(design: Design, as_built: Mapping[str, Any] | None = None) -> sizing.SystemInput:
    """Return the question for a design as planned, or as built where ``as_built`` overrides it."""
    survey, vehicle, built = design.job.survey, design.job.vehicle, Built(as_built or {})
    controllers = list(design.controllers.all())
    panels = list(design.panels.all())
    strings = _strings(design.strings.all(), panels)
    bank = _one(design, "bank")
    inverter = _one(design, "inverter")
    sources = list(design.sources.all())
    circuits = list(design.circuits.all())
    subjects = served_subjects(design)
    planned = sizing.SystemInput(
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
        controllers=tuple(_controller(controller) for controller in controllers),
        bank=_bank(bank, survey) if bank else None,
        inverter=_inverter(inverter) if inverter else None,
        sources=(*(_source(source) for source in sources), *_inverter_as_charger(design)),
        circuits=tuple(_circuit(circuit, subjects) for circuit in circuits),
        plugs=_plugs(design, controllers),
        roof=_roof(design, survey, vehicle, panels),
        weight=_weight(design, survey, vehicle),
        glued_panels=design.is_glued,
        guesses=guesses_of(survey, circuits),
    )
    return built.applied_to(planned)


def energy_of(loads: Iterable[LoadItem], inverter: DesignInverter | None = None) -> sizing.EnergyResult:
    """Return a day's use of these loads, for the live total of the survey; they need not be stored."""
    return sizing.daily_energy(
        tuple(_load(row) for row in loads), _inverter(inverter) if inverter is not None else None
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


def sheet_of(part: Part, name: str) -> Any:
    """Return a part's data sheet; raise DesignIncomplete when it has none."""
    sheet = getattr(part, name, None)
    if sheet is None:
        raise DesignIncomplete(f"“{part.name}” has no data sheet in the catalogue: fill it in first.")
    return sheet


def panel_spec(part: Part) -> sizing.PanelSpec:
    """Return a panel's data sheet for the sizing face; percent per °C becomes a fraction."""
    sheet = sheet_of(part, "panel_sheet")
    return sizing.PanelSpec(
        name=part.name,
        pmp_w=sheet.pmp_w,
        vmp_v=sheet.vmp_v,
        imp_a=sheet.imp_a,
        voc_v=sheet.voc_v,
        isc_a=sheet.isc_a,
        length_m=sheet.length_m,
        width_m=sheet.width_m,
        thickness_m=sheet.thickness_m,
        mass_kg=part.mass_kg,
        beta_voc_fraction_per_c=_fraction(sheet.beta_voc_percent_per_c),
        gamma_pmp_fraction_per_c=_fraction(sheet.gamma_pmp_percent_per_c),
        alpha_isc_fraction_per_c=sheet.alpha_isc_percent_per_c / 100,
        max_series_fuse_a=sheet.max_series_fuse_a,
        cells_in_series=sheet.cells_in_series,
        bypass_diodes=sheet.bypass_diodes,
        is_half_cut=sheet.is_half_cut,
        is_flexible=sheet.is_flexible,
        connector=sheet.connector,
    )


def _one(design: Design, name: str) -> Any:
    return getattr(design, name, None)


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent / 100


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


def _controller(controller: DesignController) -> sizing.ControllerInput:
    sheet = sheet_of(controller.part, "controller_sheet")
    return sizing.ControllerInput(
        id=controller.label,
        name=controller.part.name,
        kind=sizing.ControllerKind(sheet.principle),
        pv_voltage_limit_v=sheet.pv_voltage_limit_v,
        rated_output_a=sheet.rated_output_a,
        pv_isc_limit_a=sheet.pv_isc_limit_a,
        start_margin_v=sheet.start_margin_v,
        run_margin_v=sheet.run_margin_v,
        efficiency_fraction=sheet.efficiency_fraction,
        low_t_stop_c=LOW_T_STOP_C if sheet.has_low_t_stop else None,
        absorb_v=planned_absorb_v(controller.design, controller.absorb_v),
        mass_kg=controller.part.mass_kg,
    )


def planned_absorb_v(design: Design, set_v: float | None) -> float | None:
    """Return the absorption voltage to set [V]: as planned for the unit, else the shop's for the bank."""
    if set_v is not None:
        return set_v
    sheet = getattr(getattr(_one(design, "bank"), "part", None), "battery_sheet", None)
    if sheet is None:
        return None
    return PLANNED_ABSORB_V[sheet.chemistry] * design.job.survey.v_nominal_v / 12.0


def _bank(bank: DesignBank, survey: Survey) -> sizing.BankInput:
    sheet = sheet_of(bank.part, "battery_sheet")
    return sizing.BankInput(
        chemistry=sizing.Chemistry(sheet.chemistry),
        unit_nominal_v=sheet.nominal_v,
        unit_capacity_ah=sheet.capacity_ah,
        quantity=bank.quantity,
        in_series=bank.in_series,
        max_charge_a=sheet.max_charge_a,
        max_discharge_a=sheet.max_discharge_a,
        unit_mass_kg=bank.part.mass_kg if bank.is_new else 0.0,
        max_peak_discharge_a=sheet.max_peak_discharge_a,
        maker_absorb_low_v=sheet.absorb_low_v,
        maker_absorb_high_v=sheet.absorb_high_v,
        tmin_c=bank_tmin_c(survey),
        is_heated=sheet.is_heated,
        heater_w=sheet.heater_w,
        is_inside=survey.battery_is_inside,
        short_circuit_a=sheet.short_circuit_a,
    )


def bank_tmin_c(survey: Survey) -> float | None:
    """Return the coldest the cells get [°C]: as surveyed, else inside 5 °C, outside the air's own minimum."""
    if survey.battery_tmin_c is not None:
        return survey.battery_tmin_c
    if survey.battery_is_inside:
        return INSIDE_TMIN_C
    known = [value for value in (survey.tmin_travel_c, survey.tmin_storage_c) if value is not None]
    return min(known, default=None)


def _inverter(inverter: DesignInverter) -> sizing.InverterInput:
    sheet = sheet_of(inverter.part, "inverter_sheet")
    return sizing.InverterInput(
        name=inverter.part.name,
        power_w=sheet.power_w,
        idle_w=sheet.idle_w,
        hours_on_per_day=inverter.hours_on_per_day,
        efficiency_fraction=sheet.efficiency_fraction,
        surge_w=sheet.surge_w,
        max_fuse_a=sheet.max_fuse_a,
        mass_kg=inverter.part.mass_kg if inverter.is_new else 0.0,
    )


def _inverter_as_charger(design: Design) -> Iterable[sizing.ChargeSourceInput]:
    """Yield the charging half of an inverter-charger whose amps are known; it has no mass of its own."""
    inverter = _one(design, "inverter")
    sheet = getattr(getattr(inverter, "part", None), "inverter_sheet", None)
    if sheet is None or not sheet.is_charger or sheet.charge_a is None:
        return
    yield sizing.ChargeSourceInput(
        id="inverter",
        kind=sizing.SourceKind.INVERTER_CHARGER,
        name=f"{inverter.part.name} as charger",
        output_a=sheet.charge_a,
        absorb_v=planned_absorb_v(design, None),
        low_t_stop_c=LOW_T_STOP_C,
    )


def _source(source: DesignSource) -> sizing.ChargeSourceInput:
    facts = _part_facts(source) if source.part else _existing_facts(source)
    return sizing.ChargeSourceInput(
        id=str(source.pk),
        name=str(source),
        limited_to_a=source.limited_to_a,
        excluded_with=("solar",) if source.is_interlocked_with_solar else (),
        input_v=source.input_v,
        alternator_rating_a=source.alternator_rating_a,
        driving_hours_per_day=source.driving_hours_per_day,
        shore_hours_per_day=source.shore_hours_per_day,
        **facts,
    )


def source_kind(source: DesignSource) -> sizing.SourceKind:
    """Return what kind of charger a source is, be it a part or a thing found on the vehicle."""
    if source.part:
        return sizing.SourceKind(sheet_of(source.part, "charger_sheet").kind)
    assert source.existing is not None  # a database constraint: a source has a part or an existing item
    return _SOURCE_KINDS.get(source.existing.kind, sizing.SourceKind.CONVERTER)


def _part_facts(source: DesignSource) -> dict[str, Any]:
    part = source.part
    assert part is not None
    sheet = sheet_of(part, "charger_sheet")
    is_known = sheet.has_lithium_profile or source.absorb_v is not None
    return {
        "absorb_v": planned_absorb_v(source.design, source.absorb_v) if is_known else None,
        "kind": source_kind(source),
        "output_a": sheet.output_a,
        "lockout_v": sheet.lockout_v,
        "low_t_stop_c": LOW_T_STOP_C if sheet.has_low_t_stop else None,
        "mass_kg": part.mass_kg,
    }


def _existing_facts(source: DesignSource) -> dict[str, Any]:
    item = source.existing
    assert item is not None  # a database constraint: a source has a part or an existing item
    output_a = item.rating_a if item.rating_a is not None else source.limited_to_a
    if output_a is None:
        raise DesignIncomplete(
            f"“{item}” is kept as a charger but its rated amps are not known: enter them in the survey."
        )
    return {
        "kind": source_kind(source),
        "output_a": output_a,
        "absorb_v": source.absorb_v,
        "equalise_on": item.equalises,
        "low_t_stop_c": item.low_t_stop_c,
        "mass_kg": 0.0,
    }


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
        feet_on_rafter=design.feet_on_rafter,
        gland_screws=survey.gland_screws,
        cable_holes=survey.cable_holes,
        overall_height_m=vehicle.overall_height_m,
        height_limit_m=vehicle.height_limit_m,
        is_bonded_only=is_bonded_only,
        array_top_m=max(
            (panel.height_above_roof_m + spec.thickness_m for panel, spec in zip(panels, specs, strict=True)),
            default=0.0,
        ),
        bond_area_m2=sum(spec.length_m * spec.width_m for spec in specs) if is_bonded_only else None,
    )


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
