"""Whether the chargers together, and each by itself, suit the bank: amps, profile, engine (F28)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sizing.battery.bank import bank_ah, in_parallel
from sizing.battery.battery import Range, chemistry_data
from sizing.battery.chargers import Charger, chargers, limited_a
from sizing.battery.cold import cold_check
from sizing.core.checks import Check, Provenance, Term, Verdict
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

ALTERNATOR_SHARE: Final = 0.5  # of its rating a hot idling alternator can give for long, common practice [-]
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


def charge_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return every judgement on charging: the sum, and per charger its profile, its cold rule, its engine."""
    bank = system.bank
    units = chargers(system)
    if bank is None or not units:
        return ()
    found: list[Check] = [_sum_check(system, bank, units)]
    for unit in units:
        found += [_profile_check(system, bank, unit), _equalise_check(system, bank, unit)]
        found += _float_checks(system, bank, unit)
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
            rule="profile",
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
            rule="profile",
            key=key,
            subject=unit.key,
            title=title,
            missing="the absorption voltage set on it",
            unit="V",
        )
    allowed = absorb_range(bank, system.v_nominal_v)
    is_low = unit.absorb_v < (allowed.low or 0.0) - 1e-9
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
    """Return the judgement of a float voltage where one is set."""
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


def _equalise_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    harmed = bank.chemistry is not Chemistry.FLOODED
    return fact_check(
        rule="profile",
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
