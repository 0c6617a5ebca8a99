"""Turns records into a question to the sizing face, and its answer into JSON and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import sizing
from jobs.engine.as_built import Built, fitted_sizes
from jobs.engine.weight import people_kg as people_kg
from jobs.engine.weight import weight_input
from jobs.models import (
    ConfidenceChoice,
    Design,
    DesignCircuit,
    DesignInverter,
    LoadItem,
    Shop,
    SizingRun,
    Survey,
    TravelStop,
    Vehicle,
)
from jobs.parts.charge_links import charge_sources
from jobs.parts.power_inputs import (
    DesignIncomplete,
    bank_input,
    controller_input,
    inverter_input,
    only_of,
    panel_spec,
)
from jobs.roof.state import RoofPanel, RoofState, SurveyedRoof

#: The first engine that lengthens a guessed path itself; questions put to older ones hold it lengthened.
LENGTHENS_ITSELF: Final = 4
#: Share of days on which somebody climbs up and tilts, where nobody said; shop default. [-]
TILT_UPTAKE: Final = 0.6
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

    Survey, vehicle and catalog may have been edited since: they are not read again. The cables the
    accepted answer proposed count as fitted.
    """
    built = Built(as_built, fitted_sizes(result_from_json(accepted.result)))
    return built.applied_to(question_of(accepted))


def question_of(run: SizingRun) -> sizing.SystemInput:
    """Return the question that was stored, its guessed paths as long as they were given."""
    return input_from_json(question_json(run))


def question_json(run: SizingRun) -> dict[str, Any]:
    """Return the stored question as plain data, in the words of the engine of today."""
    stored: dict[str, Any] = run.inputs
    if not run.engine_version.isdigit() or int(run.engine_version) >= LENGTHENS_ITSELF:
        return stored
    return stored | {"circuits": [_as_given(one) for one in stored.get("circuits", ())]}


def _as_given(circuit: Mapping[str, Any]) -> dict[str, Any]:
    """Return a stored circuit with the path somebody gave: it was stored a quarter longer."""
    length_m = circuit.get("run_len_m")
    if length_m is None or circuit.get("confidence") != ConfidenceChoice.GUESS:
        return dict(circuit)
    return {**circuit, "run_len_m": length_m / sizing.GUESS_LENGTH}


@dataclass(frozen=True, slots=True)
class Circuit:
    """A row of the circuit schedule; ``asked`` is its question but for length and what it serves."""

    kind: str
    serves: str  # as written down, be it in the design or not
    run_len_m: float | None
    confidence: str
    asked: sizing.CircuitInput

    @property
    def label(self) -> str:
        """Return what prints on the cable."""
        return self.asked.id


@dataclass(frozen=True, slots=True)
class SystemBasis:
    """What the sizing face is told of a design beside its roof, read once.

    ``rest`` lacks panels, strings, circuits and what follows from them; it is None where a record lacks
    something, and ``problem`` says what.
    """

    rest: sizing.SystemInput | None
    problem: str
    circuits: tuple[Circuit, ...]
    source_ids: tuple[int, ...]
    plugs_rating_a: float | None  # of the branch plugs; None where the strings meet in a combiner
    string_fuse_v: float | None = None  # printed on the string fuses


def system_basis(design: Design) -> SystemBasis:
    """Return what the sizing face is told of a design beside its roof, survey and catalog as they are."""
    circuits = sorted(design.circuits.all(), key=lambda one: (len(one.kind), one.kind, one.label))
    rest, problem = None, ""
    try:
        rest = _rest(design)
    except DesignIncomplete as found:
        problem = str(found)
    return SystemBasis(
        rest=rest,
        problem=problem,
        circuits=tuple(_circuit(one) for one in circuits),
        source_ids=tuple(one.pk for one in design.sources.all()),
        plugs_rating_a=design.branch_plug_rating_a if design.has_branch_plugs else None,
        string_fuse_v=design.string_fuse_voltage_v,
    )


