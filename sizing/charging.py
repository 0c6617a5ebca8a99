"""Knows whether the chargers together, and each by itself, suit the bank: amps, profile, cold (F28)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sizing.bank import bank_ah, coldest_cell_c, in_parallel
from sizing.battery import Range, chemistry_data, warm_up_wh
from sizing.checks import Check, Provenance, Term, Verdict
from sizing.guesses import resting_on
from sizing.inputs import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    InputOutOfRange,
    SourceKind,
    SystemInput,
)
from sizing.judge import fact_check, limit_check, missing_check, show
from sizing.results import Figure
from sizing.strings import wired_strings

SOLAR: Final = "solar"  # the name interlocks use for all charge controllers together
ALTERNATOR_SHARE: Final = 0.5  # of its rating a hot idling alternator can give for long, common practice [-]
GENTLE_BELOW_C: Final = 5.0  # below it lithium is charged gently, if at all [°C]
LITHIUM_SOURCE: Final = "Battery University BU-410, table 1: lithium is charged at 0 to 45 °C"
LEAD_SOURCE: Final = "Battery University BU-410, table 1: lead is charged at -20 to 50 °C"
MOST_SOURCES: Final = 20  # above it the interlocks are not searched and all count as running together


@dataclass(frozen=True, slots=True)
class Charger:
    """Anything that charges the bank, a controller or a source, as the rules see it."""

    id: str
    key: str
    name: str
    output_a: float
    absorb_v: float | None
    float_v: float | None
    equalise_on: bool
    low_t_stop_c: float | None
    excluded_with: tuple[str, ...]
    kind: SourceKind | None = None


def chargers(system: SystemInput) -> tuple[Charger, ...]:
    """Return every charger of the bank: controllers with strings on them first, then the other sources."""
    controllers = (
        Charger(
            id=SOLAR,
            key=f"controller:{unit.id}",
            name=unit.name,
            output_a=unit.rated_output_a,
            absorb_v=unit.absorb_v,
            float_v=None,
            equalise_on=False,
            low_t_stop_c=unit.low_t_stop_c,
            excluded_with=(),
        )
        for unit in system.controllers
        if wired_strings(system, unit)
    )
    others = (
        Charger(
            id=source.id,
            key=f"source:{source.id}",
            name=source.name,
            output_a=limited_a(source),
            absorb_v=source.absorb_v,
            float_v=source.float_v,
            equalise_on=source.equalise_on,
            low_t_stop_c=source.low_t_stop_c,
            excluded_with=source.excluded_with,
            kind=source.kind,
        )
        for source in system.sources
    )
    return (*controllers, *others)


def limited_a(source: ChargeSourceInput) -> float:
    """Return what a source may put out [A]: its rating or the limit set on it."""
    return source.output_a if source.limited_to_a is None else min(source.output_a, source.limited_to_a)


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


def charge_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return every judgement on charging: the sum, and per charger its profile, its cold rule, its engine."""
    bank = system.bank
    units = chargers(system)
    if bank is None or not units:
        return ()
    found: list[Check] = [_sum_check(system, bank, units)]
    for unit in units:
        found += [_profile_check(system, bank, unit), _equalise_check(system, bank, unit)]
        found.append(cold_check(system, bank, unit))
    found += [
        _alternator_check(system, source) for source in system.sources if source.kind is SourceKind.DC_DC
    ]
    return tuple(found)


def charge_limit_a(bank: BankInput) -> tuple[float, str, Provenance]:
    """Return the bank's highest charge current [A], where it comes from and how well that is known."""
    if bank.max_charge_a is not None:
        limit_a = bank.max_charge_a * in_parallel(bank)
        return limit_a, "Battery maker's charge limit × batteries in parallel", Provenance.MAKER
    rate = chemistry_data(bank.chemistry).charge_rate_c
    limit_a = (rate.default or 0.0) * bank_ah(bank)
    return limit_a, f"{show(rate.default)} C, {rate.source}; the battery's own sheet wins", rate.provenance


def cold_verdict(chemistry: Chemistry, cell_c: float) -> tuple[Verdict, str]:
    """Return whether a battery at this cell temperature may be charged, and how.

    Parameters
    ----------
    chemistry : Chemistry
        LFP or a lead battery. [-]
    cell_c : float
        Temperature of the cells. [°C]

    Returns
    -------
    tuple of Verdict and str
        Block outside the charging range, caution where only gentle charging is allowed, else pass.

    Raises
    ------
    Nothing
        Any temperature can be asked.

    References
    ----------
    .. [1] Battery University BU-410, table 1; the gentle band from 0 to 5 °C is common practice.
    """
    limits = chemistry_data(chemistry).charge_temp_c
    low_c, high_c = limits.low or 0.0, limits.high or 0.0
    if not low_c <= cell_c <= high_c:
        return Verdict.BLOCK, f"no charging below {low_c:.0f} or above {high_c:.0f} °C"
    if chemistry is Chemistry.LFP and cell_c < GENTLE_BELOW_C:
        return Verdict.CAUTION, "gently only: at most 0.2 C, less if the maker says so"
    if chemistry is not Chemistry.LFP and cell_c < 0.0:
        return Verdict.CAUTION, "at most 0.3 C below freezing, and never a frozen battery"
    return Verdict.PASS, "normal charging"


