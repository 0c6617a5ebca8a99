"""Every judgment on one circuit: current, device, drop, place, joints, and what is missing."""

from __future__ import annotations

from typing import Final

from sizing.cable.ampacity import Ampacity
from sizing.cable.circuit_kinds import Protection
from sizing.cable.conductors import Conductor
from sizing.cable.rulesets import facts as rule_facts
from sizing.circuits.circuit_case import Case
from sizing.circuits.circuit_drop import drop_checks
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import GUESS_LENGTH
from sizing.core.inputs import CircuitKind, Confidence, OcpdInput
from sizing.core.judge import fact_check, limit_check, missing_check, show
from sizing.tables import weakest

PARALLEL_MIN_MM2: Final = 53.49  # 1/0, NFPA 70 (2017) 310.10(H)
INVERTER_RUN_MAX_M: Final = 3.05  # 10 ft, an inverter maker's manual
NO_PROTECTION: Final = "NO PROTECTION"


def circuit_checks(found: Case) -> tuple[Check, ...]:
    """Return every judgment on one circuit, protection first."""
    checks = [*_protection(found), *_length(found)]
    device, cable, rated = found.choice.ocpd, found.choice.cable, found.choice.ampacity
    if found.basis.design_a is None or cable is None or rated is None:
        checks.append(_current_missing(found))
        return (*checks, *([] if device is None else [_device_protects(found, device)]))
    checks += _conductor(found, cable, rated)
    if device is not None:
        checks += rating_checks(found, device)
    return (*checks, *drop_checks(found))


# -- is there a device at all ---------------------------------------------------------------------------


def _protection(found: Case) -> list[Check]:
    choice = found.choice
    if found.kind.protection is Protection.NEVER or (
        choice.ocpd is None and choice.need.is_required is False
    ):
        return []
    is_met = None if choice.is_open else choice.ocpd is not None
    return [
        fact_check(
            rule="protection",
            key=found.key("protection"),
            subject=found.subject,
            title=f"{found.kind.from_to}: fuse or breaker",
            is_met=is_met,
            sentences={
                Verdict.PASS: f"Protected {found.kind.fuse_place}.",
                Verdict.BLOCK: f"{NO_PROTECTION}: {choice.need.reason}.",
                Verdict.NOT_ENOUGH_DATA: f"Protection cannot be judged: {_why_unknown(found)}.",
            },
            source="33 CFR 183.455; ANSI/RVIA LV: all conductors shall have overcurrent protection",
            provenance=Provenance.PRINTED,
            guesses=found.guesses,
        )
    ]


def _why_unknown(found: Case) -> str:
    return found.choice.need.reason if found.choice.need.is_required is None else found.basis.missing


def _current_missing(found: Case) -> Check:
    return missing_check(
        rule="F14",
        key=found.key("ampacity"),
        subject=found.subject,
        title=f"{found.kind.from_to}: cable carries the current",
        missing=found.basis.missing,
        unit="A",
        source=rule_facts(found.rule_set).edition,
    )


def _length(found: Case) -> list[Check]:
    circuit = found.circuit
    if circuit.confidence is Confidence.GUESS and circuit.run_len_m is not None:
        return [
            limit_check(
                rule="length",
                key=found.key("run_len"),
                subject=found.subject,
                title=f"{found.kind.from_to}: length of the run",
                value=circuit.run_len_m,
                limit=0.0,
                unit="m",
                beyond=Verdict.CAUTION,
                sentence=f"The {found.guess_words}. Pull a string through and measure it.",
                source="common practice, no source: a length is pulled and measured, not guessed",
                provenance=Provenance.COMMON_PRACTICE,
                formula=f"L = {GUESS_LENGTH:g}·L_given",
                substituted=f"{show_both(found.given_len_m, 'm', 2)} given × {GUESS_LENGTH:g} = "
                f"{show_both(circuit.run_len_m, 'm', 2)} counted",
                guesses=found.guesses,
            )
        ]
    if circuit.kind is CircuitKind.BUS_TO_INVERTER and circuit.run_len_m is not None:
        return [
            limit_check(
                rule="length",
                key=found.key("run_len"),
                subject=found.subject,
                title=f"{found.kind.from_to}: length of the run",
                value=circuit.run_len_m,
                limit=INVERTER_RUN_MAX_M,
                at_limit=Verdict.PASS,  # the maker says "up to" this length
                unit="m",
                beyond=Verdict.CAUTION,
                source=f"an inverter maker's manual: {show_both(INVERTER_RUN_MAX_M, 'm', 2)} at most",
                provenance=Provenance.MAKER,
                guesses=found.guesses,
            )
        ]
    return []


