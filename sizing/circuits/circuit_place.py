"""Whether a device may sit where it does: its voltage, its interrupting rating, its distance."""

from __future__ import annotations

from typing import Final

from sizing.cable.overcurrent import distance_block_m, distance_limit, family
from sizing.circuits.circuit_case import Case
from sizing.circuits.fault_current import BankLeads
from sizing.circuits.interrupting import asked, interrupting_checks, is_starter_fed
from sizing.core.checks import Check, Provenance, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import CircuitKind, OcpdInput
from sizing.core.judge import limit_check, missing_check, show

#: Every DC family is made for at least this, so below it an unstated voltage rating is no question. [V]
LEAST_DC_RATING_V: Final = 32.0


def place_checks(found: Case, leads: BankLeads) -> tuple[Check, ...]:
    """Return the judgments of a chosen device: voltage, interrupting rating, distance to its source.

    A device the engine proposes has no maker yet: what it must stand is part of the proposal
    (:func:`proposal_words`), and is judged when the part is chosen.
    """
    device = found.choice.ocpd
    if device is None:
        return ()
    if found.choice.is_proposed_fuse:
        return tuple(_distance(found, device))
    return device_checks(found, device, leads)


def device_checks(found: Case, device: OcpdInput, leads: BankLeads) -> tuple[Check, ...]:
    """Return the judgments of one device, fitted or thought of, in the place of this circuit's."""
    return (
        *_voltage(found, device),
        *interrupting_checks(found, device, leads),
        *_distance(found, device),
    )


def proposal_words(found: Case, leads: BankLeads) -> str:
    """Return what a proposed device must be rated for, beside its amps."""
    if found.choice.ocpd is None or not found.choice.is_proposed_fuse:
        return ""
    parts = []
    volts = highest_v(found)
    if volts is not None:
        current = "AC" if found.kind.is_ac else "DC"
        parts.append(f"at least {show(volts, 'V', 1)} {current}")
    ask = asked(found, leads)
    if ask is not None:
        parts.append(f"interrupting at least {show(ask.limit_a / 1000, 'kA')}")
    return "fuse or breaker: " + ", ".join(parts) if parts else ""


# -- voltage --------------------------------------------------------------------------------------------


def _voltage(found: Case, device: OcpdInput) -> list[Check]:
    need_v = highest_v(found)
    if device.voltage_rating_v is None and _needs_no_rating(found):
        return []
    rating_v, source, provenance = _rated_v(device)
    title = f"{found.kind.from_to}: voltage rating of the fuse or breaker"
    if rating_v is None or need_v is None:
        missing = (
            "the DC voltage rating of the fuse or breaker" if rating_v is None else "the highest voltage"
        )
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


def highest_v(found: Case) -> float | None:
    """Return the highest voltage a device must stand [V]: the house bank's is known without its current."""
    if found.basis.max_v is not None or not found.kind.is_battery_fed or is_starter_fed(found):
        return found.basis.max_v
    return None if found.around.system.bank is None else found.around.full_charge_v


def _needs_no_rating(found: Case) -> bool:
    """An unstated rating is no question on a line breaker or below what every DC family is made for."""
    need_v = highest_v(found)
    return found.kind.is_ac or (need_v is not None and need_v <= LEAST_DC_RATING_V)


def _rated_v(device: OcpdInput) -> tuple[float | None, str, Provenance]:
    if device.voltage_rating_v is not None:
        return device.voltage_rating_v, "marking on the fuse or breaker", Provenance.MAKER
    known = family(device.family)
    if known is None:
        return None, "marking on the fuse or breaker", Provenance.MAKER
    return known.dc_voltage_v, f"{known.words}: {known.source}", known.provenance


def _voltage_guesses(found: Case) -> tuple[str, ...]:
    if not found.kind.is_pv:
        return found.guesses
    cold = resting_on(found.around.system, ("site.tmin_travel", "site.tmin_storage"))
    return tuple(sorted({*found.guesses, *cold}))


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
    block_m = distance_block_m(rule_set, is_sheathed=device.is_sheathed)
    sheath = "sheathed" if device.is_sheathed else "unsheathed"
    place = "the battery post" if is_at_post else "what feeds it"
    return [
        limit_check(
            rule="distance",
            key=found.key("ocpd_distance"),
            subject=found.subject,
            title=f"{found.kind.from_to}: fuse or breaker close to {place}",
            value=away_m,
            limit=limit.value,
            at_limit=Verdict.PASS,  # the rule says "within" this distance
            unit="m",
            block_beyond=block_m,
            sentences={
                Verdict.CAUTION: f"{_millimetres(away_m)} {sheath} from {place}: closer is better, at most "
                f"{_millimetres(limit.value)}; makers of vehicles print {_millimetres(block_m)}.",
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
    return show_both(None if metres is None else metres * 1000, "mm")
