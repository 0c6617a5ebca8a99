"""Whether the chargers together, and each by itself, suit the bank: amps, profile, engine (F28)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from sizing.battery.bank import bank_ah, coldest_cell_c, in_parallel, unheated_cell_c
from sizing.battery.battery import Range, chemistry_data
from sizing.battery.chargers import Charger, chargers
from sizing.battery.cold import cold_check
from sizing.cable.currents import alternator_a
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    InputOutOfRange,
    SourceKind,
    SystemInput,
)
from sizing.core.judge import fact_check, limit_check, missing_check, show

COMPENSATED_FROM_C: Final = 25.0  # where makers print charging volts [°C]
MOST_SOURCES: Final = 20  # above it the interlocks are not searched and all count as running together


def simultaneous_charge_a(outputs_a: dict[str, float], excluded: frozenset[frozenset[str]]) -> float:
    """Return the largest current of sources that can run together.

    Parameters
    ----------
    outputs_a : dict
        Output by source id, 0 or more. [A]
    excluded : frozenset of pairs
        Pairs of ids that an interlock keeps from running together. [-]

    Returns
    -------
    float
        The worst allowed sum; with more than 20 sources interlocks are ignored, which is the safe side. [A]

    Raises
    ------
    InputOutOfRange
        If an output is negative.

    References
    ----------
    .. [1] Sum of currents; no source needed.
    """
    for name, output_a in outputs_a.items():
        if output_a < 0:
            raise InputOutOfRange(f"sources.{name}.output_a", f"must be 0 A or more, got {output_a}")
    names = sorted(outputs_a)
    if not excluded or len(names) > MOST_SOURCES:
        return sum(outputs_a.values())
    return _worst_sum(names, outputs_a, excluded)


def excluded_pairs(
    units: Sequence[Charger] | Sequence[ChargeSourceInput], names: frozenset[str]
) -> frozenset[frozenset[str]]:
    """Return the pairs that an interlock or a transfer switch keeps apart, either side naming the other."""
    return frozenset(
        frozenset((unit.id, other))
        for unit in units
        for other in unit.excluded_with
        if other in names and other != unit.id
    )


def charge_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return every judgment on charging: the sum, and per charger its profile and its cold rule."""
    bank = system.bank
    units = chargers(system)
    if bank is None or not units:
        return ()
    found: list[Check] = [_sum_check(system, bank, units)]
    for unit in units:
        found += [_profile_check(system, bank, unit), _equalise_check(system, bank, unit)]
        found += _float_checks(system, bank, unit)
        found += [cold_check(system, bank, unit), *compensation_checks(system, bank, unit)]
    return tuple(found)


def charge_limit_a(bank: BankInput) -> tuple[float, str, Provenance]:
    """Return the bank's highest charge current [A], where it comes from and how well that is known."""
    if bank.max_charge_a is not None:
        limit_a = bank.max_charge_a * in_parallel(bank)
        return limit_a, "Battery maker's charge limit × batteries in parallel", Provenance.MAKER
    rate = chemistry_data(bank.chemistry).charge_rate_c
    limit_a = (rate.default or 0.0) * bank_ah(bank)
    return limit_a, f"{show(rate.default)} C, {rate.source}; the battery's own sheet wins", rate.provenance


def _sum_check(system: SystemInput, bank: BankInput, units: Sequence[Charger]) -> Check:
    outputs: dict[str, float] = {}
    for unit in units:
        outputs[unit.id] = outputs.get(unit.id, 0.0) + unit.output_a
    excluded = excluded_pairs(units, frozenset(outputs))
    limit_a, source, provenance = charge_limit_a(bank)
    total_a = simultaneous_charge_a(outputs, excluded)
    at_most, is_more, listed = _sum_words(outputs, total_a)
    found = limit_check(
        rule="F28",
        key="bank/charge_sum",
        subject="bank",
        title="Charge current of everything that can run together",
        value=total_a,
        limit=limit_a,
        unit="A",
        sentences={
            Verdict.PASS: f"{at_most}; the bank takes {show(limit_a, 'A')}.",
            Verdict.BLOCK: (
                f"{is_more}, more than the bank's {show(limit_a, 'A')}: set limits on the"
                " chargers, interlock them, or enlarge the bank."
            ),
        },
        source=source,
        provenance=provenance,
        formula="max Σ I_out (interlocks kept) ≤ I_charge,max",
        substituted=f"{listed} against {show(limit_a, 'A')}",
        terms=tuple(Term(name, "charger output", output_a, "A") for name, output_a in outputs.items()),
        guesses=resting_on(system, ("bank", "sources", "controllers")),
    )
    if found.blocks or not _has_unknown_relay(system):
        return found
    return missing_check(
        rule=found.rule,
        key=found.key,
        subject=found.subject,
        title=found.title,
        missing="the rating of the alternator behind a relay that limits nothing",
        unit="A",
    )


