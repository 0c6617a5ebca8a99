"""Whether a device may sit where it does: its voltage, its interrupting rating (F17), its distance."""

from __future__ import annotations

from typing import Final

from sizing.cable.overcurrent import Family, FaultCurrent, bank_fault, distance_limit, family
from sizing.circuits.circuit_case import Case
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import Chemistry, CircuitKind, OcpdInput
from sizing.core.judge import limit_check, missing_check, show
from sizing.tables import weakest

#: Every DC family is made for at least this, so below it an unstated voltage rating is no question. [V]
LEAST_DC_RATING_V: Final = 32.0


def place_checks(found: Case) -> tuple[Check, ...]:
    """Return the judgements of a chosen device: voltage, interrupting rating, distance to its source.

    A device the engine proposes has no maker yet: what it must stand is part of the proposal
    (:func:`proposal_words`), and is judged when the part is chosen.
    """
    device = found.choice.ocpd
    if device is None:
        return ()
    if found.choice.is_proposed_fuse:
        return tuple(_distance(found, device))
    return (*_voltage(found, device), *_interrupting(found, device), *_distance(found, device))


def proposal_words(found: Case) -> str:
    """Return what a proposed device must be rated for, beside its amps."""
    if found.choice.ocpd is None or not found.choice.is_proposed_fuse:
        return ""
    parts = []
    volts = found.basis.max_v
    if volts is not None:
        current = "AC" if found.kind.is_ac else "DC"
        parts.append(f"at least {show(volts, 'V', 1)} {current}")
    limit_a = _main_limit_a(found)
    if limit_a is not None:
        parts.append(f"interrupting at least {show(limit_a / 1000, 'kA')}")
    return "device: " + ", ".join(parts) if parts else ""


# -- voltage --------------------------------------------------------------------------------------------


def _voltage(found: Case, device: OcpdInput) -> list[Check]:
    need_v = found.basis.max_v
    if device.voltage_rating_v is None and _needs_no_rating(found):
        return []
    rating_v, source, provenance = _rated_v(device)
    title = f"{found.kind.from_to}: voltage rating of the device"
    if rating_v is None or need_v is None:
        missing = "the DC voltage rating of the device" if rating_v is None else "the highest voltage"
        return [
            missing_check(
                rule="F13",
                key=found.key("ocpd_voltage"),
                subject=found.subject,
                title=title,
                missing=missing,
                unit="V",
                source=source,
            )
        ]
    return [
        limit_check(
            rule="F13",
            key=found.key("ocpd_voltage"),
            subject=found.subject,
            title=title,
            value=rating_v,
            limit=need_v,
            unit="V",
            at_least=True,
            source=source,
            provenance=provenance,
            formula="V_n ≥ V_max",
            substituted=f"{show(rating_v, 'V')} ≥ {show(need_v, 'V', 1)}",
            guesses=_voltage_guesses(found),
        )
    ]


def _needs_no_rating(found: Case) -> bool:
    """An unstated rating is no question on a line breaker or below what every DC family is made for."""
    need_v = found.basis.max_v
    return found.kind.is_ac or (need_v is not None and need_v <= LEAST_DC_RATING_V)


def _rated_v(device: OcpdInput) -> tuple[float | None, str, Provenance]:
    if device.voltage_rating_v is not None:
        return device.voltage_rating_v, "marking on the device", Provenance.MAKER
    known = family(device.family)
    if known is None:
        return None, "marking on the device", Provenance.MAKER
    return known.dc_voltage_v, f"{known.words}: {known.source}", known.provenance


def _voltage_guesses(found: Case) -> tuple[str, ...]:
    if not found.kind.is_pv:
        return found.guesses
    cold = resting_on(found.around.system, ("site.tmin_travel", "site.tmin_storage"))
    return tuple(sorted({*found.guesses, *cold}))


# -- interrupting rating --------------------------------------------------------------------------------


def is_main(found: Case) -> bool:
    """Return whether this device is the bank's main: at the battery, or the inverter's without one."""
    kind = found.circuit.kind
    if kind is CircuitKind.BATTERY_TO_MAIN_FUSE:
        return True
    if kind is not CircuitKind.BUS_TO_INVERTER:
        return False
    kinds = {each.kind for each in found.around.system.circuits if not each.has_no_ocpd}
    return CircuitKind.BATTERY_TO_MAIN_FUSE not in kinds


def _main_limit_a(found: Case) -> float | None:
    bank = found.around.system.bank
    return bank_fault(bank).main_limit_a if bank is not None and is_main(found) else None


