"""The current a short circuit draws where a device stands: batteries in parallel, every conductor between."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from sizing.cable.bank_fault import BatterySource, battery_source, in_parallel
from sizing.circuits.circuit_case import Case, case
from sizing.circuits.surroundings import Surroundings
from sizing.core.checks import Provenance, Term
from sizing.core.customary import show_both
from sizing.core.inputs import BankInput, CircuitKind, SystemInput
from sizing.core.judge import show

#: Fault currents are worked at this conductor temperature, where copper carries most of them. [°C]
COPPER_C: Final = 20.0
LEAD_KINDS: Final = (
    CircuitKind.BATTERY_TO_MAIN_FUSE,
    CircuitKind.BATTERY_LINKS,
    CircuitKind.SHUNT_TO_BATTERY,
)
LINK: Final = "link"  # the name of a battery's link among settled paths


@dataclass(frozen=True, slots=True)
class BankLeads:
    """What lies between the batteries and the bus: conductors and the main device."""

    link_ohm: float  # both legs of the link of one battery
    positive_ohm: float  # battery to main device to bus
    negative_ohm: float  # bus to battery
    main: Case | None  # the circuit with the main device; None where there is none


@dataclass(frozen=True, slots=True)
class Fault:
    """The prospective current where a device stands, both ends of its range, and how it was got. [A]"""

    low_a: float
    high_a: float
    formula: str
    substituted: str
    terms: tuple[Term, ...]
    source: str
    provenance: Provenance
    count: int  # rows of batteries that feed it

    @property
    def words(self) -> str:
        """Return the range in kiloamps."""
        low, high = show(self.low_a / 1000), show(self.high_a / 1000, "kA")
        return high if f"{low} kA" == high else f"{low} to {high}"


def bank_leads(around: Surroundings, cases: Iterable[Case] | None = None) -> BankLeads:
    """Return what lies between the batteries and the bus; cases already worked need not be worked again.

    A conductor of unknown length or size counts as none, and of several the shortest: the current comes out
    too high rather than too low.
    """
    if cases is None:
        wanted = (each for each in around.system.circuits if each.kind in LEAD_KINDS)
        cases = [case(around, each) for each in wanted]
    by_kind: dict[CircuitKind, list[Case]] = {kind: [] for kind in LEAD_KINDS}
    for each in cases:
        if each.circuit.kind in by_kind:
            by_kind[each.circuit.kind].append(each)
    link, positive, negative = (
        by_kind[kind]
        for kind in (
            CircuitKind.BATTERY_LINKS,
            CircuitKind.BATTERY_TO_MAIN_FUSE,
            CircuitKind.SHUNT_TO_BATTERY,
        )
    )
    mains = [each for each in positive if each.choice.ocpd is not None]
    settled = dict(around.system.settled_paths)
    return BankLeads(
        link_ohm=settled.get(LINK, 2 * _least(link, _whole_ohm)),
        positive_ohm=_least(positive, _whole_ohm),
        negative_ohm=_least(negative, _whole_ohm),
        main=mains[0] if mains else None,
    )


def fault_paths(system: SystemInput) -> tuple[tuple[str, float], ...]:
    """Return what lies in the way of a short circuit at each device, for ``settled_paths``.

    Parameters
    ----------
    system : SystemInput
        A design, its cables given or proposed. [m]

    Returns
    -------
    tuple of (name, resistance)
        By circuit, both legs, and ``"link"``. [Ω]

    Raises
    ------
    InputOutOfRange
        If a circuit names a size that no table has.

    References
    ----------
    .. [1] As :func:`fault_at`.
    """
    around = Surroundings(system)
    cases = [case(around, each) for each in system.circuits]
    leads = bank_leads(around, cases)
    fed = [each for each in cases if each.kind.is_battery_fed]
    return ((LINK, leads.link_ohm), *((each.circuit.id, _between_ohm(each, leads)) for each in fed))


def fault_at(found: Case, leads: BankLeads, bank: BankInput) -> Fault:
    """Return the prospective current at the device of a circuit, fed by the house bank.

    Parameters
    ----------
    found : Case
        The circuit; a device on a battery link is fed by the other batteries, or by its own. [-]
    leads : BankLeads
        Conductors between batteries and bus. [Ω]
    bank : BankInput
        The batteries. [-]

    Returns
    -------
    Fault
        Lower and upper end. [A]

    Raises
    ------
    Nothing; what is not known counts as no resistance.

    Notes
    -----
    ``I = E/(1/ΣG + R_c)`` with ``ΣG = 1/R + (n - 1)/(R + R_link)``: of n rows in parallel one stands at the
    take-off. Copper at 20 °C, lengths as given: a guess is not lengthened here. Chargers add their rated
    output at most and are left out.

    References
    ----------
    .. [1] IEC 61660-1: a battery as a voltage behind a resistance, conductors in series.
    """
    source, count = battery_source(bank), in_parallel(bank)
    if found.circuit.kind is CircuitKind.BATTERY_LINKS:
        return _at_a_link(source, count, leads)
    settled = dict(found.around.system.settled_paths)
    conductors_ohm = settled.get(found.circuit.id, _between_ohm(found, leads))
    return _fault(source, count, leads.link_ohm, conductors_ohm)


def _at_a_link(source: BatterySource, count: int, leads: BankLeads) -> Fault:
    """A device on one of several batteries sees its sisters, which feed its battery's own short circuit.

    What its own battery gives to a fault beyond it is less from three batteries on.
    """
    sisters = max(1, count - 1)
    return _fault(source, sisters, leads.link_ohm, 0.0)


def _fault(source: BatterySource, count: int, link_ohm: float, conductors_ohm: float) -> Fault:
    low_a, high_a = (
        source.emf_v / (1.0 / _conductance(ohm, count, link_ohm) + conductors_ohm)
        for ohm in (source.high_ohm, source.low_ohm)
    )
    bank_mohm = 1000.0 / _conductance(source.low_ohm, count, link_ohm)
    return Fault(
        low_a=low_a,
        high_a=high_a,
        formula="I_sc = E/(R_bank + R_conductors), upper end",
        substituted=f"{show(source.emf_v)} / ({show(bank_mohm, '', 3)} + "
        f"{show(conductors_ohm * 1000, '', 3)} mΩ) = {show(high_a / 1000, 'kA')}",
        terms=(
            Term("E", "full batteries at rest", source.emf_v, "V"),
            Term("R_row", "resistance of one row of batteries, lower end", source.low_ohm * 1000, "mΩ"),
            Term("n", "rows that feed the fault", float(count)),
            Term("R_bank", "all rows and their links in parallel", bank_mohm, "mΩ"),
            Term(
                "R_conductors",
                f"conductors up to the fuse, both legs, {show_both(20.0, '°C')}",
                conductors_ohm * 1000,
                "mΩ",
            ),
        ),
        source=source.source,
        provenance=source.provenance,
        count=count,
    )


def _conductance(row_ohm: float, count: int, link_ohm: float) -> float:
    return 1.0 / row_ohm + (count - 1) / (row_ohm + link_ohm)


def _between_ohm(found: Case, leads: BankLeads) -> float:
    """Return the conductors between the bank and a device [Ω], both legs."""
    if found.circuit.kind is CircuitKind.BATTERY_TO_MAIN_FUSE:
        return _up_to_device_ohm(found) + leads.negative_ohm
    return leads.positive_ohm + leads.negative_ohm + 2 * _up_to_device_ohm(found)


def _up_to_device_ohm(found: Case) -> float:
    """Return one leg from what feeds a circuit to its device [Ω]; only the main's run ends at its device."""
    device = found.choice.ocpd
    away_m = None if device is None else device.distance_to_source_m
    if found.circuit.kind is CircuitKind.BATTERY_TO_MAIN_FUSE:
        known = [length for length in (away_m, found.given_len_m) if length is not None]
        return _ohm(found, min(known, default=0.0))
    return _ohm(found, away_m or 0.0)


def _whole_ohm(found: Case) -> float:
    return _ohm(found, found.given_len_m or 0.0)


def _ohm(found: Case, length_m: float) -> float:
    cable = found.choice.cable
    if cable is None:
        return 0.0
    return length_m * cable.resistance_ohm_per_m(COPPER_C) / found.circuit.parallel_conductors


def _least(cases: list[Case], ohm_of: Callable[[Case], float]) -> float:
    return min((ohm_of(each) for each in cases), default=0.0)
