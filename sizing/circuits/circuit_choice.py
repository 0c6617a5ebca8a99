"""How a circuit's conductor and device are found: those chosen, else the smallest that pass."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sizing.cable.ampacity import Ampacity, Laying, cable_ampacity, standard_ratings
from sizing.cable.circuit_kinds import KindFacts, Protection, circuit_facts
from sizing.cable.conductors import Conductor, conductor, ladder
from sizing.cable.currents import FUSE_EACH_FROM
from sizing.cable.overcurrent import StringFuse, dc_ratings, round_up, string_fuse
from sizing.cable.rulesets import facts as rule_facts
from sizing.cable.wire import Drop, drop
from sizing.circuits.surroundings import Basis, Surroundings
from sizing.core.inputs import CableStandard, CircuitInput, CircuitKind, OcpdInput, RuleSet
from sizing.core.judge import is_within

#: Array cable is proposed no thinner: plugs and glands of arrays are made for 10 AWG or 4 mm²
#: (common practice, no source). [mm²]
SMALLEST_PV_MM2 = {CableStandard.AWG: 5.26, CableStandard.SAE: 4.7, CableStandard.METRIC: 4.0}
LARGEST_MARINE_MM2 = 107.2  # 4/0, the last row of 33 CFR 183.425 table 5
AC_TERMINAL_C = 60  # NFPA 70 (2017) 110.14(C)(1)(a): 100 A and below, unless marked [°C]


@dataclass(frozen=True, slots=True)
class Need:
    """Whether a circuit needs a device of its own, and why. ``None``: a fact is missing."""

    is_required: bool | None
    reason: str
    string_fuse: StringFuse | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """What a circuit is wired and protected with, by whom it was chosen, and what that means."""

    cable: Conductor | None
    is_proposed_size: bool
    ampacity: Ampacity | None
    drop: Drop | None
    ocpd: OcpdInput | None
    is_proposed_fuse: bool
    need: Need
    waits_for_current: bool = False

    @property
    def is_unprotected(self) -> bool:
        """Return whether a needed device is missing: none fitted, or none made for the current."""
        return self.need.is_required is True and self.ocpd is None and not self.is_open

    @property
    def is_open(self) -> bool:
        """Return whether a device could not be proposed yet because a fact is missing."""
        return self.ocpd is None and (self.need.is_required is None or self.waits_for_current)


def choose(around: Surroundings, circuit: CircuitInput, basis: Basis) -> Choice:
    """Return conductor and device of a circuit: as chosen, or the smallest that pass everything."""
    kind, need = circuit_facts(circuit.kind), protection_need(around, circuit, basis)
    rule_set = rule_set_of(around.system.rule_set, circuit)
    cable, is_proposed = None, circuit.size is None
    circuit = _with_its_device(around, circuit)
    if circuit.size is not None:
        cable = conductor(circuit.size, circuit.cable_standard)
    elif basis.design_a is not None:
        cable = _smallest(rule_set, circuit, basis, kind, need)
    rated = None if cable is None else cable_ampacity(rule_set, cable, laying(circuit))
    device, proposes = _device(circuit, basis, need, rated, kind)
    return Choice(
        cable=cable,
        is_proposed_size=is_proposed and cable is not None,
        ampacity=rated,
        drop=None if cable is None else circuit_drop(circuit, cable, basis),
        ocpd=device,
        is_proposed_fuse=proposes,
        need=need,
        waits_for_current=basis.design_a is None and not circuit.has_no_ocpd,
    )


def _with_its_device(around: Surroundings, circuit: CircuitInput) -> CircuitInput:
    """None fitted rules over any device named; a fuse named on a string is the device of its circuit."""
    if circuit.has_no_ocpd:
        return replace(circuit, ocpd=None)
    if circuit_facts(circuit.kind).protection is not Protection.STRINGS or circuit.ocpd:
        return circuit
    for each in around.served_strings(circuit):
        if each.string.fuse_a is not None:
            fuse = OcpdInput(each.string.fuse_a, voltage_rating_v=each.string.fuse_voltage_rating_v)
            return replace(circuit, ocpd=fuse)
    return circuit


def rule_set_of(rule_set: RuleSet, circuit: CircuitInput) -> RuleSet:
    """Return the rules a circuit is judged by: 120 V circuits of a vehicle are wired by the code.

    NFPA 70 (2017) 551.32 and article 551 hold for the line-voltage side whatever the shop uses for DC.
    """
    is_marine_ac = rule_set is RuleSet.MARINE_105C and circuit_facts(circuit.kind).is_ac
    return RuleSet.CODE_75C if is_marine_ac else rule_set


def laying(circuit: CircuitInput) -> Laying:
    """Return how a circuit's conductors lie; line-voltage terminals count as 60 °C, 110.14(C)(1)(a)."""
    is_ac = circuit_facts(circuit.kind).is_ac
    return Laying(
        bundle_count=circuit.bundle_count,
        ambient_c=circuit.ambient_c,
        in_engine_space=circuit.in_engine_space,
        on_roof_in_sun=circuit.on_roof_in_sun,
        roof_clearance_m=circuit.roof_clearance_m,
        in_raceway=circuit.in_raceway,
        insulation_c=circuit.insulation_c,
        terminal_c=min(circuit.terminal_c, AC_TERMINAL_C) if is_ac else circuit.terminal_c,
        is_exposed_pv=circuit_facts(circuit.kind).is_pv and not circuit.in_raceway,
        parallel_conductors=circuit.parallel_conductors,
    )