# -- the conductor --------------------------------------------------------------------------------------


def _conductor(found: Case, cable: Conductor, rated: Ampacity) -> list[Check]:
    basis, is_code, words = found.basis, rule_facts(found.rule_set).is_code, cable.words
    checks = [
        limit_check(
            rule="F14",
            key=found.key("ampacity"),
            subject=found.subject,
            title=f"{found.kind.from_to}: {words} carries the current as laid",
            value=rated.corrected_a if is_code else rated.usable_a,
            limit=basis.continuous_a if is_code else _needed_a(found),
            at_limit=Verdict.PASS,  # the code asks for "not less than"
            unit="A",
            at_least=True,
            sentences=_conductor_words(found, words, rated.missing),
            source=f"{rated.source}; {basis.source}",
            provenance=weakest(rated.provenance, basis.provenance),
            formula=f"{rated.formula}; {basis.formula}",
            substituted=f"{rated.substituted}; {basis.substituted}",
            terms=(*rated.terms, *basis.terms),
            guesses=found.guesses,
        )
    ]
    if is_code:
        checks.append(_terminals(found, rated))
    checks += _smallest_and_parallel(found, cable)
    return checks


def _conductor_words(found: Case, words: str, missing: str) -> dict[Verdict, str]:
    said = {Verdict.NOT_ENOUGH_DATA: f"{words}: {missing}, so it may not be used here."}
    if found.choice.is_proposed_size:  # the smallest that carries it was looked for and not found
        said[Verdict.BLOCK] = (
            f"No single cable up to {words} carries {show(_needed_a(found), 'A')} as laid: "
            "use cables in parallel, a shorter bundle or a higher bank voltage."
        )
    return said


def _needed_a(found: Case) -> float | None:
    """Without a string fuse the cable also has to take what the other strings feed back."""
    fuse, design_a = found.choice.need.string_fuse, found.basis.design_a
    if fuse is not None and found.choice.ocpd is None and design_a is not None:
        return max(design_a, fuse.back_feed_a)
    return design_a


def _terminals(found: Case, rated: Ampacity) -> Check:
    return limit_check(
        rule="F14",
        key=found.key("terminals"),
        subject=found.subject,
        title=f"{found.kind.from_to}: terminals carry the current before factors",
        value=rated.terminal_a,
        limit=_needed_a(found),
        at_limit=Verdict.PASS,  # the code asks for "not less than"
        unit="A",
        at_least=True,
        source="NFPA 70 (2017) 690.8(B)(1), 110.14(C)",
        provenance=Provenance.PRINTED,
        formula="I_terminal ≥ I_design",
        substituted=f"{show(rated.terminal_a, 'A')} ≥ {show(_needed_a(found), 'A')}",
        guesses=found.guesses,
    )


def _smallest_and_parallel(found: Case, cable: Conductor) -> list[Check]:
    rules = rule_facts(found.rule_set)
    checks: list[Check] = []
    if cable.area_mm2 < rules.smallest_mm2 - 1e-9:
        checks.append(
            limit_check(
                rule="F14",
                key=found.key("smallest"),
                subject=found.subject,
                title=f"{found.kind.from_to}: smallest single conductor",
                value=cable.area_mm2,
                limit=rules.smallest_mm2,
                at_limit=Verdict.PASS,  # the smallest size allowed is allowed
                unit="mm²",
                at_least=True,
                beyond=Verdict.CAUTION,
                sentence=f"{cable.words} only inside a sheathed cable of several conductors.",
                source=rules.smallest_source,
                provenance=Provenance.PRINTED,
            )
        )
    if found.circuit.parallel_conductors > 1:
        checks.append(
            limit_check(
                rule="F14",
                key=found.key("parallel"),
                subject=found.subject,
                title=f"{found.kind.from_to}: conductors in parallel",
                value=cable.area_mm2,
                limit=PARALLEL_MIN_MM2,
                at_limit=Verdict.PASS,  # "1/0 AWG and larger"
                unit="mm²",
                at_least=True,
                beyond=Verdict.BLOCK if rules.is_code else Verdict.CAUTION,
                sentence="Equal length, size, lugs and insulation on every one; 1/0 AWG and larger only.",
                source="NFPA 70 (2017) 310.10(H)",
                provenance=Provenance.PRINTED,
            )
        )
    return checks


# -- the device -----------------------------------------------------------------------------------------


def rating_checks(found: Case, device: OcpdInput) -> list[Check]:
    """Return the judgments of a device's rating: it carries the circuit and protects its cable."""
    checks = [_device_carries(found, device), _device_protects(found, device)]
    checks += _panel_limit(found, device)
    checks += _inverter_limit(found, device)
    if found.kind.needs_both_ends:
        checks.append(_both_ends(found, device))
    return checks


