"""What a shade question answers: plain frozen facts that turn into JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

SHADE_ENGINE_VERSION = "2"  # answers of another grid of the sun or rule of asking differ in the last digit


@dataclass(frozen=True, slots=True)
class StringYear:
    """One string of a wiring: what its panels deliver, and would on a bare roof; mean of headings."""

    controller: int
    panel_ids: tuple[str, ...]
    delivered_kwh: float
    unshaded_kwh: float
    loss_fraction: float


@dataclass(frozen=True, slots=True)
class WiringYearResult:
    """A wiring through the year. Headings are those of the result; months January to December."""

    name: str
    unshaded_kwh: float
    kwh_by_heading: tuple[float, ...]
    mean_kwh: float
    worst_kwh: float
    worst_heading_deg: float
    best_kwh: float
    best_heading_deg: float
    mean_loss_fraction: float
    monthly_kwh: tuple[float, ...]
    best_heading_by_month_deg: tuple[float, ...]
    gain_by_parking_fraction: tuple[float, ...]  # of the best heading over the mean, by month
    controller_kwh: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PanelYear:
    """One panel. Light is not electricity: a little shade can cost several times its light."""

    panel_id: str
    light_loss_fraction: float
    own_kwh: float  # alone on a tracker
    own_loss_fraction: float
    delivered_kwh: float | None  # in the main wiring; None where it is not wired
    delivered_loss_fraction: float | None
    marginal_kwh: float | None  # what the wiring would lose without it


@dataclass(frozen=True, slots=True)
class ObstructionCost:
    """What the main wiring would gain in a year if one roof object were gone."""

    name: str
    index: int
    cost_kwh: float
    cost_fraction: float  # of the unshaded year
    panel_ids: tuple[str, ...]  # panels it shades most


@dataclass(frozen=True, slots=True)
class Finding:
    """One plain sentence and the numbers it rests on."""

    kind: str
    sentence: str
    gain_kwh: float
    panel_ids: tuple[str, ...] = ()
    obstruction: str = ""


@dataclass(frozen=True, slots=True)
class ShadeResult:
    """The year of a roof. ``wirings`` in the scene's order, ``ranking`` best first."""

    scene: str
    method: str  # "grid" or "every hour"
    headings_deg: tuple[float, ...]
    main_wiring: str
    wirings: tuple[WiringYearResult, ...]
    ranking: tuple[str, ...]
    strings: tuple[StringYear, ...]
    panels: tuple[PanelYear, ...]
    obstructions: tuple[ObstructionCost, ...]
    findings: tuple[Finding, ...]
    own_trackers_kwh: float | None  # a bound no wiring of these panels can pass; None without detail
    engine_version: str = SHADE_ENGINE_VERSION

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain JSON values."""
        return asdict(self)

    def wiring(self, name: str) -> WiringYearResult:
        """Return one wiring's year."""
        return next(found for found in self.wirings if found.name == name)
