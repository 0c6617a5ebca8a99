"""Whether a charge controller can take what its strings give, in the cold, in the heat, in amps."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sizing.array.diode import DIODE_SOURCE
from sizing.array.module_voltage import BY_COEFFICIENT, BY_DIODE, BY_TABLE, COEFFICIENT_SOURCE, TABLE_SOURCE
from sizing.array.pwm import pwm_checks
from sizing.array.string_checks import mismatch_checks, string_fuse_check
from sizing.array.strings import (
    CONTINUOUS,
    FIELD_POWER,
    WiredString,
    absorb_v,
    coldest_c,
    hot_cell_c,
    wired_strings,
)
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import ControllerInput, ControllerKind, SystemInput
from sizing.core.judge import limit_check, missing_check, show, show_percent
from sizing.core.results import CircuitRow, ControllerResult

TOUCH_V: Final = 60.0  # above it: shock labels and covered plugs; UN R100 and SELV, both quoted [V]
ARC_FAULT_V: Final = 80.0  # NFPA 70 (2017), 690.11 [V]
RUN_DROP_FRACTION: Final = 0.03  # home-run drop assumed while no run is drawn: its limit [-]
COLD_SITES: Final = ("site.tmin_travel", "site.tmin_storage", "panels", "strings", "controllers")
HOT_SITES: Final = ("panels", "strings", "controllers", "bank")
METHOD_SOURCES: Final = {BY_COEFFICIENT: COEFFICIENT_SOURCE, BY_TABLE: TABLE_SOURCE, BY_DIODE: DIODE_SOURCE}
CONTROLLER_SOURCE: Final = "Controller manual: highest PV voltage"


def controller_checks(
    system: SystemInput,
    controller: ControllerInput,
    result: ControllerResult,
    rows: tuple[CircuitRow, ...],
) -> tuple[Check, ...]:
    """Return every judgment on one controller; without strings there is nothing to judge."""
    strings = wired_strings(system, controller)
    if not strings:
        return ()
    found = [
        cold_voltage_check(system, controller, result, strings),
        *_methods_check(system, controller, result),
        *_touch_checks(system, controller, result),
        *mismatch_checks(controller, strings),
        pv_current_check(system, controller, result),
        *(string_fuse_check(system, result, wired) for wired in strings),
    ]
    if controller.kind is ControllerKind.MPPT:
        found += [
            hot_start_check(system, controller, result),
            hot_run_check(system, controller, result, rows),
            clip_check(system, controller, result),
            *_array_limit_checks(controller, result),
        ]
    else:
        found += pwm_checks(system, controller, result, strings, rows)
    return tuple(found)


def cold_voltage_check(
    system: SystemInput,
    controller: ControllerInput,
    result: ControllerResult,
    strings: tuple[WiredString, ...],
) -> Check:
    """Return the judgment of the coldest open-circuit voltage (F9): within 97 %, to the limit, beyond it."""
    key, title = f"controller:{controller.id}/cold_voc", "Cold open-circuit voltage"
    tmin_c = coldest_c(system)
    if tmin_c is None:
        return missing_check(
            rule="F9",
            key=key,
            subject=f"controller:{controller.id}",
            title=title,
            missing="the lowest temperature of route and storage",
            unit="V",
        )
    limit_v = system.policy.cold_volts_fraction * controller.pv_voltage_limit_v
    by_table = any(panel.beta_voc_fraction_per_c is None for wired in strings for panel in wired.panels)
    worst = max(strings, key=lambda wired: wired.voc_v)
    check = limit_check(
        rule="F9",
        key=key,
        subject=f"controller:{controller.id}",
        title=title + (" (table method)" if by_table else ""),
        value=result.voc_cold_v,
        limit=limit_v,
        block_beyond=controller.pv_voltage_limit_v,
        at_limit=Verdict.PASS,  # the reserve of 3 % is room; the maker's own limit comes after it
        unit="V",
        sentence=_cold_sentence(system, controller, result, worst, tmin_c),
        source=f"{TABLE_SOURCE if by_table else COEFFICIENT_SOURCE}; {CONTROLLER_SOURCE}; "
        f"using {show(100 * system.policy.cold_volts_fraction, '%')} of it at most is shop policy",
        provenance=Provenance.PRINTED if by_table else Provenance.MAKER,
        formula="Voc_cold = N_s·Voc·factor(Tmin)" if by_table else "Voc_cold = N_s·Voc·(1 + |β|·(25 - Tmin))",
        substituted=_cold_substituted(worst, tmin_c, result.voc_cold_v),
        terms=(
            Term("N_s", "panels in series", worst.ns),
            Term(
                "Voc", "open-circuit voltage at 25 °C", worst.panels[0].voc_v, "V", "panels" in system.guesses
            ),
            Term("β", "voltage coefficient", worst.panels[0].beta_voc_fraction_per_c, "1/°C"),
            Term("Tmin", "lowest of route and storage", tmin_c, "°C", _is_cold_guessed(system)),
            Term("V_limit", "controller's highest PV voltage", controller.pv_voltage_limit_v, "V"),
        ),
        guesses=resting_on(system, COLD_SITES),
    )
    return _until_both_known(system, check)


def hot_start_check(system: SystemInput, controller: ControllerInput, result: ControllerResult) -> Check:
    """Return whether the hottest string still has the open-circuit volts to start (F10)."""
    volts = absorb_v(system, controller)
    need_v = None if volts is None else volts + controller.start_margin_v
    cell_c = hot_cell_c(system)
    cells = show_both(cell_c, "°C")
    return limit_check(
        rule="F10",
        key=f"controller:{controller.id}/hot_start",
        subject=f"controller:{controller.id}",
        title="Hot open-circuit voltage to start",
        value=result.voc_hot_v,
        limit=need_v,
        at_least=True,
        unit="V",
        sentences={
            Verdict.PASS: f"With cells at {cells} the strings have the volts to start charging.",
            Verdict.BLOCK: f"With cells at {cells} the strings are too low to start charging at noon.",
        },
        source="Absorption voltage + start margin of the controller (5 V unless its manual says otherwise)",
        provenance=Provenance.COMMON_PRACTICE,
        formula="Voc_hot = N_s·Voc·(1 - |β|·(Tc - 25)) ≥ V_abs + start margin",
        substituted=(
            f"{show(result.voc_hot_v, 'V')} against {show(volts)} + {show(controller.start_margin_v)}"
            f" = {show(need_v, 'V')}"
        ),
        terms=_hot_terms(system, controller, volts, cell_c),
        guesses=resting_on(system, HOT_SITES),
    )


def hot_run_check(
    system: SystemInput, controller: ControllerInput, result: ControllerResult, rows: tuple[CircuitRow, ...]
) -> Check:
    """Return whether the hottest string keeps its working volts above the battery after the wire (F10)."""
    volts = absorb_v(system, controller)
    need_v = None if volts is None else volts + controller.run_margin_v
    drop_v, drop_words = run_drop_v(controller, result, rows)
    arriving_v = None if result.vmp_hot_v is None else result.vmp_hot_v - drop_v
    cell_c = hot_cell_c(system)
    cells = show_both(cell_c, "°C")
    return limit_check(
        rule="F10",
        key=f"controller:{controller.id}/hot_run",
        subject=f"controller:{controller.id}",
        title="Hot working voltage to keep running",
        value=arriving_v,
        limit=need_v,
        at_least=True,
        unit="V",
        sentences={
            Verdict.PASS: f"With cells at {cells} the strings stay above the battery after {drop_words}.",
            Verdict.BLOCK: (
                f"Will stall in summer: with cells at {cells} too few volts are left after {drop_words}."
            ),
        },
        source="Absorption voltage + run margin of the controller; power coefficient stands in for volts",
        provenance=Provenance.COMMON_PRACTICE,
        formula="Vmp_hot - drop = N_s·Vmp·(1 - |γ|·(Tc - 25)) - drop ≥ V_abs + run margin",
        substituted=(
            f"{show(result.vmp_hot_v)} - {show(drop_v)} = {show(arriving_v, 'V')} against {show(volts)} +"
            f" {show(controller.run_margin_v)} = {show(need_v, 'V')}"
        ),
        terms=(
            *_hot_terms(system, controller, volts, cell_c),
            Term("Vmp_hot", "hot working voltage", result.vmp_hot_v, "V"),
            Term("drop", drop_words, drop_v, "V"),
        ),
        guesses=resting_on(system, (*HOT_SITES, *(f"circuit:{row.id}.run_len" for row in rows))),
    )


def run_drop_v(
    controller: ControllerInput, result: ControllerResult, rows: tuple[CircuitRow, ...]
) -> tuple[float, str]:
    """Return the drop between panels and controller [V], its worst leg of each kind, and what it rests on."""
    legs: dict[str, float] = {}
    for row in rows:
        if row.drop_v is not None:
            legs[row.from_to] = max(row.drop_v, legs.get(row.from_to, 0.0))
    if legs:
        return sum(legs.values()), "the wire's drop"
    assumed_v = (result.vmp_hot_v or 0.0) * RUN_DROP_FRACTION
    return assumed_v, "an assumed 3% drop (no home run drawn)"


def clip_check(system: SystemInput, controller: ControllerInput, result: ControllerResult) -> Check:
    """Return what the controller's rating cuts off the array's peak (F12): energy, not danger."""
    volts = absorb_v(system, controller)
    percent = show_percent(result.clip_fraction)
    return limit_check(
        rule="F12",
        key=f"controller:{controller.id}/clip",
        subject=f"controller:{controller.id}",
        title="Array power cut off by the controller",
        value=result.clip_fraction,
        limit=0.0,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # nothing cut off is no cut at all
        unit="fraction",
        sentences={
            Verdict.PASS: "The controller passes all the array gives.",
            Verdict.CAUTION: (
                f"At its best {percent} of the array's power is cut off; the harvest counts what that"
                " costs. Say so in the quote."
            ),
        },
        source="Power balance at 85% of rated array power: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="clip = max(0, 1 - I_out·V_abs/(0.85·P_stc))",
        substituted=(
            f"1 - {show(controller.rated_output_a)} × {show(volts)}/({FIELD_POWER} × {show(result.pmp_w)})"
            f" → {percent}"
        ),
        terms=(
            Term("I_out", "rated output", controller.rated_output_a, "A"),
            Term("V_abs", "absorption voltage", volts, "V"),
            Term("P_stc", "array power", result.pmp_w, "W"),
        ),
        guesses=resting_on(system, HOT_SITES),
    )


def pv_current_check(system: SystemInput, controller: ControllerInput, result: ControllerResult) -> Check:
    """Return whether the joined short-circuit current stays within the controller's PV input (F12)."""
    key, title = f"controller:{controller.id}/pv_isc", "Short-circuit current at the controller"
    limit_a, limit_source = controller.pv_isc_limit_a, "controller manual: PV input current"
    if limit_a is None and controller.kind is ControllerKind.PWM:
        limit_a = controller.rated_output_a
        limit_source = "controller rating: a PWM unit passes the panels' own current"
    if limit_a is None:
        return missing_check(
            rule="F12",
            key=key,
            subject=f"controller:{controller.id}",
            title=title,
            missing="the controller's highest PV short-circuit current",
            unit="A",
        )
    return limit_check(
        rule="F12",
        key=key,
        subject=f"controller:{controller.id}",
        title=title,
        value=CONTINUOUS * result.isc_a,
        limit=limit_a,
        unit="A",
        source=f"NFPA 70 (2017), 690.8(A)(1): 1.25 × Isc; {limit_source}",
        provenance=Provenance.MAKER,
        formula="1.25·ΣIsc ≤ I_pv,max",
        substituted=f"1.25 × {show(result.isc_a)} = {show(CONTINUOUS * result.isc_a, 'A')}",
        terms=(
            Term("ΣIsc", "joined short-circuit current", result.isc_a, "A"),
            Term("I_pv,max", "controller's PV input", limit_a, "A"),
        ),
        guesses=resting_on(system, HOT_SITES),
    )