def _sum_words(outputs_a: dict[str, float], total_a: float) -> tuple[str, str, str]:
    """Return how a pass and a block begin, and the sum: units that are kept apart are not added."""
    total, parts = show(total_a, "A"), [f"{name} {show(output_a)}" for name, output_a in outputs_a.items()]
    if total_a < sum(outputs_a.values()) - 1e-9:
        begins = f"At most {total} at a time"
        return begins, begins, f"{', '.join(parts)}, some kept apart → at most {total} at a time"
    return f"Together at most {total}", f"Together {total}", f"{' + '.join(parts)} → {total}"


def _has_unknown_relay(system: SystemInput) -> bool:
    """Return whether a relay feeds lithium all that an alternator of unknown rating gives."""
    return any(
        source.kind is SourceKind.RELAY
        and source.limited_to_a is None
        and alternator_a(system, source) is None
        and system.bank is not None
        and system.bank.chemistry is Chemistry.LFP
        for source in system.sources
    )


def absorb_range(bank: BankInput, v_nominal_v: float) -> Range:
    """Return the absorption range of the whole bank [V]: the maker's, else by chemistry."""
    if bank.maker_absorb_low_v is not None and bank.maker_absorb_high_v is not None:
        return Range(
            bank.maker_absorb_low_v * bank.in_series,
            bank.maker_absorb_high_v * bank.in_series,
            None,
            "V",
            "battery maker's charge range",
            Provenance.MAKER,
        )
    found = chemistry_data(bank.chemistry).absorb_v
    scale = v_nominal_v / 12.0
    return Range(
        (found.low or 0.0) * scale, (found.high or 0.0) * scale, None, "V", found.source, found.provenance
    )


def _profile_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    key, title = f"{unit.key}/profile", f"{unit.name}: absorption voltage"
    if unit.kind in (SourceKind.TOW_CHARGE_WIRE, SourceKind.RELAY):
        what = "relay" if unit.kind is SourceKind.RELAY else "bare charge wire"
        return fact_check(
            rule="profile",
            key=key,
            subject=unit.key,
            title=title,
            is_met=bank.chemistry is not Chemistry.LFP,
            unmet=Verdict.CAUTION,
            sentence=f"A {what} has no profile: it gives the bank whatever the alternator gives.",
            source="Common practice, no source",
            provenance=Provenance.COMMON_PRACTICE,
        )
    if unit.absorb_v is None:
        return missing_check(
            rule="profile",
            key=key,
            subject=unit.key,
            title=title,
            missing="the absorption voltage set on it",
            unit="V",
        )
    allowed = absorb_range(bank, system.v_nominal_v)
    is_low = unit.absorb_v < (allowed.low or 0.0) - 1e-9
    if is_low and unit.absorb_v > (allowed.high or 0.0):
        return missing_check(
            rule="profile",
            key=key,
            subject=unit.key,
            title=title,
            missing=f"which end of the maker's charge range ({_span(allowed)}) is the highest",
            unit="V",
        )
    return limit_check(
        rule="profile",
        key=key,
        subject=unit.key,
        title=title,
        value=unit.absorb_v,
        limit=allowed.low if is_low else allowed.high,
        at_least=is_low,
        beyond=Verdict.CAUTION if is_low else Verdict.BLOCK,
        at_limit=Verdict.PASS,  # the ends of the maker's range belong to it
        unit="V",
        sentences={
            Verdict.PASS: f"Set to {show(unit.absorb_v, 'V')}, within {_span(allowed)}.",
            Verdict.CAUTION: f"Set to {show(unit.absorb_v, 'V')}, below {_span(allowed)}: never full.",
            Verdict.BLOCK: f"Set to {show(unit.absorb_v, 'V')}, above {_span(allowed)}: it harms the bank.",
        },
        source=f"Absorption range for {bank.chemistry.value.upper()}: {allowed.source}",
        provenance=allowed.provenance,
        formula="V_low ≤ V_absorb ≤ V_high",
        substituted=f"{show(unit.absorb_v, 'V')} in {_span(allowed)}",
        guesses=resting_on(system, ("bank", "sources", "controllers")),
    )


def _float_checks(system: SystemInput, bank: BankInput, unit: Charger) -> list[Check]:
    """Return the judgment of a float voltage where one is set."""
    if unit.float_v is None:
        return []
    printed, scale = chemistry_data(bank.chemistry).float_v, system.v_nominal_v / 12.0
    low_v, high_v = (printed.low or 0.0) * scale, (printed.high or 0.0) * scale
    is_low = unit.float_v < low_v - 1e-9
    return [
        limit_check(
            rule="profile",
            key=f"{unit.key}/float",
            subject=unit.key,
            title=f"{unit.name}: float voltage",
            value=unit.float_v,
            limit=low_v if is_low else high_v,
            at_least=is_low,
            beyond=Verdict.CAUTION,
            at_limit=Verdict.PASS,  # the ends of the range belong to it
            unit="V",
            sentence=f"Set to {show(unit.float_v, 'V')}; {show(low_v)} to {show(high_v, 'V')} is usual.",
            source=f"Float range for {bank.chemistry.value.upper()}: {printed.source}",
            provenance=printed.provenance,
            formula="V_low ≤ V_float ≤ V_high",
            substituted=f"{show(unit.float_v, 'V')} in {show(low_v)} to {show(high_v, 'V')}",
            guesses=resting_on(system, ("bank", "sources")),
        )
    ]