def circuit_drop(circuit: CircuitInput, cable: Conductor, basis: Basis) -> Drop | None:
    """Return the drop of a circuit on a cable; ``None`` while length or current is not known."""
    if circuit.run_len_m is None or basis.drop_a is None or not basis.circuit_v:
        return None
    return drop(
        cable,
        circuit.run_len_m,
        basis.drop_a,
        basis.circuit_v,
        conductor_temp_c=circuit.conductor_temp_c,
        parallel_conductors=circuit.parallel_conductors,
    )


def drop_limit(circuit: CircuitInput) -> tuple[float | None, float | None]:
    """Return the drop a circuit may have and the drop that blocks it [-]; other loads may lose 10 %."""
    kind = circuit_facts(circuit.kind)
    if circuit.kind is CircuitKind.BUS_TO_DC_PANEL and not circuit.is_critical:
        return kind.drop_block_fraction, kind.drop_block_fraction
    return kind.drop_limit_fraction, kind.drop_block_fraction


def protection_need(around: Surroundings, circuit: CircuitInput, basis: Basis) -> Need:
    """Return whether a circuit needs a device of its own."""
    protection = circuit_facts(circuit.kind).protection
    if protection is Protection.STRINGS:
        return _string_need(around, circuit)
    if protection is Protection.ARRAY:
        return _array_need(around, circuit, basis)
    if protection is Protection.PARALLEL_BATTERIES:
        return _links_need(around)
    if protection is Protection.NEVER:
        return Need(False, "no fuse in the negative")
    return Need(True, "every conductor fed by a battery, a charger or a line needs one")


def ratings_for(kind: KindFacts) -> tuple[float, ...]:
    """Return the ratings a device of this kind of circuit is proposed from [A]."""
    return standard_ratings() if kind.is_ac else dc_ratings()


def carries(rule_set: RuleSet, rated: Ampacity, basis: Basis) -> bool:
    """Return whether a conductor carries its circuit: after factors, and under code also before them."""
    if rated.usable_a is None or basis.design_a is None or basis.continuous_a is None:
        return False
    if not rule_facts(rule_set).is_code:
        return is_within(rated.usable_a, basis.design_a, at_least=True)
    after, before = rated.corrected_a or 0.0, rated.terminal_a or 0.0
    return is_within(after, basis.continuous_a, at_least=True) and is_within(
        before, basis.design_a, at_least=True
    )


def candidates(rule_set: RuleSet, circuit: CircuitInput) -> tuple[Conductor, ...]:
    """Return the sizes that may be proposed for a circuit, thinnest first."""
    standard = CableStandard(circuit.cable_standard)
    if standard is CableStandard.AWG:
        standard = rule_facts(rule_set).cable_standard
    least_mm2 = rule_facts(rule_set).smallest_mm2
    if circuit_facts(circuit.kind).is_pv:
        least_mm2 = SMALLEST_PV_MM2[standard]
    most_mm2 = LARGEST_MARINE_MM2 if rule_set is RuleSet.MARINE_105C else 1e9
    return tuple(each for each in ladder(standard) if least_mm2 <= each.area_mm2 + 1e-9 <= most_mm2 + 1e-6)