def _array_limit_checks(controller: ControllerInput, result: ControllerResult) -> list[Check]:
    """Return the judgment of the maker's own limit on array power, where there is one."""
    if controller.pv_power_limit_w is None:
        return []
    return [
        limit_check(
            rule="F12",
            key=f"controller:{controller.id}/array_power",
            subject=f"controller:{controller.id}",
            title="Array power against the maker's limit",
            value=result.pmp_w,
            limit=controller.pv_power_limit_w,
            unit="W",
            source="Controller manual: largest array",
            provenance=Provenance.MAKER,
        )
    ]


def _cold_sentence(
    system: SystemInput,
    controller: ControllerInput,
    result: ControllerResult,
    worst: WiredString,
    tmin_c: float,
) -> str:
    where = "storage" if system.tmin_storage_c == tmin_c else "the route"
    reached = (
        f"At {show_both(tmin_c, '°C', 2)} ({where}) the string reaches {show(result.voc_cold_v, 'V', 1)}"
    )
    limit_v = controller.pv_voltage_limit_v
    use = system.policy.cold_volts_fraction
    if result.voc_cold_v is None or result.voc_cold_v <= use * limit_v:
        allowed = f"({show(100 * use, '%')} of {show(limit_v, 'V')})"
        return f"{reached}; {show(use * limit_v, 'V', 1)} is allowed {allowed}."
    proposal = f" At most {result.ns_max} in series." if result.ns_max is not None else ""
    if result.voc_cold_v <= limit_v:
        last = show(100 - 100 * use, "%")
        return f"{reached}, inside the last {last} below the controller's {show(limit_v, 'V')}.{proposal}"
    return (
        f"{reached}, above the controller's {show(limit_v, 'V')}{_already_at_zero(worst, limit_v)}.{proposal}"
    )