def compensation_checks(system: SystemInput, bank: BankInput, unit: Charger) -> list[Check]:
    """Return what a temperature compensation left on does to lithium at the coldest the sensor can see.

    ``V = V_absorb + k·(25 - T)``; lead wants it, and its range is printed at 25 °C. Within the bank's range
    it still is a caution: lithium takes none.
    """
    comp_mv, absorb_v = abs(unit.temp_comp_mv_per_c or 0.0), unit.absorb_v
    if bank.chemistry is not Chemistry.LFP or comp_mv == 0 or absorb_v is None:
        return []
    key, title = f"{unit.key}/compensation", f"{unit.name}: temperature compensation"
    seen_c = sensor_c(system)
    if seen_c is None:
        missing = "the coldest temperature its sensor sees"
        return [
            missing_check(rule="profile", key=key, subject=unit.key, title=title, missing=missing, unit="V")
        ]
    top_v = absorb_range(bank, system.v_nominal_v).high or 0.0
    reached_v = absorb_v + comp_mv / 1000.0 * max(0.0, COMPENSATED_FROM_C - seen_c)
    found = limit_check(
        rule="profile",
        key=key,
        subject=unit.key,
        title=title,
        value=reached_v,
        limit=top_v,
        unit="V",
        sentences={
            Verdict.PASS: (
                f"It must be off for lithium: {show(reached_v, 'V')} at {show_both(seen_c, '°C', 2)}."
                " Switch it off."
            ),
            Verdict.BLOCK: (
                f"Left on, it charges to {show(reached_v, 'V')} at {show_both(seen_c, '°C', 2)}; the bank"
                f" takes {show(top_v, 'V')}: switch it off, or take its sensor off."
            ),
        },
        source=chemistry_data(bank.chemistry).temp_comp_v_per_c.source,
        provenance=absorb_range(bank, system.v_nominal_v).provenance,
        formula="V_absorb + k·(25 - T_sensor) ≤ V_high",
        substituted=(
            f"{show(absorb_v)} + {show(comp_mv / 1000.0, '', 3)} × (25 - {show(seen_c)})"
            f" = {show(reached_v, 'V')} against {show(top_v, 'V')}"
        ),
        guesses=resting_on(system, ("bank", "site.tmin_travel", "site.tmin_storage", "sources")),
    )
    return [replace(found, verdict=max(found.verdict, Verdict.CAUTION, key=lambda one: one.severity))]


def sensor_c(system: SystemInput) -> float | None:
    """Return the coldest a charger's sensor can see [°C]: the cells without heating, if that is known."""
    unheated_c = unheated_cell_c(system)
    return coldest_cell_c(system) if unheated_c is None else unheated_c


def _equalise_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    harmed = bank.chemistry is not Chemistry.FLOODED
    return fact_check(
        rule="profile",
        key=f"{unit.key}/equalise",
        subject=unit.key,
        title=f"{unit.name}: equalize",
        is_met=not (unit.equalise_on and harmed),
        unmet=Verdict.CAUTION if bank.chemistry is Chemistry.AGM else Verdict.BLOCK,
        sentences={
            Verdict.PASS: "No equalize or desulfate stage that this bank could not take.",
            Verdict.CAUTION: "Equalize is on; AGM takes it only where its maker asks for it.",
            Verdict.BLOCK: f"Equalize or desulfate is on; never for {bank.chemistry.value.upper()}.",
        },
        source="Makers' guides: lithium and gel are never equalized",
        provenance=Provenance.COMMON_PRACTICE,
        guesses=resting_on(system, ("bank", "sources")),
    )


def _worst_sum(names: list[str], outputs_a: dict[str, float], excluded: frozenset[frozenset[str]]) -> float:
    """Return the heaviest set of sources no two of which exclude each other."""
    if not names:
        return 0.0
    first, rest = names[0], names[1:]
    without = _worst_sum(rest, outputs_a, excluded)
    free = [name for name in rest if frozenset((first, name)) not in excluded]
    if len(free) == len(rest):
        return outputs_a[first] + without
    return max(without, outputs_a[first] + _worst_sum(free, outputs_a, excluded))


def _span(allowed: Range) -> str:
    return f"{show(allowed.low)} to {show(allowed.high, 'V')}"
