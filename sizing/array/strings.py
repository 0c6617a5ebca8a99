"""What panels wired together give a controller: volts cold and hot, amps, back-feed (F9 to F13)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from sizing.array.module_voltage import (
    HOT_CELL_GLUED_C,
    HOT_CELL_RIGID_C,
    cold_voltages,
    vmp_at_v,
    voc_at_v,
)
from sizing.cable import overcurrent as ocpd
from sizing.core.inputs import (
    Chemistry,
    ControllerInput,
    ControllerKind,
    PanelSpec,
    PlacedPanel,
    StringInput,
    SystemInput,
)
from sizing.core.results import ControllerResult

VOLTAGE_USE: Final = 0.97  # share of the controller's limit a cold string may reach, shop policy [-]
CONTINUOUS: Final = 1.25  # NFPA 70 (2017), 690.8(A): bright-sky factor on short-circuit current [-]
DEVICE: Final = 1.5625  # NFPA 70 (2017), 690.8(B) and 690.9(B): 1.25 × 1.25 [-]
FIELD_POWER: Final = 0.85  # share of rated power a hot flat array reaches, common practice [-]
#: Absorption voltage assumed per 12 V where no profile is set; common practice. [V]
DEFAULT_ABSORB_V: Final = {
    Chemistry.LFP: 14.2,
    Chemistry.AGM: 14.4,
    Chemistry.GEL: 14.1,
    Chemistry.FLOODED: 14.4,
}
#: Working battery voltage per 12 V while charging hard; common practice. [V]
BULK_V: Final = {Chemistry.LFP: 12.8, Chemistry.AGM: 12.0, Chemistry.GEL: 12.0, Chemistry.FLOODED: 12.0}


@dataclass(frozen=True, slots=True)
class WiredString:
    """A string with its panels in order."""

    string: StringInput
    panels: tuple[PanelSpec, ...]

    @property
    def ns(self) -> int:
        """Return the number of panels in series."""
        return len(self.panels)

    @property
    def imp_a(self) -> float:
        """Return the string's working current [A]: its weakest panel's."""
        return min((panel.imp_a for panel in self.panels), default=0.0)

    @property
    def isc_a(self) -> float:
        """Return the string's short-circuit current [A]: its strongest panel's, the safe side for fuses."""
        return max((panel.isc_a for panel in self.panels), default=0.0)

    @property
    def vmp_v(self) -> float:
        """Return the string's working voltage at 25 °C [V]."""
        return sum(panel.vmp_v for panel in self.panels)

    @property
    def voc_v(self) -> float:
        """Return the string's open-circuit voltage at 25 °C [V]."""
        return sum(panel.voc_v for panel in self.panels)

    @property
    def pmp_w(self) -> float:
        """Return the string's rated power [W]."""
        return sum(panel.pmp_w for panel in self.panels)

    @property
    def max_series_fuse_a(self) -> float | None:
        """Return the smallest series-fuse rating of its panels [A]; ``None`` when one is not known."""
        ratings = [panel.max_series_fuse_a for panel in self.panels]
        return (
            None
            if not ratings or None in ratings
            else min(rating for rating in ratings if rating is not None)
        )


def wired_strings(system: SystemInput, controller: ControllerInput) -> tuple[WiredString, ...]:
    """Return the strings of a controller with their panels; a string without panels is left out."""
    panels: dict[str, PlacedPanel] = {placed.id: placed for placed in system.panels}
    found = (
        WiredString(string, tuple(panels[name].panel for name in string.panel_ids if name in panels))
        for string in system.strings
        if string.controller_id == controller.id
    )
    return tuple(wired for wired in found if wired.panels)


def coldest_c(system: SystemInput) -> float | None:
    """Return the lowest temperature known of route and storage [°C]; storage counts even if never used."""
    return min(
        (value for value in (system.tmin_travel_c, system.tmin_storage_c) if value is not None), default=None
    )


def hot_cell_c(system: SystemInput) -> float:
    """Return the cell temperature of a hot noon [°C]."""
    return HOT_CELL_GLUED_C if system.glued_panels else HOT_CELL_RIGID_C


def absorb_v(system: SystemInput, controller: ControllerInput) -> float | None:
    """Return the absorption voltage the controller must reach [V]: as set, by chemistry, or unknown."""
    if controller.absorb_v is not None:
        return controller.absorb_v
    if system.bank is None:
        return None
    return DEFAULT_ABSORB_V[system.bank.chemistry] * system.v_nominal_v / 12.0