def _already_at_zero(worst: WiredString, limit_v: float) -> str:
    """Return a clause when an ordinary frost is already too cold."""
    betas = [panel.beta_voc_fraction_per_c for panel in worst.panels]
    if None in betas:
        return ""
    at_zero_v = sum(p.voc_v * (1 + abs(p.beta_voc_fraction_per_c or 0.0) * 25.0) for p in worst.panels)
    return (
        f"; it would already be {show(at_zero_v, 'V', 1)} at {show_both(0.0, '°C')}"
        if at_zero_v > limit_v
        else ""
    )


def _cold_substituted(worst: WiredString, tmin_c: float, voc_cold_v: float | None) -> str:
    panel = worst.panels[0]
    if len(set(worst.panels)) > 1:
        return f"sum over the {worst.ns} panels of the string = {show(voc_cold_v, 'V')}"
    if panel.beta_voc_fraction_per_c is None:
        factor = f"factor({show_both(tmin_c, '°C', 2)})"
        return f"{worst.ns} × {show(panel.voc_v)} × {factor} = {show(voc_cold_v, 'V')}"
    beta = show(abs(panel.beta_voc_fraction_per_c), "", 5)
    return (
        f"{worst.ns} × {show(panel.voc_v)} × (1 + {beta} × (25 °C - {show(tmin_c, '°C')}))"
        f" = {show(voc_cold_v, 'V')} at {show_both(tmin_c, '°C', 2)}"
    )