def _rest(design: Design) -> sizing.SystemInput:
    survey, vehicle = design.job.survey, design.job.vehicle
    bank, inverter = only_of(design, "bank"), only_of(design, "inverter")
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
        controllers=tuple(controller_input(controller) for controller in design.controllers.all()),
        bank=bank_input(bank, survey) if bank else None,
        inverter=inverter_input(inverter) if inverter else None,
        sources=charge_sources(design),
        roof=_bare_roof(design, survey, vehicle),
        weight=weight_input(design, survey, vehicle),
        glued_panels=design.is_glued,
        design_speed_mps=design.job.shop.design_speed_mps,
        alternator_idle_fraction=design.job.shop.alternator_idle_fraction,
        policy=_policy(design.job.shop),
        guesses=guesses_of(survey),
    )


def _policy(shop: Shop) -> sizing.PolicyInput:
    """Return what the shop holds itself to where no standard sets a limit."""
    return sizing.PolicyInput(
        lithium_main_interrupt_a=shop.lithium_main_interrupt_a,
        cold_volts_fraction=shop.cold_volts_fraction,
        foot_use_fraction=shop.foot_use_fraction,
        cargo_left_fraction=shop.cargo_left_fraction,
    )


def system_input(roof: RoofState, basis: SystemBasis) -> sizing.SystemInput:
    """Return the question for a design as planned; raise DesignIncomplete where a record lacks something."""
    panels = tuple(_panel(panel) for panel in roof.panels)
    if basis.rest is None:
        raise DesignIncomplete(basis.problem)
    subjects = served_subjects(roof, basis.source_ids)
    rating_a = basis.plugs_rating_a
    return replace(
        basis.rest,
        panels=panels,
        strings=_strings(roof, basis.string_fuse_v),
        circuits=tuple(_asked(circuit, subjects) for circuit in basis.circuits),
        plugs=()
        if rating_a is None
        else tuple(sizing.PlugInput(one.label, rating_a) for one in roof.controllers),
        roof=_roof(basis.rest.roof, roof.surveyed, roof.panels, panels),
        guesses=basis.rest.guesses | _guessed_lengths(basis.circuits),
    )


def energy_of(loads: Iterable[LoadItem], inverter: DesignInverter | None = None) -> sizing.EnergyResult:
    """Return a day's use of these loads, for the live total of the survey; they need not be stored."""
    return sizing.daily_energy(
        tuple(_load(row) for row in loads), inverter_input(inverter) if inverter is not None else None
    )


def guesses_of(survey: Survey) -> frozenset[str]:
    """Return the guessed facts in the words of the sizing face, but for the lengths of circuits."""
    named = {GUESS_NAMES.get(name, name) for name in survey.guessed_fields if not name.startswith("circuit:")}
    if survey.battery_tmin_c is None:
        named.add("bank.tmin")
    if survey.customer_cargo_kg is None:  # counted as nothing, which nobody believes
        named.add("weight")
    return frozenset(named)


def _guessed_lengths(circuits: Iterable[Circuit]) -> frozenset[str]:
    guess = ConfidenceChoice.GUESS
    return frozenset(f"circuit:{one.label}.run_len" for one in circuits if one.confidence == guess)


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
        altitude_m=stop.altitude_m,
        tilt_deg=stop.tilt_deg or 0.0,
        tilt_uptake_fraction=TILT_UPTAKE if stop.tilt_uptake_fraction is None else stop.tilt_uptake_fraction,
    )


def _panel(panel: RoofPanel) -> sizing.PlacedPanel:
    return sizing.PlacedPanel(
        id=str(panel.number),
        panel=panel_spec(panel.model),
        x_m=panel.x_m,
        y_m=panel.y_m,
        turned=panel.is_turned,
        feet=panel.feet,
        fasteners_per_foot=panel.fasteners_per_foot,
        gap_m=panel.height_above_roof_m,
        string_id=None if panel.string is None else str(panel.string),
        is_used=panel.used is not None,
        age_years=panel.used.age_years if panel.used else None,
        measured_isc_a=panel.used.measured_isc_a if panel.used else None,
        measured_at_w_m2=panel.used.measured_at_w_m2 if panel.used else None,
    )