def series_maximum(
    panel: PanelSpec, *, pv_voltage_limit_v: float, tmin_c: float, use_fraction: float = VOLTAGE_USE
) -> int | None:
    """Return how many such panels may stand in series (F11).

    Parameters
    ----------
    panel : PanelSpec
        Data sheet. [V]
    pv_voltage_limit_v : float
        The controller's highest PV voltage. [V]
    tmin_c : float
        Lowest temperature of route and storage. [°C]
    use_fraction : float
        Share of the limit that is used, by the shop's policy. [-]

    Returns
    -------
    int or None
        Largest series count, 0 when one panel is too much; ``None`` when the cold voltage is unknown. [-]

    Raises
    ------
    InputOutOfRange
        If the temperature is not a number.

    References
    ----------
    .. [1] NFPA 70 (2017), 690.7(A); the share used is shop policy.
    """
    volts = cold_voltages(panel, tmin_c)
    if not volts or volts[0].voc_v <= 0:
        return None
    return math.floor(pv_voltage_limit_v * use_fraction / volts[0].voc_v + 1e-9)


def series_minimum(panel: PanelSpec, *, start_v: float, run_v: float, cell_c: float) -> int | None:
    """Return how many such panels it takes to start and keep running on a hot roof (F11).

    Parameters
    ----------
    panel : PanelSpec
        Data sheet. [V]
    start_v, run_v : float
        Open-circuit volts needed to start and working volts needed to run. [V]
    cell_c : float
        Cell temperature of a hot noon. [°C]

    Returns
    -------
    int or None
        Smallest series count; ``None`` when a coefficient is missing or the panel gives no volts. [-]

    Raises
    ------
    Nothing
        Unknown data is an answer.

    References
    ----------
    .. [1] Common practice: absorption voltage + 5 V to start and + 1 V to run.
    """
    voc, vmp = voc_at_v(panel, cell_c), vmp_at_v(panel, cell_c)
    if voc is None or vmp is None or voc <= 0 or vmp <= 0:
        return None
    return max(1, math.ceil(start_v / voc - 1e-9), math.ceil(run_v / vmp - 1e-9))


def controller_result(system: SystemInput, controller: ControllerInput) -> ControllerResult:
    """Return what one controller sees of its strings."""
    strings = wired_strings(system, controller)
    pmp_w = sum(wired.pmp_w for wired in strings)
    isc_a = sum(wired.isc_a for wired in strings)
    imp_a = sum(wired.imp_a for wired in strings)
    fuse = _string_fuse(strings)
    counts = {wired.ns for wired in strings}
    return ControllerResult(
        id=controller.id,
        ns=counts.pop() if len(counts) == 1 else None,
        np=len(strings),
        pmp_w=pmp_w,
        voc_cold_v=_highest(_by_string(strings, lambda panel: _cold_v(system, panel))),
        voc_stc_v=max((wired.voc_v for wired in strings), default=0.0),
        vmp_hot_v=_lowest(_by_string(strings, lambda panel: vmp_at_v(panel, hot_cell_c(system)))),
        voc_hot_v=_lowest(_by_string(strings, lambda panel: voc_at_v(panel, hot_cell_c(system)))),
        ns_min=_ns_min(system, controller, strings),
        ns_max=_ns_max(system, controller, strings),
        imp_a=imp_a,
        isc_a=isc_a,
        back_feed_a=max((CONTINUOUS * (isc_a - wired.isc_a) for wired in strings), default=0.0),
        needs_string_fuse=fuse[0],
        string_fuse_a=fuse[1],
        output_peak_a=output_peak_a(system, controller, strings),
        clip_fraction=clip_fraction(system, controller, pmp_w),
        array_device_a=ocpd.round_up(DEVICE * isc_a) if strings else None,
        voc_cold_by_method=_cold_by_method(system, strings),
    )


def output_peak_a(
    system: SystemInput, controller: ControllerInput, strings: tuple[WiredString, ...]
) -> float | None:
    """Return the most a controller would put out on a bright cool day [A] (F12), its rating aside."""
    if controller.kind is ControllerKind.PWM:
        return sum(wired.imp_a for wired in strings)
    if system.bank is None:
        return None
    bulk_v = BULK_V[system.bank.chemistry] * system.v_nominal_v / 12.0
    return balance_a(sum(wired.pmp_w for wired in strings), battery_v=bulk_v, share_fraction=FIELD_POWER)