def _interrupting(found: Case, device: OcpdInput) -> list[Check]:
    bank = found.around.system.bank
    if bank is None or not found.kind.is_battery_fed:
        return []
    fault = bank_fault(bank)
    rated_a, source, provenance = _rated_interrupting(found, device)
    if not is_main(found):
        return _branch_interrupting(found, fault, rated_a, source, provenance)
    is_lithium = bank.chemistry is Chemistry.LFP
    reason = "a lithium bank" if is_lithium else "this bank"
    estimate = _estimate(fault.prospective_a)
    return [
        limit_check(
            rule="F17",
            key=found.key("interrupting"),
            subject=found.subject,
            title="Main device: interrupting rating",
            value=rated_a,
            limit=fault.main_limit_a,
            at_limit=Verdict.PASS,  # the least rating asked for
            unit="A",
            at_least=True,
            sentences={
                Verdict.PASS: f"{_kilo(rated_a)} breaks what {reason} can give.",
                Verdict.BLOCK: f"{_kilo(rated_a)} is too little for {reason}: {_kilo(fault.main_limit_a)} DC "
                "or more, or it may burst instead of opening.",
                Verdict.NOT_ENOUGH_DATA: "The interrupting rating of the main device is not known.",
            },
            source=f"{fault.source}; device: {source}",
            provenance=weakest(fault.provenance, provenance),
            formula=fault.formula,
            substituted=f"{_kilo(rated_a)} ≥ {_kilo(fault.main_limit_a)}; estimate {estimate}",
            terms=(
                Term("I_cn", "interrupting rating of the device", rated_a, "A"),
                Term("I_sc", "prospective short-circuit current", estimate),
            ),
            guesses=found.guesses,
        )
    ]


def _branch_interrupting(
    found: Case, fault: FaultCurrent, rated_a: float | None, source: str, provenance: Provenance
) -> list[Check]:
    """Behind a high-rated main a branch device is judged only where its rating is known: caution at worst."""
    if rated_a is None or fault.prospective_a is None:
        return []
    is_as_main = rated_a >= fault.main_limit_a
    return [
        limit_check(
            rule="F17",
            key=found.key("interrupting"),
            subject=found.subject,
            title=f"{found.kind.from_to}: interrupting rating",
            value=rated_a,
            limit=fault.main_limit_a if is_as_main else fault.prospective_a[0],
            at_limit=Verdict.PASS if is_as_main else Verdict.CAUTION,  # the least rating asked for
            unit="A",
            at_least=True,
            beyond=Verdict.CAUTION,
            sentences={
                Verdict.PASS: f"{_kilo(rated_a)} against an estimated {_estimate(fault.prospective_a)}.",
                Verdict.CAUTION: f"{_kilo(rated_a)} against an estimated {_estimate(fault.prospective_a)}: "
                "the main device must open first.",
            },
            source=f"{fault.source if is_as_main else fault.formula}; device: {source}",
            provenance=weakest(fault.provenance if is_as_main else Provenance.MEMORY, provenance),
            guesses=found.guesses,
        )
    ]


def _rated_interrupting(found: Case, device: OcpdInput) -> tuple[float | None, str, Provenance]:
    if device.interrupting_a is not None:
        return device.interrupting_a, "marking on the device", Provenance.MAKER
    known = family(device.family)
    if known is None:
        return None, "marking on the device", Provenance.MAKER
    return _family_interrupting(known, found), f"{known.words}: {known.source}", known.provenance


def _family_interrupting(known: Family, found: Case) -> float | None:
    """Families are rated at the nominal steps 14, 32 and 58 V, so the nominal voltage picks the step."""
    return known.interrupting_a(found.around.system.v_nominal_v)


def _kilo(amps: float | None) -> str:
    return show(None if amps is None else amps / 1000, "kA")


def _estimate(prospective_a: tuple[float, float] | None) -> str:
    if prospective_a is None:
        return "not known"
    low, high = prospective_a
    return _kilo(low) if low == high else f"{show(low / 1000)} to {_kilo(high)}"


# -- distance to the source -----------------------------------------------------------------------------


def _distance(found: Case, device: OcpdInput) -> list[Check]:
    """The main device is always asked for its distance; others are judged once it is known."""
    is_at_post = found.kind.starts_at_post
    away_m = device.distance_to_source_m
    if away_m is None and found.circuit.kind is not CircuitKind.BATTERY_TO_MAIN_FUSE:
        return []
    if not found.kind.is_battery_fed:
        return []
    rule_set = found.around.system.rule_set
    limit = distance_limit(rule_set, is_sheathed=device.is_sheathed, is_battery_post=is_at_post)
    sheath = "sheathed" if device.is_sheathed else "unsheathed"
    place = "the battery post" if is_at_post else "what feeds it"
    return [
        limit_check(
            rule="distance",
            key=found.key("ocpd_distance"),
            subject=found.subject,
            title=f"{found.kind.from_to}: device close to {place}",
            value=away_m,
            limit=limit.value,
            at_limit=Verdict.PASS,  # the rule says "within" this distance
            unit="m",
            sentences={
                Verdict.PASS: f"{_millimetres(away_m)} {sheath}, limit {_millimetres(limit.value)}.",
                Verdict.BLOCK: f"{_millimetres(away_m)} {sheath} from {place}: at most "
                f"{_millimetres(limit.value)}. Move it closer, or sheathe the cable all the way.",
                Verdict.NOT_ENOUGH_DATA: f"Distance from {place} not recorded; at most "
                f"{_millimetres(limit.value)} {sheath}.",
            },
            source=limit.source,
            provenance=limit.provenance,
            formula="distance along the wire ≤ limit",
            substituted=f"{_millimetres(away_m)} ≤ {_millimetres(limit.value)} ({sheath})",
            guesses=found.guesses,
        )
    ]


def _millimetres(metres: float | None) -> str:
    return show(None if metres is None else metres * 1000, "mm", 0)
