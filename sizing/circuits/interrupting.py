"""Whether a device breaks the short circuit that can flow where it stands (F17)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sizing.cable.bank_fault import InterruptNeed, in_parallel, interrupt_need, starter_battery_need
from sizing.cable.overcurrent import family
from sizing.circuits.circuit_case import Case
from sizing.circuits.fault_current import BankLeads, Fault, fault_at
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.inputs import BankInput, CircuitInput, CircuitKind, OcpdInput, SystemInput
from sizing.core.judge import limit_check, missing_check, show
from sizing.tables import weakest


@dataclass(frozen=True, slots=True)
class Ask:
    """What a device has to interrupt: what passes, what blocks below it, and on what that rests. [A]"""

    limit_a: float
    block_a: float | None  # None: below the limit is a caution at worst
    source: str
    provenance: Provenance
    fault: Fault | None

    @property
    def is_sum(self) -> bool:
        """Return whether the limit is the sum for the place, not the least rating a text asks for."""
        return self.fault is not None and self.limit_a == self.fault.high_a


def interrupting_checks(found: Case, device: OcpdInput, leads: BankLeads) -> list[Check]:
    """Return the judgment of a device's interrupting rating; a kind nobody named is not enough data."""
    if not found.kind.is_battery_fed:
        return []
    if found.around.system.bank is None and not is_starter_fed(found):
        return [_missing(found, "the bank, and with it the current of a short circuit,")]
    rated_a, source, provenance = rated_interrupting(found, device)
    if rated_a is None:
        return [_missing(found, "what the fuse or breaker interrupts (its type, or the rating marked on it)")]
    ask = asked(found, leads, rated_a)
    assert ask is not None
    return [_check(found, leads, ask, rated_a, f"fuse or breaker: {source}", provenance)]


def asked(found: Case, leads: BankLeads, rated_a: float = 0.0) -> Ask | None:
    """Return what a device of this circuit must interrupt; ``rated_a`` is what it does [A].

    A branch device is held to the sum for its place, on the word of whoever asks the main for no more than
    ``rated_a``: what may stand at the battery may stand behind it.
    """
    if not found.kind.is_battery_fed:
        return None
    if is_starter_fed(found):
        need = starter_battery_need()
        return Ask(need.main_a, None, f"starting battery, {need.source}", need.provenance, None)
    bank = found.around.system.bank
    if bank is None:
        return None
    fault = fault_at(found, leads, bank)
    need = interrupt_need(bank, fault.count, found.around.system.policy.lithium_main_interrupt_a)
    if is_main(found):
        return _main_ask(need, fault)
    is_link = found.circuit.kind is CircuitKind.BATTERY_LINKS  # its sisters do not come through the main
    return _branch_ask(need, fault, rated_a, has_main=not is_link and opens_first(leads))


def is_starter_fed(found: Case) -> bool:
    """Return whether a circuit starts at the vehicle's own battery, which the house bank does not feed."""
    return found.circuit.kind is CircuitKind.START_BATTERY_TO_DC_DC


def is_main(found: Case) -> bool:
    """Return whether this device is the bank's main: at the battery, or the inverter's without one."""
    kind = found.circuit.kind
    if kind is CircuitKind.BATTERY_TO_MAIN_FUSE:
        return True
    if kind is not CircuitKind.BUS_TO_INVERTER:
        return False
    return CircuitKind.BATTERY_TO_MAIN_FUSE not in _protected_kinds(found.around.system.circuits)


def main_device_checks(system: SystemInput) -> list[Check]:
    """Return "not enough data" for a bank whose main device no circuit of the schedule stands for.

    Nothing where one is listed: its own circuit is judged then, one without a device too.
    """
    listed = {circuit.kind for circuit in system.circuits}
    if system.bank is None or CircuitKind.BATTERY_TO_MAIN_FUSE in listed:
        return []
    if CircuitKind.BUS_TO_INVERTER in _protected_kinds(system.circuits):
        return []
    title = "Main fuse of the bank"
    unknown = missing_check(
        rule="F17",
        key="bank/main_device",
        subject="bank",
        title=title,
        missing="the circuit from the battery to its main fuse",
        source="a wire that is not listed is not judged; ABYC E-11: a fuse near the battery post",
    )
    return [
        replace(
            unknown,
            sentence=f"{title}: not enough data, the main fuse of the bank is not in the circuit schedule.",
        )
    ]


def _protected_kinds(circuits: Iterable[CircuitInput]) -> set[CircuitKind]:
    """Return the kinds of circuits that are not said to be without a device."""
    return {each.kind for each in circuits if not each.has_no_ocpd}


def opens_first(leads: BankLeads) -> bool:
    """Return whether a main device between bank and bus breaks the most the bank can give there."""
    main = leads.main
    if main is None or main.choice.ocpd is None:
        return False
    if main.choice.is_proposed_fuse:
        return True  # its proposal says what it must interrupt
    rated_a = rated_interrupting(main, main.choice.ocpd)[0]
    ask = asked(main, leads)
    return rated_a is not None and ask is not None and rated_a >= ask.limit_a


def rated_interrupting(found: Case, device: OcpdInput) -> tuple[float | None, str, Provenance]:
    """Return what a device interrupts [A]: as marked, else as its family does at the system's voltage.

    Families are rated at the nominal steps 14, 32 and 58 V, so the nominal voltage picks the step.
    """
    if device.interrupting_a is not None:
        return device.interrupting_a, "marking on the fuse or breaker", Provenance.MAKER
    known = family(device.family)
    if known is None:
        return None, "marking on the fuse or breaker", Provenance.MAKER
    system_v = found.around.system.v_nominal_v
    return (
        known.interrupting_a(system_v),
        f"{known.words}: {known.source}",
        known.interrupting_provenance(system_v),
    )


