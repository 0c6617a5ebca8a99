"""How a string plan can take more panels later, and what is the limit then."""

from __future__ import annotations

from typing import Final

from sizing.array.strings import CONTINUOUS, absorb_v, wired_strings
from sizing.cable import overcurrent as ocpd
from sizing.core.inputs import ControllerInput, ControllerKind, SystemInput
from sizing.core.judge import show, show_percent
from sizing.core.results import ControllerResult
from sizing.plans.plan_types import Growth

MOST_MORE: Final = 12  # strings looked ahead
CUT_LIMIT: Final = 0.30  # cut-off above which more panels are wasted, common practice [-]
FIELD_POWER: Final = 0.85


def growth(system: SystemInput, unit: ControllerInput, result: ControllerResult) -> Growth:
    """Return how many equal strings one controller can still take, and what stops the next."""
    strings = wired_strings(system, unit)
    first = strings[0]
    more, limit = 0, ""
    for count in range(result.np + 1, result.np + MOST_MORE + 1):
        limit = _limit(system, unit, count, result.isc_a / result.np, result.pmp_w / result.np)
        if limit:
            break
        more += 1
    fuses = _fuse_words(result, first.isc_a, first.max_series_fuse_a, more)
    step = f"{first.ns} {'panel' if first.ns == 1 else 'panels'} at a time"
    if more:
        words = f"Grows by {step}, {more} more {'string' if more == 1 else 'strings'}{fuses}"
        words += f"; then the limit is {limit}." if limit else "."
    else:
        words = f"Cannot grow by another string of {first.ns}: the limit is {limit}."
    return Growth(unit.id, first.ns, more, limit or "not reached", words + _longer_words(result, first.ns))


def _longer_words(result: ControllerResult, ns: int) -> str:
    """Return how every string could get one panel longer, where the cold allows it."""
    if result.ns_max is None or ns >= result.ns_max:
        return ""
    panels = "panel" if result.np == 1 else "panels"
    return f" Or by {result.np} {panels}, one in each string, to {ns + 1} in series."


def _limit(system: SystemInput, unit: ControllerInput, count: int, isc_a: float, pmp_w: float) -> str:
    """Return what stops ``count`` strings on a controller, or nothing."""
    need_a = CONTINUOUS * count * isc_a
    limit_a = unit.pv_isc_limit_a
    if limit_a is None and unit.kind is ControllerKind.PWM:
        limit_a = unit.rated_output_a
    if limit_a is not None and need_a > limit_a:
        return f"the controller's PV input of {show(limit_a, 'A')}"
    plug_a = min((plug.rating_a for plug in system.plugs if plug.controller_id == unit.id), default=None)
    if plug_a is not None and need_a > plug_a:
        return f"the branch connectors' {show(plug_a, 'A')} (a combiner box lifts it)"
    if unit.pv_power_limit_w is not None and count * pmp_w > unit.pv_power_limit_w:
        return f"the controller's array limit of {show(unit.pv_power_limit_w, 'W')}"
    volts = absorb_v(system, unit)
    if volts is not None and unit.kind is ControllerKind.MPPT:
        cut = 1.0 - unit.rated_output_a * volts / (FIELD_POWER * count * pmp_w)
        if cut > CUT_LIMIT:
            return f"the controller's output ({show_percent(cut)} would be cut off)"
    return ""


def _fuse_words(result: ControllerResult, isc_a: float, max_series_fuse_a: float | None, more: int) -> str:
    """Return from how many strings on fuses are needed, if growing gets there."""
    if result.needs_string_fuse is not False:
        return ""
    for count in range(result.np + 1, result.np + more + 1):
        if ocpd.string_fuse(count, isc_a, max_series_fuse_a).is_required:
            return f", with string fuses from {count} strings on"
    return ""
