"""The four rule sets a job can be judged by: their titles, editions, and what differs between them.

A limit of provenance ``memory`` never gives ``pass``: the check that rests on it says ``caution`` and why
(see :mod:`sizing.core.judge`). That is why the metric set judges by BS 7671 table 4E1A, which was seen in
print, and shows the ISO 10133 column only for comparison.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from sizing.core.checks import Provenance
from sizing.core.inputs import CableStandard, RuleSet


class StringFuseMethod(StrEnum):
    """Which standard's factors size a PV string fuse."""

    NFPA_70 = "nfpa_70"
    IEC_62548 = "iec_62548"
    IEC_60364_7_712 = "iec_60364_7_712"


@dataclass(frozen=True, slots=True)
class RuleSetFacts:
    """What one rule set asks, beyond its ampacity table."""

    rule_set: RuleSet
    title: str
    edition: str
    is_code: bool  # NFPA 70: two conductor checks, next size up, small-conductor limits, rooftop adder
    base_column_c: int  # insulation column the derating starts from
    cable_standard: CableStandard  # sizes the engine proposes
    string_fuse_method: StringFuseMethod
    ac_voltage_v: float  # of an inverter or a shore line
    smallest_mm2: float  # thinnest single conductor in a vehicle
    smallest_source: str
    ocpd_source: str
    ocpd_provenance: Provenance


_SMALLEST_MARINE: Final = "33 CFR 183.425: at least 16 AWG as a single conductor"

FACTS: Final = MappingProxyType(
    {
        RuleSet.MARINE_105C: RuleSetFacts(
            rule_set=RuleSet.MARINE_105C,
            title="marine-style 105 °C copper",
            edition="ABYC E-11 105 °C column = 33 CFR 183.425 table 5 (30 °C air), used by analogy",
            is_code=False,
            base_column_c=105,
            cable_standard=CableStandard.AWG,
            string_fuse_method=StringFuseMethod.NFPA_70,
            ac_voltage_v=120.0,
            smallest_mm2=1.31,
            smallest_source=_SMALLEST_MARINE,
            ocpd_source="ABYC E-11: fuse or breaker not above the ampacity of the conductor",
            ocpd_provenance=Provenance.PRINTED,
        ),
        RuleSet.CODE_75C: RuleSetFacts(
            rule_set=RuleSet.CODE_75C,
            title="code, 75 °C copper",
            edition="NFPA 70 (2017), tables 310.15(B)(16), (B)(17), (B)(2)(a), (B)(3)(a)",
            is_code=True,
            base_column_c=75,
            cable_standard=CableStandard.AWG,
            string_fuse_method=StringFuseMethod.NFPA_70,
            ac_voltage_v=120.0,
            smallest_mm2=1.31,
            smallest_source=_SMALLEST_MARINE,
            ocpd_source="NFPA 70 (2017) 240.4(B) next size up, 240.4(D) small conductors",
            ocpd_provenance=Provenance.PRINTED,
        ),
        RuleSet.CODE_90C: RuleSetFacts(
            rule_set=RuleSet.CODE_90C,
            title="code, 90 °C copper, terminals as marked",
            edition="NFPA 70 (2017), tables 310.15(B)(16), (B)(17), (B)(2)(a), (B)(3)(a), 110.14(C)",
            is_code=True,
            base_column_c=90,
            cable_standard=CableStandard.AWG,
            string_fuse_method=StringFuseMethod.NFPA_70,
            ac_voltage_v=120.0,
            smallest_mm2=1.31,
            smallest_source=_SMALLEST_MARINE,
            ocpd_source="NFPA 70 (2017) 240.4(B) next size up, 240.4(D) small conductors",
            ocpd_provenance=Provenance.PRINTED,
        ),
        RuleSet.METRIC: RuleSetFacts(
            rule_set=RuleSet.METRIC,
            title="metric, 90 °C copper",
            edition="BS 7671 table 4E1A (30 °C air), IEC 60228 areas; ISO 10133 for comparison only",
            is_code=False,
            base_column_c=90,
            cable_standard=CableStandard.METRIC,
            string_fuse_method=StringFuseMethod.IEC_62548,
            ac_voltage_v=230.0,
            smallest_mm2=1.0,
            smallest_source="ISO 10133 clause 7: single conductors over 200 mm at least 1 mm²",
            ocpd_source="fuse or breaker rated not above the capacity of the cable (IEC 60364-4-43, from"
            " memory)",
            ocpd_provenance=Provenance.COMMON_PRACTICE,
        ),
    }
)


def facts(rule_set: RuleSet) -> RuleSetFacts:
    """Return what is fixed for one rule set."""
    return FACTS[rule_set]


def rule_set_title(rule_set: RuleSet) -> str:
    """Return title and edition in one line, as printed on every paper.

    Parameters
    ----------
    rule_set : RuleSet
        One of the four. [-]

    Returns
    -------
    str
        Words. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] The editions are those of :data:`FACTS`.
    """
    found = FACTS[rule_set]
    return f"{found.title} ({found.edition})"