def kilo(amps: float | None) -> str:
    """Return a current in kiloamps, in words."""
    return show(None if amps is None else amps / 1000, "kA")


def _main_ask(need: InterruptNeed, fault: Fault) -> Ask:
    """What text, maker or shop asks, and the upper end of the sum where that is more.

    A printed row for known cranking amps stands alone. A pass against a printed row needs no sum to be
    true: the sum can only ask for more.
    """
    if need.is_final or fault.high_a <= need.main_a:
        return Ask(need.main_a, need.main_a, need.source, need.provenance, fault)
    known = (
        need.provenance
        if need.provenance is Provenance.PRINTED
        else weakest(need.provenance, fault.provenance)
    )
    block_a = max(need.main_a, fault.low_a)
    return Ask(fault.high_a, block_a, f"{need.source}; {fault.source}", known, fault)


def _branch_ask(need: InterruptNeed, fault: Fault, rated_a: float, *, has_main: bool) -> Ask:
    if need.branch_a is None:
        is_as_main = rated_a >= need.main_a >= fault.high_a
        limit_a, low_a = fault.high_a, fault.low_a
        source, known = (need.source, need.provenance) if is_as_main else (fault.source, fault.provenance)
    elif need.is_final or fault.high_a <= need.branch_a:
        limit_a = low_a = need.branch_a
        source, known = need.source, need.provenance
    else:
        limit_a, low_a = fault.high_a, max(need.branch_a, fault.low_a)
        source, known = f"{need.source}; {fault.source}", need.provenance
    return Ask(limit_a, None if has_main else low_a, source, known, fault)


def _check(
    found: Case, leads: BankLeads, ask: Ask, rated_a: float, device_source: str, provenance: Provenance
) -> Check:
    title = "Main fuse" if is_main(found) else found.kind.from_to
    return limit_check(
        rule="F17",
        key=found.key("interrupting"),
        subject=found.subject,
        title=f"{title}: interrupting rating",
        value=rated_a,
        limit=ask.limit_a,
        unit="A",
        at_least=True,
        block_beyond=ask.block_a,
        beyond=Verdict.CAUTION if ask.block_a is None else Verdict.BLOCK,
        at_limit=Verdict.CAUTION if ask.is_sum else Verdict.PASS,  # a text asks for "at least" its figure
        sentences=_sentences(found, leads, ask, rated_a),
        source=f"{ask.source}; {device_source}",
        provenance=weakest(ask.provenance, provenance),
        formula="I_cn ≥ I_sc" if ask.fault is None else f"I_cn ≥ I_sc; {ask.fault.formula}",
        substituted=f"{kilo(rated_a)} ≥ {kilo(ask.limit_a)}"
        + ("" if ask.fault is None else f"; {ask.fault.substituted}, range {ask.fault.words}"),
        terms=(
            Term("I_cn", "interrupting rating of the fuse or breaker", rated_a, "A"),
            *(() if ask.fault is None else ask.fault.terms),
        ),
        guesses=found.guesses,
    )


def _sentences(found: Case, leads: BankLeads, ask: Ask, rated_a: float) -> dict[Verdict, str]:
    if ask.fault is None:
        return {
            Verdict.PASS: f"{kilo(rated_a)} breaks what any starting battery of the table can give.",
            Verdict.CAUTION: f"{kilo(rated_a)} at the starting battery, whose cold cranking amps are not "
            f"known: up to {kilo(ask.limit_a)} is asked for.",
        }
    where = _where(found, ask.fault)
    short = f"{kilo(rated_a)} where {where} can drive {ask.fault.words}"
    asks = f"{kilo(ask.limit_a)} DC or more"
    ends = f"{asks}, or it may burst instead of opening"
    if not is_main(found) and ask.block_a is None:
        ends = f"the main fuse must open first, or fit {asks}"
    breaks = f"{kilo(rated_a)} breaks what {where} can drive here, {ask.fault.words}."
    if rated_a < ask.fault.high_a:  # a printed row for known cranking amps asks for less than the sum
        breaks = (
            f"{kilo(rated_a)} where the table asks for {kilo(ask.limit_a)} by cranking amps; by its capacity"
            f" {where} could drive {ask.fault.words}: {kilo(ask.fault.high_a)} is surer."
        )
    return {
        Verdict.PASS: breaks,
        Verdict.CAUTION: f"{short}: {ends}.{_ask_maker(ask)}",
        Verdict.BLOCK: f"{short}: too little, {ends}.",
    }


def _where(found: Case, fault: Fault) -> str:
    if found.circuit.kind is CircuitKind.BATTERY_LINKS and fault.count > 0:
        rows = in_parallel(_bank(found))
        if rows > 1:
            return "the other battery" if rows == 2 else f"the other {rows - 1} batteries"
    return "the bank"


def _bank(found: Case) -> BankInput:
    bank = found.around.system.bank
    assert bank is not None
    return bank


def _ask_maker(ask: Ask) -> str:
    if ask.fault is None or ask.fault.provenance is Provenance.MAKER:
        return ""
    return " Ask the battery maker for its short-circuit current or internal resistance."


def _missing(found: Case, missing: str) -> Check:
    title = "Main fuse" if is_main(found) else found.kind.from_to
    return missing_check(
        rule="F17",
        key=found.key("interrupting"),
        subject=found.subject,
        title=f"{title}: interrupting rating",
        missing=missing,
        unit="A",
        source="marking on the fuse or breaker; short-circuit current of the bank",
    )
