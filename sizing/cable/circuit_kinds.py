"""What is fixed about each circuit of the schedule, C1 to C17: names, drop limit, protection, joints."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from sizing.cable.conductors import Conductor
from sizing.core.checks import Provenance
from sizing.core.customary import NM_PER_IN_LB, pair, show_both
from sizing.core.inputs import CircuitKind
from sizing.tables import PrintedValue, rows

DROP_SOURCE: Final = "limits of common practice; 3% critical and 10% other circuits: ABYC E-11"
#: No DC circuit of a vehicle may lose more than this: the general limit of ABYC E-11. [-]
DROP_GENERAL_FRACTION: Final = 0.10


class Protection(StrEnum):
    """When a circuit needs a device of its own."""

    ALWAYS = "always"
    STRINGS = "strings"  # when the strings can feed each other beyond the panel's limit (F13)
    ARRAY = "array"  # when strings are joined, or the cable is thinner than the array can feed
    PARALLEL_BATTERIES = "parallel_batteries"  # from three batteries in parallel
    NEVER = "never"


class Joint(StrEnum):
    """What the conductor is screwed to at the end that matters most."""

    CLAMP = "clamp"  # screw clamp of a controller, breaker or panel
    BATTERY_M8 = "battery_m8"
    INVERTER_STUD = "inverter_stud"
    SMALL_CLAMP = "small_clamp"


@dataclass(frozen=True, slots=True)
class KindFacts:
    """What is fixed about one kind of circuit, its names first: every page takes them from here.

    ``title`` says what it connects, ``from_to`` the same as short as a column of the schedule allows.
    """

    title: str
    from_to: str
    drop_limit_fraction: float | None  # None: no limit of its own
    drop_block_fraction: float | None  # beyond this a drop blocks; None: it never does by itself
    protection: Protection
    fuse_place: str
    disconnect: str
    joint: Joint
    is_pv: bool = False
    is_ac: bool = False
    is_battery_fed: bool = False  # a bank stands behind it: interrupting rating and distance matter
    starts_at_post: bool = False
    needs_both_ends: bool = False
    label: str = ""
    wire_title: str = ""  # where a person with a tape needs other words than the title

    @property
    def on_field_sheet(self) -> str:
        """Return what the field sheet calls a wire of this circuit."""
        return self.wire_title or self.title[:1].upper() + self.title[1:]


FACTS: Final = MappingProxyType(
    {
        CircuitKind.STRINGS_TO_COMBINER: KindFacts(
            title="panel strings to combiner",
            wire_title="Strings to combiner",
            from_to="strings–combiner",
            drop_limit_fraction=0.03,
            drop_block_fraction=None,
            protection=Protection.STRINGS,
            fuse_place="string fuse at the combiner",
            disconnect="PV connectors, never under load",
            joint=Joint.CLAMP,
            is_pv=True,
        ),
        CircuitKind.HOME_RUN: KindFacts(
            title="combiner to controller (home run)",
            from_to="combiner–controller",
            drop_limit_fraction=0.03,
            drop_block_fraction=None,
            protection=Protection.ARRAY,
            fuse_place="at the combiner",
            disconnect="2-pole DC PV switch within reach of the controller",
            joint=Joint.CLAMP,
            is_pv=True,
            label="Live with switch off when sun is on array",
        ),
        CircuitKind.CONTROLLER_TO_BUS: KindFacts(
            title="controller to bus",
            from_to="controller–bus",
            drop_limit_fraction=0.015,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the battery or bus end",
            disconnect="battery breaker",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.BATTERY_TO_MAIN_FUSE: KindFacts(
            title="battery + to main fuse",
            from_to="battery (+)–main fuse",
            drop_limit_fraction=None,
            drop_block_fraction=None,
            protection=Protection.ALWAYS,
            fuse_place="at the battery post",
            disconnect="main battery switch",
            joint=Joint.BATTERY_M8,
            is_battery_fed=True,
            starts_at_post=True,
        ),
        CircuitKind.BATTERY_LINKS: KindFacts(
            title="battery links",
            from_to="battery links",
            drop_limit_fraction=None,
            drop_block_fraction=None,
            protection=Protection.PARALLEL_BATTERIES,
            fuse_place="one at each battery",
            disconnect="",
            joint=Joint.BATTERY_M8,
            is_battery_fed=True,
            starts_at_post=True,
            label="Equal lengths; take off diagonally or at a busbar",
        ),
        CircuitKind.BUS_TO_INVERTER: KindFacts(
            title="bus to inverter",
            from_to="bus–inverter",
            drop_limit_fraction=0.02,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="inverter switch, 300 A or more",
            joint=Joint.INVERTER_STUD,
            is_battery_fed=True,
        ),
        CircuitKind.SHUNT_TO_BATTERY: KindFacts(
            title="shunt to battery −",
            from_to="shunt–battery (−)",
            drop_limit_fraction=None,
            drop_block_fraction=None,
            protection=Protection.NEVER,
            fuse_place="none in the negative",
            disconnect="",
            joint=Joint.BATTERY_M8,
            label="All negatives on the load side of the shunt",
        ),
        CircuitKind.START_BATTERY_TO_DC_DC: KindFacts(
            title="start battery to DC-DC",
            from_to="start battery–DC-DC",
            drop_limit_fraction=0.03,
            drop_block_fraction=0.08,
            protection=Protection.ALWAYS,
            fuse_place="at both ends",
            disconnect="ignition controlled",
            joint=Joint.CLAMP,
            is_battery_fed=True,
            starts_at_post=True,
            needs_both_ends=True,
        ),
        CircuitKind.DC_DC_TO_BUS: KindFacts(
            title="DC-DC to bus",
            from_to="DC-DC–bus",
            drop_limit_fraction=0.015,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.CHARGER_TO_BUS: KindFacts(
            title="converter or charger to bus",
            from_to="converter or charger–bus",
            drop_limit_fraction=0.015,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="breaker on the AC side",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.BUS_TO_DC_PANEL: KindFacts(
            title="bus to DC panel",
            from_to="bus–DC panel",
            drop_limit_fraction=0.03,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="panel main",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.SLIDES_AND_JACKS: KindFacts(
            title="slides, jacks, breakaway",
            from_to="bus–slides, jacks, breakaway",
            drop_limit_fraction=0.10,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="auto-reset breaker at the bus; breakaway not through a switch",
            disconnect="none in the breakaway",
            joint=Joint.CLAMP,
            is_battery_fed=True,
            label="Breakaway brake feed: must stay live with the disconnect open",
        ),
        CircuitKind.INVERTER_AC_OUT: KindFacts(
            title="inverter AC out",
            wire_title="Inverter AC out to sub-panel",
            from_to="inverter–AC sub-panel",
            drop_limit_fraction=0.03,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="AC breaker at the inverter",
            disconnect="AC breaker; GFCI on outlets",
            joint=Joint.CLAMP,
            is_ac=True,
            label="Inverter present: two sources",
        ),
        CircuitKind.SHORE_AC_IN: KindFacts(
            title="shore AC in",
            wire_title="Shore to inverter-charger",
            from_to="shore–inverter-charger AC in",
            drop_limit_fraction=0.03,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="AC breaker at the shore inlet",
            disconnect="transfer switch",
            joint=Joint.CLAMP,
            is_ac=True,
        ),
        CircuitKind.SENSE_AND_MONITOR: KindFacts(
            title="sense and monitor",
            wire_title="Sense, temperature, monitor",
            from_to="sense, temperature, monitor",
            drop_limit_fraction=None,
            drop_block_fraction=None,
            protection=Protection.ALWAYS,
            fuse_place="at the source",
            disconnect="",
            joint=Joint.SMALL_CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.PORTABLE_INLET: KindFacts(
            title="portable panel inlet",
            from_to="portable panel inlet–bus",
            drop_limit_fraction=0.03,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="covered connector",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
        CircuitKind.BATTERY_HEATER: KindFacts(
            title="battery heater",
            wire_title="Heated battery feed",
            from_to="bus–battery heater",
            drop_limit_fraction=0.10,
            drop_block_fraction=DROP_GENERAL_FRACTION,
            protection=Protection.ALWAYS,
            fuse_place="at the bus",
            disconnect="thermostat",
            joint=Joint.CLAMP,
            is_battery_fed=True,
        ),
    }
)


def circuit_facts(kind: CircuitKind) -> KindFacts:
    """Return what is fixed about a kind of circuit: its names, drop limits, protection and joint.

    Parameters
    ----------
    kind : CircuitKind
        The circuit; its value is the id that prints. [-]

    Returns
    -------
    KindFacts
        Names, drop limits as a share of the system's voltage, protection and joint. [-]

    Raises
    ------
    Nothing; every kind is in the table.

    References
    ----------
    .. [1] Limits of common practice; 3 % for critical and 10 % for other circuits: ABYC E-11.
    """
    return FACTS[kind]


@dataclass(frozen=True, slots=True)
class JointTorque:
    """How tight a joint is made, where the maker gives no other number."""

    torque_nm: float | None
    low_nm: float | None
    high_nm: float | None
    source: str
    provenance: Provenance

    @property
    def words(self) -> str:
        """Return the torque as it prints: a range where one is known."""
        if self.torque_nm is None:
            return "by the maker's manual"
        if self.low_nm is not None and self.high_nm is not None and self.low_nm != self.high_nm:
            return pair(
                f"{self.low_nm:g}–{self.high_nm:g} N·m",
                f"{_in_lb(self.low_nm)}–{_in_lb(self.high_nm)} in-lb",
            )
        return show_both(self.torque_nm, "N·m", 2)


def _in_lb(newton_m: float) -> str:
    return f"{newton_m / NM_PER_IN_LB:.0f}"


_STUDS: Final = {
    # low, high [N·m]; seen in the makers' manuals named, the maker of the part at hand wins
    Joint.BATTERY_M8: (9.6, 10.7, "M8 battery terminal: an AGM maker's torque table"),
    Joint.INVERTER_STUD: (
        13.6,
        16.3,
        "5/16 in inverter stud, ‹13.6 to 16.3 N·m|10 to 12 lb-ft›: an inverter maker's manual",
    ),
}
_CLAMP_SCREW: Final = "slotted head No.10+, slot wider than 1.2 mm or longer than 6.4 mm"
_CLAMP_BANDS: Final = (
    (5.261, "18-10 AWG"),
    (8.367, "8 AWG"),
    (21.15, "6-4 AWG"),
    (26.67, "3 AWG"),
    (33.62, "2 AWG"),
    (42.41, "1 AWG"),
    (67.43, "1/0-2/0 AWG"),
    (107.2, "3/0-4/0 AWG"),
)


def joint_torque(joint: Joint, cable: Conductor) -> JointTorque:
    """Return the torque of a joint [N·m]; the maker's number on the part always wins.

    Parameters
    ----------
    joint : Joint
        What the conductor is screwed to. [-]
    cable : Conductor
        Its size decides the clamp screw. [mm²]

    Returns
    -------
    JointTorque
        Torque, range where one is printed, source and provenance. [N·m]

    Raises
    ------
    Nothing; a size beyond the table has no torque of its own.

    References
    ----------
    .. [1] UL 486A-B as NFPA 70 (2017) informative annex I, table I.1; makers' manuals for studs.
    """
    if joint in _STUDS:
        low, high, source = _STUDS[joint]
        return JointTorque(round((low + high) / 2, 1), low, high, source, Provenance.MAKER)
    printed = _clamp_torque(cable)
    if printed is None:
        return JointTorque(None, None, None, "beyond NFPA 70 annex I table I.1", Provenance.MAKER)
    return JointTorque(printed.value, None, None, printed.source, printed.provenance)


def _clamp_torque(cable: Conductor) -> PrintedValue | None:
    band = next((name for area, name in _CLAMP_BANDS if cable.area_mm2 <= area + 1e-9), None)
    for row in rows("terminal_torque"):
        if row.text("screw_type") == _CLAMP_SCREW and row.text("conductor_or_slot_or_socket") == band:
            return PrintedValue(float(row.text("torque_Nm")), row.source, row.provenance, row.note)
    return None