def cold_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    """Return whether one charger stops before it harms a cold bank."""
    key, title = f"{unit.key}/cold_charge", f"{unit.name}: charging a cold bank"
    cell_c = coldest_cell_c(system)
    if cell_c is None:
        return missing_check(
            rule="5.7",
            key=key,
            subject=unit.key,
            title=title,
            missing="the coldest temperature of the cells",
            unit="°C",
        )
    verdict, words = _cold_words(bank, unit, cell_c)
    is_lithium = bank.chemistry is Chemistry.LFP
    low_c = chemistry_data(bank.chemistry).charge_temp_c.low
    return Check(
        rule="5.7",
        key=key,
        subject=unit.key,
        title=title,
        verdict=verdict,
        value=unit.low_t_stop_c if unit.low_t_stop_c is not None else cell_c,
        limit=low_c,
        unit="°C",
        margin=None,
        sentence=words,
        source=LITHIUM_SOURCE if is_lithium else LEAD_SOURCE,
        provenance=Provenance.VERIFIED,
        formula="low-temperature stop ≥ lowest charging temperature",
        terms=(
            Term("T_cell", "coldest cell temperature", cell_c, "°C", bank.tmin_c is None),
            Term("T_stop", "low-temperature stop", unit.low_t_stop_c, "°C"),
        ),
        guesses=resting_on(
            system, ("bank", "site.tmin_travel", "site.tmin_storage", "sources", "controllers")
        ),
    )


def heat_figures(system: SystemInput) -> tuple[Figure, ...]:
    """Return what it takes to warm a heated pack before it accepts charge, and for how long."""
    bank, cell_c = system.bank, coldest_cell_c(system)
    if bank is None or not bank.is_heated or cell_c is None or cell_c >= GENTLE_BELOW_C:
        return ()
    mass_kg = bank.unit_mass_kg * bank.quantity
    energy_wh = warm_up_wh(mass_kg, GENTLE_BELOW_C - cell_c)
    source = "Heat capacity 1000 J/(kg·K) and half as much again for losses: common practice, no source"
    substituted = f"{show(mass_kg)} × 1000 × {show(GENTLE_BELOW_C - cell_c)}/3600 × 1.5 = {energy_wh:.0f} Wh"
    found = [
        Figure(
            key="bank/warm_up",
            title="Energy to warm the pack before it takes charge",
            value=energy_wh,
            unit="Wh",
            formula="E = m·c·ΔT/3600·1.5",
            substituted=substituted,
            source=source,
            guesses=resting_on(system, ("bank", "site.tmin_travel", "site.tmin_storage")),
        )
    ]
    if bank.heater_w > 0:
        found.append(
            Figure(
                key="bank/warm_up_hours",
                title="Hours of heating before charging starts",
                value=energy_wh / bank.heater_w,
                unit="h",
                formula="t = E/P_heater",
                substituted=f"{energy_wh:.0f}/{show(bank.heater_w)} = {energy_wh / bank.heater_w:.1f} h",
                source=source,
            )
        )
    return tuple(found)


def _cold_words(bank: BankInput, unit: Charger, cell_c: float) -> tuple[Verdict, str]:
    met, how = cold_verdict(bank.chemistry, cell_c)
    at = f"Cells down to {show(cell_c, '°C')}"
    if met is Verdict.PASS:
        return Verdict.PASS, f"{at}: never cold enough to harm."
    if unit.low_t_stop_c is not None:
        stops, _ = cold_verdict(bank.chemistry, unit.low_t_stop_c)
        words = {
            Verdict.PASS: f"{at}: it stops at {show(unit.low_t_stop_c, '°C')}, in time.",
            Verdict.CAUTION: f"{at}: it stops at {show(unit.low_t_stop_c, '°C')}, above the limit but {how}.",
            Verdict.BLOCK: f"{at}: it would still charge down to {show(unit.low_t_stop_c, '°C')}; {how}.",
        }
        return stops, words[stops]
    if bank.is_heated and bank.heater_w > 0:
        return Verdict.PASS, f"{at}: the pack's heater ({show(bank.heater_w, 'W')}) warms the cells first."
    if met is Verdict.CAUTION:
        return Verdict.CAUTION, f"{at} and no low-temperature stop: {how}."
    return Verdict.BLOCK, f"{at} and no low-temperature stop on this charger: {how}."


