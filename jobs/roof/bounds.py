"""Where a panel may be stored at all: the one rule that every page and service asks.

Too near or overlapping is judged by ``jobs.roof.checks`` and may be stored. What is refused is only what no
person means: numbers beyond any vehicle, and a panel that lies wholly beside the roof. A stored panel that
breaks the rule (older data, a roof measured anew) is left alone while nobody moves it, and may be moved back
toward the roof: it is judged, not refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import sizing

MOST_PANELS: Final = 60
#: Corner of a panel nearest the rear right: least, most [mm]. No vehicle is longer or wider.
REAR_MM: Final = (-1000.0, 16000.0)
RIGHT_MM: Final = (-1000.0, 4000.0)
#: A panel shares at least this much with the roof, else it lies beside it. [mm]
SHARED_MM: Final = 1.0
_AXES: Final = (("From the rear", REAR_MM), ("From the right", RIGHT_MM))

Size = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Spot:
    """A panel's corner and size along and across the roof [mm]; the size is None without a data sheet."""

    number: int
    corner: tuple[float, float]
    size: tuple[float, float] | None


def spot_of(panel: Any) -> Spot:
    """Return where a stored panel lies."""
    sheet = getattr(panel.part, "panel_sheet", None)
    corner = (panel.x_m * 1000, panel.y_m * 1000)
    if sheet is None:
        return Spot(panel.number, corner, None)
    size = (sheet.length_m * 1000, sheet.width_m * 1000)
    return Spot(panel.number, corner, size[::-1] if panel.is_turned else size)


def roof_size(survey: Any) -> Size:
    """Return length and flat width of a surveyed roof [mm]; None where not measured."""
    length, width = survey.roof_length_m, survey.roof_width_m
    return length * 1000 if length else None, width * 1000 if width else None


def ranges_of(spot: Spot, roof: Size) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return between which numbers the corner must lie along and across [mm]."""
    along, across = (
        _range(_AXES[axis][1], roof[axis], spot.size[axis] if spot.size else None) for axis in (0, 1)
    )
    return along, across


def _range(sane: tuple[float, float], roof: float | None, size: float | None) -> tuple[float, float]:
    if roof is None or size is None:
        return sane
    return max(sane[0], SHARED_MM - size), min(sane[1], roof - SHARED_MM)


def off_by(spot: Spot, roof: Size) -> float:
    """Return how far a panel lies beyond where it may be stored [mm]; 0 where it may."""
    ranges = ranges_of(spot, roof)
    return max(max(low - at, at - high, 0.0) for at, (low, high) in zip(spot.corner, ranges, strict=True))


def refusal_of(spots: Iterable[Spot], before: Mapping[int, Spot], roof: Size) -> str:
    """Return why panels may not be stored so, naming panel, field, limit and unit; blank where they may.

    ``before`` is what was stored, by number: what was not moved, or not further off, is no reason.
    """
    after = list(spots)
    if len(after) > max(MOST_PANELS, len(before)):
        return f"Panels: at most {MOST_PANELS} on one roof."
    for spot in after:
        stored = before.get(spot.number)
        allowed = 0.0 if stored is None else off_by(stored, roof)
        if off_by(spot, roof) > allowed + 0.05:
            return f"Panel {spot.number}, {_fault(spot, roof)}"
    return ""


def _fault(spot: Spot, roof: Size) -> str:
    """Return the number that is wrong and its limits, in both units: a stored error is read by any shop."""
    ranges = ranges_of(spot, roof)
    beyond = [max(low - at, at - high) for at, (low, high) in zip(spot.corner, ranges, strict=True)]
    axis = beyond.index(max(beyond))
    low, high = ranges[axis]
    why = "" if ranges[axis] == _AXES[axis][1] else ", or it lies wholly beside the roof"
    return (
        f"{_AXES[axis][0]}: must be from {sizing.show_both(low, 'mm')} to {sizing.show_both(high, 'mm')}"
        f"{why}; it is {sizing.show_both(spot.corner[axis], 'mm')}."
    )