def _smallest(
    rule_set: RuleSet, circuit: CircuitInput, basis: Basis, kind: KindFacts, need: Need
) -> Conductor | None:
    """Smallest that passes all; else the smallest that carries the current; else the largest there is."""
    ladder_here = candidates(rule_set, circuit)
    wanted_a = _wanted_rating(circuit, basis, need, kind)
    safe: Conductor | None = None
    for cable in ladder_here:
        rated = cable_ampacity(rule_set, cable, laying(circuit))
        is_safe = carries(rule_set, rated, basis) and _protects(rated, wanted_a)
        if is_safe and _drops_little(circuit, cable, basis):
            return cable
        if is_safe and safe is None:
            safe = cable
    return safe or (ladder_here[-1] if ladder_here else None)


def _protects(rated: Ampacity, rating_a: float | None) -> bool:
    return rating_a is None or (rated.max_ocpd_a is not None and is_within(rating_a, rated.max_ocpd_a))


def _drops_little(circuit: CircuitInput, cable: Conductor, basis: Basis) -> bool:
    limit, found = drop_limit(circuit)[0], circuit_drop(circuit, cable, basis)
    return limit is None or found is None or is_within(found.drop_fraction, limit)


def _wanted_rating(circuit: CircuitInput, basis: Basis, need: Need, kind: KindFacts) -> float | None:
    if circuit.ocpd is not None:
        return circuit.ocpd.rating_a
    if not need.is_required or circuit.has_no_ocpd or basis.design_a is None:
        return None
    if need.string_fuse is not None:
        return need.string_fuse.rating_a
    return round_up(basis.design_a, ratings_for(kind))


def _device(
    circuit: CircuitInput, basis: Basis, need: Need, rated: Ampacity | None, kind: KindFacts
) -> tuple[OcpdInput | None, bool]:
    """Return the device and whether it is a proposal of ours."""
    if circuit.ocpd is not None:
        return circuit.ocpd, False
    rating_a = _wanted_rating(circuit, basis, need, kind)
    if rating_a is None or rated is None:
        return None, False
    return OcpdInput(rating_a=rating_a, at_both_ends=kind.needs_both_ends), True


def _string_need(around: Surroundings, circuit: CircuitInput) -> Need:
    strings = around.strings(circuit)
    served = around.served_strings(circuit)
    if not served:
        return Need(None, "the strings are not known")
    limits = [each.max_series_fuse_a for each in served]
    known = [limit for limit in limits if limit is not None]
    limit_a = min(known) if len(known) == len(limits) else None
    method = rule_facts(around.system.rule_set).string_fuse_method
    others_a = sum(each.isc_a for each in strings) - min(each.isc_a for each in served)
    found = string_fuse(
        len(strings), max(each.isc_a for each in served), limit_a, method, others_isc_a=max(0.0, others_a)
    )
    if found.is_required is None:
        return Need(None, "the largest series fuse of the panel is not known", found)
    if found.is_required:
        return Need(True, "the other strings can feed more back than the panel's fuse limit", found)
    return Need(False, "back-feed keeps to the panel's fuse limit: no string fuses needed", found)


def _array_need(around: Surroundings, circuit: CircuitInput, basis: Basis) -> Need:
    count = len(around.strings(circuit))
    if not count or basis.design_a is None:
        return Need(None, "the strings are not known")
    if count > 1:
        return Need(True, "several strings are joined")
    if circuit.size is None:
        return Need(False, "one string, and the cable carries all it can give")
    cable = conductor(circuit.size, circuit.cable_standard)
    rated = cable_ampacity(around.system.rule_set, cable, laying(circuit))
    if carries(around.system.rule_set, rated, basis):
        return Need(False, "one string, and the cable carries all it can give")
    return Need(True, "the cable carries less than the string can give")


def _links_need(around: Surroundings) -> Need:
    bank = around.system.bank
    if bank is None:
        return Need(None, "the bank is not known")
    in_parallel = bank.quantity // max(1, bank.in_series)
    if in_parallel >= FUSE_EACH_FROM:
        return Need(True, f"{in_parallel} batteries in parallel: each has its own fuse")
    return Need(False, "fewer than three batteries in parallel")