def _device_carries(found: Case, device: OcpdInput) -> Check:
    fuse = found.choice.need.string_fuse
    least_a = found.basis.design_a if fuse is None else fuse.min_rating_a
    return limit_check(
        rule="F13" if fuse else "F14",
        key=found.key("ocpd_rating"),
        subject=found.subject,
        title=f"{found.kind.from_to}: fuse or breaker carries the current",
        value=device.rating_a,
        limit=least_a,
        at_limit=Verdict.PASS,  # the code asks for "not less than"
        unit="A",
        at_least=True,
        source=fuse.source if fuse else found.basis.source,
        provenance=fuse.provenance if fuse else found.basis.provenance,
        formula=fuse.formula if fuse else f"I_n ≥ I_design; {found.basis.formula}",
        substituted=fuse.substituted if fuse else found.basis.substituted,
        terms=(Term("I_n", "rating of the fuse or breaker", device.rating_a, "A"), *found.basis.terms),
        guesses=found.guesses,
    )


def _device_protects(found: Case, device: OcpdInput) -> Check:
    rated, cable = found.choice.ampacity, found.choice.cable
    words = "the cable" if cable is None else cable.words
    limit_a = None if rated is None else rated.max_ocpd_a
    rules = rule_facts(found.rule_set)
    return limit_check(
        rule="F14",
        key=found.key("ocpd_cable"),
        subject=found.subject,
        title=f"{found.kind.from_to}: fuse or breaker protects {words}",
        value=device.rating_a,
        limit=limit_a,
        at_limit=Verdict.PASS,  # a device of the cable's own ampacity protects it
        unit="A",
        sentences={
            Verdict.BLOCK: f"A {show(device.rating_a, 'A')} fuse or breaker does not protect {words}, "
            f"which carries {show(limit_a, 'A')} as laid: thicker cable or a smaller fuse."
        },
        source=f"{'' if rated is None else rated.ocpd_reason}; {'' if rated is None else rated.source}",
        provenance=rules.ocpd_provenance
        if rated is None
        else weakest(rules.ocpd_provenance, rated.provenance),
        formula="I_n ≤ I_z",
        substituted=f"{show(device.rating_a, 'A')} ≤ {show(limit_a, 'A')}",
        terms=() if rated is None else rated.terms,
        guesses=found.guesses,
    )


def _panel_limit(found: Case, device: OcpdInput) -> list[Check]:
    fuse = found.choice.need.string_fuse
    if fuse is None:
        return []
    return [
        limit_check(
            rule="F13",
            key=found.key("series_fuse"),
            subject=found.subject,
            title=f"{found.kind.from_to}: string fuse within the panel's limit",
            value=device.rating_a,
            limit=fuse.max_series_fuse_a,
            at_limit=Verdict.PASS,  # the largest fuse the maker allows is allowed
            unit="A",
            source="panel data sheet: maximum series fuse; NFPA 70 (2017) 690.9(B)",
            provenance=Provenance.MAKER,
            formula="I_n ≤ I_series,max",
            substituted=f"{show(device.rating_a, 'A')} ≤ {show(fuse.max_series_fuse_a, 'A')}",
            guesses=found.guesses,
        )
    ]


def _inverter_limit(found: Case, device: OcpdInput) -> list[Check]:
    inverter = found.around.system.inverter
    is_feed = found.circuit.kind is CircuitKind.BUS_TO_INVERTER
    if not is_feed or inverter is None or inverter.max_fuse_a is None:
        return []
    return [
        limit_check(
            rule="F16",
            key=found.key("inverter_max_fuse"),
            subject=found.subject,
            title="Device within the inverter maker's largest fuse",
            value=device.rating_a,
            limit=inverter.max_fuse_a,
            at_limit=Verdict.PASS,  # the largest fuse the maker allows is allowed
            unit="A",
            source="inverter manual: largest DC fuse",
            provenance=Provenance.MAKER,
            guesses=found.guesses,
        )
    ]


def _both_ends(found: Case, device: OcpdInput) -> Check:
    return fact_check(
        rule="both_ends",
        key=found.key("both_ends"),
        subject=found.subject,
        title=f"{found.kind.from_to}: fused at both ends",
        is_met=device.at_both_ends,
        sentences={
            Verdict.PASS: "Protected at both ends: each end has a battery behind it.",
            Verdict.BLOCK: "Both ends of this cable have a battery behind them: it needs a fuse at each.",
        },
        source="33 CFR 183.455: a fuse or breaker at each source of power",
        provenance=Provenance.PRINTED,
        guesses=found.guesses,
    )