def balance_a(power_w: float, *, battery_v: float, share_fraction: float) -> float:
    """Return the battery-side current of a converter that passes a share of the power given to it [A]."""
    return share_fraction * power_w / battery_v


def clip_fraction(system: SystemInput, controller: ControllerInput, pmp_w: float) -> float | None:
    """Return the share of peak power the controller cannot pass [-] (F12)."""
    volts = absorb_v(system, controller)
    if controller.kind is ControllerKind.PWM or pmp_w <= 0:
        return 0.0
    return (
        None if volts is None else max(0.0, 1.0 - controller.rated_output_a * volts / (FIELD_POWER * pmp_w))
    )


def _string_fuse(strings: tuple[WiredString, ...]) -> tuple[bool | None, float | None]:
    """Return whether strings need a fuse and its rating [A]; the most demanding string decides."""
    if not strings:
        return False, None
    together_a = sum(wired.isc_a for wired in strings)
    verdicts = [
        ocpd.string_fuse(
            len(strings),
            wired.isc_a,
            wired.max_series_fuse_a,
            others_isc_a=max(0.0, together_a - wired.isc_a),
        )
        for wired in strings
    ]
    needed = [verdict.is_required for verdict in verdicts]
    ratings = [verdict.rating_a for verdict in verdicts if verdict.rating_a is not None]
    is_needed = True if True in needed else (None if None in needed else False)
    return is_needed, max(ratings, default=None) if is_needed else None


def _cold_v(system: SystemInput, panel: PanelSpec) -> float | None:
    tmin_c = coldest_c(system)
    volts = cold_voltages(panel, tmin_c) if tmin_c is not None else ()
    return volts[0].voc_v if volts else None


def _cold_by_method(system: SystemInput, strings: tuple[WiredString, ...]) -> tuple[tuple[str, float], ...]:
    """Return the highest string voltage by each method that every panel can answer."""
    tmin_c = coldest_c(system)
    if tmin_c is None or not strings:
        return ()
    totals: dict[str, float] = {}
    for wired in strings:
        by_panel = [{found.method: found.voc_v for found in cold_voltages(p, tmin_c)} for p in wired.panels]
        for method in by_panel[0]:
            if all(method in found for found in by_panel):
                total = sum(found[method] for found in by_panel)
                totals[method] = max(totals.get(method, 0.0), total)
    return tuple(totals.items())


def _ns_max(system: SystemInput, controller: ControllerInput, strings: tuple[WiredString, ...]) -> int | None:
    tmin_c = coldest_c(system)
    if tmin_c is None or not strings:
        return None
    counts = [
        series_maximum(
            panel,
            pv_voltage_limit_v=controller.pv_voltage_limit_v,
            tmin_c=tmin_c,
            use_fraction=system.policy.cold_volts_fraction,
        )
        for panel in _models(strings)
    ]
    return None if None in counts else min(count for count in counts if count is not None)


def _ns_min(system: SystemInput, controller: ControllerInput, strings: tuple[WiredString, ...]) -> int | None:
    volts = absorb_v(system, controller)
    if volts is None or not strings or controller.kind is ControllerKind.PWM:
        return None
    counts = [
        series_minimum(
            panel,
            start_v=volts + controller.start_margin_v,
            run_v=volts + controller.run_margin_v,
            cell_c=hot_cell_c(system),
        )
        for panel in _models(strings)
    ]
    return None if None in counts else max(count for count in counts if count is not None)


def _models(strings: tuple[WiredString, ...]) -> tuple[PanelSpec, ...]:
    """Return each different panel once, in order."""
    return tuple(dict.fromkeys(panel for wired in strings for panel in wired.panels))


def _by_string(
    strings: tuple[WiredString, ...], volts: Callable[[PanelSpec], float | None]
) -> list[float | None]:
    """Return each string's summed volts; ``None`` where one of its panels has none."""
    sums: list[float | None] = []
    for wired in strings:
        found = [volts(panel) for panel in wired.panels]
        sums.append(None if None in found else sum(value for value in found if value is not None))
    return sums


def _highest(values: list[float | None]) -> float | None:
    return None if not values or None in values else max(value for value in values if value is not None)


def _lowest(values: list[float | None]) -> float | None:
    return None if not values or None in values else min(value for value in values if value is not None)
