"""What an array gives as it is wired: by its weakest panels, its lowest string, its controller's limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.core.inputs import ControllerInput, ControllerKind, PanelSpec, PlacedPanel, SystemInput
from sizing.energy.used_panel import as_it_is
from sizing.sun.daily_spread import days_as_shares
from sizing.sun.sky import hour_shares

CHARGE_BUS_V: Final = 13.6  # battery voltage while charging, per 12 V, common practice [V]
PWM_BUS_V: Final = 13.2  # battery voltage a PWM controller pulls the panels to, per 12 V [V]
FIELD_POWER: Final = 0.85  # share of rated power a hot flat array hands its controller, common practice [-]

EVEN_DAY: Final = (1.0 / 24.0,) * 24  # where somebody gives light to a polar night


@dataclass(frozen=True, slots=True)
class ArrayGroup:
    """The panels of one controller: power at 1000 W/m² as wired, and the most that gets through [W]."""

    pmp_w: float
    limit_w: float | None = None


def wired_panels(system: SystemInput) -> tuple[PlacedPanel, ...]:
    """Return the panels that give energy: those in a string, or all while no string is drawn."""
    if not system.strings:
        return system.panels
    in_string = {panel_id for string in system.strings for panel_id in string.panel_ids}
    return tuple(placed for placed in system.panels if placed.id in in_string)


def array_groups(system: SystemInput) -> tuple[ArrayGroup, ...]:
    """Return the array by controller; while no string is drawn, all panels on all controllers together.

    Panels in series carry the lowest Imp among them, strings side by side work at the lowest string's Vmp,
    a used panel gives what it was found to give, and a PWM controller pulls every string to the battery.
    """
    if not system.strings:
        limits = [_limit_w(system, unit) for unit in system.controllers]
        return (ArrayGroup(_undrawn_w(system), sum(limits) if limits else None),)
    panels = {placed.id: as_it_is(placed) for placed in system.panels}
    found = []
    for unit in system.controllers:
        strings = [
            [panels[name] for name in string.panel_ids if name in panels]
            for string in system.strings
            if string.controller_id == unit.id
        ]
        strings = [each for each in strings if each]
        if strings:
            found.append(ArrayGroup(_wired_w(system, unit, strings), _limit_w(system, unit)))
    return tuple(found)


def effective_pmp_w(system: SystemInput) -> float:
    """Return the array's power as it is wired [W]."""
    return sum(group.pmp_w for group in array_groups(system))


@dataclass(frozen=True, slots=True)
class Sky:
    """The light of a month at a place: mean day [kWh/m²·day], shade and tilt [-], system factor [-]."""

    latitude_deg: float
    month: int
    psh_h: float
    k_light: float
    k_sys: float


def clipped_wh(group: ArrayGroup, sky: Sky, share: float = 1.0) -> float:
    """Return what of a day's harvest does not get through the controller.

    Parameters
    ----------
    group : ArrayGroup
        Panels and limit of one controller. [W]
    sky : Sky
        The light of the month. [kWh/m²·day]
    share : float
        Light of that day over the month's mean. [-]

    Returns
    -------
    float
        Energy lost to the limit, as it would have reached the battery. [Wh/day]

    Raises
    ------
    Nothing
        Any day can be asked.

    Notes
    -----
    ``k_sys/k_out·Σ max(0, k_out·P·k_light·PSH·r_h - I_out·V_bat)`` over the hours of the day, ``r_h`` the
    share of the day's light. ``k_out`` is 0.85 as for F12, or ``k_sys`` where that is higher: the limit bites
    before what is lost behind the controller. An even day: gusts of cloud clip more within the hour.

    References
    ----------
    .. [1] Collares-Pereira and Rabl (1979), Solar Energy 22, 155-164 (share of the hour).
    """
    if group.limit_w is None:
        return 0.0
    k_out = max(FIELD_POWER, sky.k_sys)
    whole_day_wh = k_out * group.pmp_w * sky.k_light * sky.psh_h * share
    hours = hour_shares(round(sky.latitude_deg, 2), sky.month) or EVEN_DAY
    if whole_day_wh * max(hours) <= group.limit_w:
        return 0.0
    return sky.k_sys / k_out * sum(max(0.0, whole_day_wh * hour - group.limit_w) for hour in hours)


def mean_clipped_wh(group: ArrayGroup, sky: Sky) -> float:
    """Return what a month's mean day loses to the limit [Wh/day]: the mean over ten equally likely days."""
    days = days_as_shares(sky.latitude_deg, sky.month, sky.psh_h) or (1.0,)
    total = 0.0
    for share in reversed(days):  # finest first: a poorer day clips no more
        lost = clipped_wh(group, sky, share)
        if lost <= 0.0:
            break
        total += lost
    return total / len(days)


def _undrawn_w(system: SystemInput) -> float:
    """Return the power of panels no string is drawn of [W]; PWM pulls each to the battery at the best."""
    panels = [as_it_is(placed) for placed in system.panels]
    kinds = {unit.kind for unit in system.controllers}
    if kinds != {ControllerKind.PWM}:
        return sum(panel.pmp_w for panel in panels)
    bus_v = PWM_BUS_V * system.v_nominal_v / 12.0
    return sum(panel.imp_a * min(panel.vmp_v, bus_v) for panel in panels)


def _wired_w(system: SystemInput, unit: ControllerInput, strings: list[list[PanelSpec]]) -> float:
    amps = [min(panel.imp_a for panel in string) for string in strings]
    volts = [sum(panel.vmp_v for panel in string) for string in strings]
    if unit.kind is ControllerKind.PWM:
        bus_v = PWM_BUS_V * system.v_nominal_v / 12.0
        return sum(a * min(v, bus_v) for a, v in zip(amps, volts, strict=True))
    alone_w = sum(panel.vmp_v * panel.imp_a for string in strings for panel in string)
    together_w = min(volts) * sum(amps)
    if alone_w <= 0:  # volts and amps so small that their product is nothing
        return 0.0
    return sum(panel.pmp_w for string in strings for panel in string) * min(1.0, together_w / alone_w)


def _limit_w(system: SystemInput, unit: ControllerInput) -> float:
    bus_v = PWM_BUS_V if unit.kind is ControllerKind.PWM else CHARGE_BUS_V
    return unit.rated_output_a * bus_v * system.v_nominal_v / 12.0