def _sum_check(system: SystemInput, bank: BankInput, units: Sequence[Charger]) -> Check:
    outputs: dict[str, float] = {}
    for unit in units:
        outputs[unit.id] = outputs.get(unit.id, 0.0) + unit.output_a
    excluded = frozenset(
        frozenset((unit.id, other)) for unit in units for other in unit.excluded_with if other in outputs
    )
    limit_a, source, provenance = charge_limit_a(bank)
    total_a = simultaneous_charge_a(outputs, excluded)
    listed = " + ".join(f"{name} {show(output_a)}" for name, output_a in outputs.items())
    return limit_check(
        rule="F28",
        key="bank/charge_sum",
        subject="bank",
        title="Charge current of everything that can run together",
        value=total_a,
        limit=limit_a,
        unit="A",
        sentences={
            Verdict.PASS: f"Together at most {show(total_a, 'A')}; the bank takes {show(limit_a, 'A')}.",
            Verdict.BLOCK: (
                f"Together {show(total_a, 'A')}, more than the bank's {show(limit_a, 'A')}: set limits on the"
                " chargers, interlock them, or enlarge the bank."
            ),
        },
        source=source,
        provenance=provenance,
        formula="max Σ I_out (interlocks kept) ≤ I_charge,max",
        substituted=f"{listed} → {show(total_a, 'A')} against {show(limit_a, 'A')}",
        terms=tuple(Term(name, "charger output", output_a, "A") for name, output_a in outputs.items()),
        guesses=resting_on(system, ("bank", "sources", "controllers")),
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
    if unit.kind is SourceKind.TOW_CHARGE_WIRE:
        return fact_check(
            rule="5.7",
            key=key,
            subject=unit.key,
            title=title,
            is_met=bank.chemistry is not Chemistry.LFP,
            unmet=Verdict.CAUTION,
            sentence="A bare charge wire has no profile: it gives lithium whatever the alternator gives.",
            source="Common practice, no source",
            provenance=Provenance.COMMON_PRACTICE,
        )
    if unit.absorb_v is None:
        return missing_check(
            rule="5.7",
            key=key,
            subject=unit.key,
            title=title,
            missing="the absorption voltage set on it",
            unit="V",
        )
    allowed = absorb_range(bank, system.v_nominal_v)
    is_low = unit.absorb_v < (allowed.low or 0.0) - 1e-9
    return limit_check(
        rule="5.7",
        key=key,
        subject=unit.key,
        title=title,
        value=unit.absorb_v,
        limit=allowed.low if is_low else allowed.high,
        at_least=is_low,
        beyond=Verdict.CAUTION if is_low else Verdict.BLOCK,
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


def _equalise_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    harmed = bank.chemistry is not Chemistry.FLOODED
    return fact_check(
        rule="5.7",
        key=f"{unit.key}/equalise",
        subject=unit.key,
        title=f"{unit.name}: equalise",
        is_met=not (unit.equalise_on and harmed),
        unmet=Verdict.CAUTION if bank.chemistry is Chemistry.AGM else Verdict.BLOCK,
        sentences={
            Verdict.PASS: "No equalise or desulphate stage that this bank could not take.",
            Verdict.CAUTION: "Equalise is on; AGM takes it only where its maker asks for it.",
            Verdict.BLOCK: f"Equalise or desulphate is on; never for {bank.chemistry.value.upper()}.",
        },
        source="Makers' guides: lithium and gel are never equalised",
        provenance=Provenance.COMMON_PRACTICE,
        guesses=resting_on(system, ("bank", "sources")),
    )


def _alternator_check(system: SystemInput, source: ChargeSourceInput) -> Check:
    key, title = f"source:{source.id}/alternator", f"{source.name}: share of the alternator"
    if source.alternator_rating_a is None:
        return missing_check(
            rule="F28",
            key=key,
            subject=f"source:{source.id}",
            title=title,
            missing="the alternator's rating",
            unit="A",
        )
    return limit_check(
        rule="F28",
        key=key,
        subject=f"source:{source.id}",
        title=title,
        value=limited_a(source),
        limit=ALTERNATOR_SHARE * source.alternator_rating_a,
        block_beyond=source.alternator_rating_a,
        unit="A",
        sentences={
            Verdict.CAUTION: "More than half the alternator's rating: it overheats at hot idle.",
            Verdict.BLOCK: "More than the alternator can give at all.",
        },
        source="DC-DC unit at most half the alternator's rating, hot at idle: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="I_out ≤ 0.5·I_alternator",
        substituted=f"{show(limited_a(source))} ≤ 0.5 × {show(source.alternator_rating_a)}",
        guesses=resting_on(system, ("sources",)),
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