def _strings(roof: RoofState, fuse_v: float | None) -> tuple[sizing.StringInput, ...]:
    return tuple(
        sizing.StringInput(
            id=str(string.number),
            controller_id=string.controller,
            panel_ids=tuple(str(panel.number) for panel in roof.panels_of(string.number)),
            fuse_a=string.fuse_a,
            fuse_voltage_rating_v=fuse_v,
        )
        for string in roof.strings
    )


def served_subjects(roof: RoofState, source_ids: Iterable[int]) -> frozenset[str]:
    """Return everything a circuit of this design can belong to."""
    return frozenset(
        {"", "bank", "inverter", "load"}
        | {f"controller:{one.label}" for one in roof.controllers}
        | {f"string:{one.number}" for one in roof.strings}
        | {f"source:{one}" for one in source_ids}
    )


def _circuit(circuit: DesignCircuit) -> Circuit:
    asked = sizing.CircuitInput(
        id=circuit.label,
        kind=sizing.CircuitKind(circuit.kind),
        run_len_m=None,
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
        insulation_c=circuit.insulation_c,
        terminal_c=circuit.terminal_c,
        in_raceway=circuit.in_raceway,
        roof_clearance_m=circuit.roof_clearance_m,
        conductor_temp_c=circuit.conductor_temp_c,
        parallel_conductors=circuit.parallel_conductors,
    )
    return Circuit(circuit.kind, circuit.serves, circuit.run_len_m, circuit.confidence, asked)


def _asked(circuit: Circuit, subjects: frozenset[str]) -> sizing.CircuitInput:
    return replace(
        circuit.asked,
        run_len_m=circuit.run_len_m,
        serves=circuit.serves if circuit.serves in subjects else "",
        confidence=sizing.Confidence(circuit.confidence),
    )


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


def _bare_roof(design: Design, survey: Survey, vehicle: Vehicle) -> sizing.RoofInput | None:
    """Return the roof but for what follows from its panels and from the things on it."""
    if survey.roof_length_m is None or survey.roof_width_m is None:
        return None
    return sizing.RoofInput(
        length_m=survey.roof_length_m,
        width_m=survey.roof_width_m,
        material=survey.material,
        deck_thickness_m=_metres(survey.deck_thickness_mm),
        rafter_spacing_m=_metres(survey.rafter_spacing_mm),
        rafter_kind=survey.rafter_kind,
        feet_on_rafter=design.feet_on_rafter,
        screw=survey.foot_screw,
        screws_per_rafter_foot=survey.screws_per_rafter_foot,
        is_front_open=survey.is_front_open,
        gland_screws=survey.gland_screws,
        cable_holes=survey.cable_holes,
        overall_height_m=vehicle.overall_height_m,
        height_limit_m=vehicle.height_limit_m,
        fastener_tested_n=design.fastener_tested_n,
    )


def _roof(
    bare: sizing.RoofInput | None,
    surveyed: SurveyedRoof,
    panels: Iterable[RoofPanel],
    placed: Iterable[sizing.PlacedPanel],
) -> sizing.RoofInput | None:
    if bare is None:
        return None
    sized = [(panel, one.panel) for panel, one in zip(panels, placed, strict=True)]
    is_bonded_only = bool(sized) and all(panel.feet == 0 for panel, _spec in sized)
    return replace(
        bare,
        skin_height_m=_skin_height_m(surveyed, bare.overall_height_m),
        is_bonded_only=is_bonded_only,
        array_top_m=max((panel.height_above_roof_m + spec.thickness_m for panel, spec in sized), default=0.0),
        bond_area_m2=sum(spec.length_m * spec.width_m for panel, spec in sized if panel.feet == 0) or None,
    )


def _skin_height_m(surveyed: SurveyedRoof, overall_height_m: float | None) -> float | None:
    """Return the roof skin over ground [m]: the highest point less the tallest thing measured up there.

    A guessed height does not count, so that the skin is never put too low by one.
    """
    heights = [obstacle.height_m for obstacle in surveyed.obstacles if not obstacle.is_guess]
    if surveyed.is_known_bare:
        heights.append(0.0)
    if overall_height_m is None or not heights:
        return None
    return overall_height_m - max(heights)


def _metres(millimetres: float | None) -> float | None:
    return None if millimetres is None else millimetres / 1000
