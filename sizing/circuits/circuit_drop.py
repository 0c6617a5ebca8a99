"""Whether a circuit loses too much voltage (F15), and whether a DC-DC converter still gets enough."""

from __future__ import annotations

from typing import Final

from sizing.cable.circuit_kinds import DROP_SOURCE
from sizing.circuits.circuit_case import Case
from sizing.circuits.circuit_choice import drop_limit
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.judge import limit_check, missing_check, show, show_percent
from sizing.tables import weakest

ARRIVAL_MARGIN_V: Final = 0.5  # a DC-DC converter needs this over its lockout, common practice [V]


def drop_checks(found: Case) -> list[Check]:
    limit, block = drop_limit(found.circuit)
    if limit is None:
        return []
    title = f"{found.kind.from_to}: voltage drop"
    if found.choice.drop is None:
        missing = "the length of the run" if found.circuit.run_len_m is None else "the size of the cable"
        return [
            missing_check(
                rule="F15",
                key=found.key("drop"),
                subject=found.subject,
                title=title,
                missing=missing,
                unit="fraction",
                source=DROP_SOURCE,
            )
        ]
    if found.kind.needs_both_ends:
        return [_drop_check(found, title, limit, _dc_dc_block(found, block)), *_arrival(found)]
    return [_drop_check(found, title, limit, block)]


def _drop_check(found: Case, title: str, limit: float, block: float | None) -> Check:
    choice, basis, circuit = found.choice, found.basis, found.circuit
    lost, cable = choice.drop, choice.cable
    fraction = None if lost is None else lost.drop_fraction
    lost_v = None if lost is None else lost.drop_v
    mohm_per_m = None if lost is None else lost.resistance_ohm_per_m * 1000
    words = f"{show(lost_v, 'V', 3)} = {show_percent(fraction)}"
    return limit_check(
        rule="F15",
        key=found.key("drop"),
        subject=found.subject,
        title=title,
        value=fraction,
        limit=limit,
        at_limit=Verdict.PASS,  # "not more than 3 %" by its own words
        unit="fraction",
        block_beyond=block,
        beyond=Verdict.CAUTION,
        sentence=f"Loses {words} of {show(basis.circuit_v, 'V')}; limit {show_percent(limit)}.",
        source=f"{DROP_SOURCE}; resistance: {'' if cable is None else cable.source}",
        provenance=weakest(Provenance.COMMON_PRACTICE, *(() if cable is None else (cable.provenance,))),
        formula="V_d = 2·L·I·R; V_d/V",
        substituted=f"2 × {show_both(circuit.run_len_m, 'm', 2)} × {show(basis.drop_a, 'A')} × "
        f"{show_both(mohm_per_m, 'mΩ/m', 4)} = {words}",
        terms=(
            Term("L", "one-way path", circuit.run_len_m, "m", bool(found.guesses)),
            Term("I", "current", basis.drop_a, "A"),
            Term("R", f"resistance at {show_both(circuit.conductor_temp_c, '°C', 2)}", mohm_per_m, "mΩ/m"),
            Term("V", "circuit voltage", basis.circuit_v, "V"),
        ),
        guesses=found.guesses,
    )


def _arrives_v(found: Case) -> float | None:
    lost, starts_v = found.choice.drop, found.basis.arrives_from_v
    return None if lost is None or starts_v is None else starts_v - lost.drop_v


def _dc_dc_block(found: Case, block: float | None) -> float | None:
    """Between 3 and 8 % is a caution only while the converter still gets its lockout plus half a volt."""
    arrives_v, lockout_v = _arrives_v(found), found.basis.lockout_v
    if arrives_v is None or lockout_v is None or arrives_v >= lockout_v + ARRIVAL_MARGIN_V:
        return block
    return drop_limit(found.circuit)[0]


def _arrival(found: Case) -> list[Check]:
    arrives_v, lockout_v = _arrives_v(found), found.basis.lockout_v
    need_v = None if lockout_v is None else lockout_v + ARRIVAL_MARGIN_V
    lost, words = found.choice.drop, f"{show(arrives_v, 'V')} arrives, {show(need_v, 'V')} needed"
    if need_v is None and lost is not None and lost.drop_fraction <= (found.kind.drop_limit_fraction or 0.0):
        return []
    return [
        limit_check(
            rule="F15",
            key=found.key("arrival"),
            subject=found.subject,
            title="DC-DC converter: voltage that arrives",
            value=arrives_v,
            limit=need_v,
            unit="V",
            at_least=True,
            sentences={
                Verdict.PASS: f"{words} to stay on.",
                Verdict.BLOCK: f"{words}: it will cut in and out.",
                Verdict.NOT_ENOUGH_DATA: "Running voltage at the source or lockout voltage is not known.",
            },
            source="lockout: converter manual; 0.5 V over it is common practice, no source",
            provenance=Provenance.COMMON_PRACTICE,
            formula="V_arrives = V_run − V_d ≥ V_lockout + 0.5",
            substituted=f"{show(found.basis.arrives_from_v)} − "
            f"{show(None if lost is None else lost.drop_v, '', 3)} = {show(arrives_v, 'V')}",
            guesses=found.guesses,
        )
    ]