def _until_both_known(system: SystemInput, check: Check) -> Check:
    """Return the check as not enough data when route or storage is unknown and the rest would allow it."""
    unknown = [
        name
        for name, value in (("route", system.tmin_travel_c), ("storage", system.tmin_storage_c))
        if value is None
    ]
    if not unknown or check.verdict is Verdict.BLOCK:
        return check
    return replace(
        check,
        verdict=Verdict.NOT_ENOUGH_DATA,
        sentence=f"{check.sentence} The lowest temperature of {unknown[0]} is not known and may be lower.",
    )


def _methods_check(
    system: SystemInput, controller: ControllerInput, result: ControllerResult
) -> tuple[Check, ...]:
    """Return a caution when a more cautious method of the cold voltage passes the controller's limit."""
    methods = dict(result.voc_cold_by_method)
    if BY_COEFFICIENT not in methods or len(methods) < 2:
        return ()
    name, volts = max(methods.items(), key=lambda item: item[1])
    listed = ", ".join(f"{method} {show(value, 'V', 1)}" for method, value in methods.items())
    return (
        limit_check(
            rule="F9",
            key=f"controller:{controller.id}/cold_voc_methods",
            subject=f"controller:{controller.id}",
            title="Cold voltage by the most cautious method",
            value=volts,
            limit=controller.pv_voltage_limit_v,
            beyond=Verdict.CAUTION,
            unit="V",
            sentences={
                Verdict.PASS: f"All methods stay below the controller's limit: {listed}.",
                Verdict.CAUTION: f"The methods disagree: {listed}; by the {name} it is above the limit.",
            },
            source=METHOD_SOURCES[name],
            provenance=Provenance.PRINTED if name == BY_TABLE else Provenance.COMPUTED,
            formula="max over methods of Voc_cold",
            substituted=listed,
            guesses=resting_on(system, COLD_SITES),
        ),
    )


def _touch_checks(
    system: SystemInput, controller: ControllerInput, result: ControllerResult
) -> tuple[Check, ...]:
    """Return the extra care a string above 60 V asks for; below it there is nothing to say."""
    if result.voc_cold_v is None or result.voc_cold_v <= TOUCH_V:
        return ()
    arc = (
        " From 80 V the NEC asks for arc-fault protection, which can reach an RV where the NEC holds."
        if result.voc_cold_v >= ARC_FAULT_V
        else ""
    )
    return (
        limit_check(
            rule="touch",
            key=f"controller:{controller.id}/touch_voltage",
            subject=f"controller:{controller.id}",
            title="Touch voltage of the string",
            value=result.voc_cold_v,
            limit=TOUCH_V,
            beyond=Verdict.CAUTION,
            unit="V",
            sentence=f"Over 60 V: extra care, shock labels and covered connectors.{arc}",
            source="60 V DC touch limit (UN R100, SELV), quoted; NFPA 70 (2017), 690.11 for 80 V",
            provenance=Provenance.QUOTED,
            guesses=resting_on(system, COLD_SITES),
        ),
    )


def _is_cold_guessed(system: SystemInput) -> bool:
    return bool(resting_on(system, ("site.tmin_travel", "site.tmin_storage")))


def _hot_terms(
    system: SystemInput, controller: ControllerInput, volts: float | None, cell_c: float
) -> tuple[Term, ...]:
    return (
        Term("Tc", "cell temperature of a hot noon", cell_c, "°C"),
        Term("V_abs", "absorption voltage", volts, "V", controller.absorb_v is None),
        Term("start", "start margin", controller.start_margin_v, "V"),
        Term("run", "run margin", controller.run_margin_v, "V"),
    )
