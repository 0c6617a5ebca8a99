"""What an automatic layout must keep to, and what it answers."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

from sizing.shade.scene.groupings import StringLimits
from sizing.shade.scene.scene import Controller, PlacedPanel, SceneError


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A rectangle no panel may enter: a walkway, a hatch's swing, a service face. [m]"""

    x0_m: float
    y0_m: float
    x1_m: float
    y1_m: float
    name: str = "keep-out"


@dataclass(frozen=True, slots=True)
class LayRules:
    """Clearances [m], allowed types, penalties and limits of one search.

    Penalties are taken off a panel's yearly energy: per hole in the roof, per metre from the gland, per
    kilogram. ``rafters_x_m``: a panel must span two rafters, one near each end, or it is not a candidate.
    ``clearance_m`` is the room round a thing by its name, where it is not ``obstruction_gap_m``; below 0
    panels may cover it. ``ways``: sets of rectangles, one whole set of which must stay free to walk.
    ``keep_placed``: the panels of the scene stay and are laid around.
    """

    grid_m: float = 0.05
    edge_m: float = 0.03
    gap_m: float = 0.02
    obstruction_gap_m: float = 0.05
    panel_z_m: float = 0.06
    type_names: tuple[str, ...] = ()  # empty: all types of the scene
    keep_outs: tuple[KeepOut, ...] = ()
    clearance_m: dict[str, float] = field(default_factory=dict)
    ways: tuple[tuple[KeepOut, ...], ...] = ()
    keep_placed: bool = False
    rafters_x_m: tuple[float, ...] = ()
    panels_max: int | None = None
    holes_per_panel: int = 8
    holes: dict[str, int] = field(default_factory=dict)  # by type, where it differs
    hole_cost_kwh: float = 0.0
    gland_x_m: float | None = None
    gland_y_m: float | None = None
    wire_cost_kwh_m: float = 0.0
    mass_kg: dict[str, float] = field(default_factory=dict)
    mass_cost_kwh_kg: float = 0.0
    time_limit_s: float = 20.0
    controller: Controller | None = None
    string_limits: StringLimits = field(default_factory=StringLimits)

    def check(self) -> None:
        """Refuse rules that cannot be kept; raise SceneError naming the rule."""
        bounds = {
            "grid_m": (self.grid_m, 0.02, 0.5, "m"),
            "edge_m": (self.edge_m, 0.0, 1.0, "m"),
            "gap_m": (self.gap_m, 0.0, 1.0, "m"),
            "obstruction_gap_m": (self.obstruction_gap_m, 0.0, 2.0, "m"),
            "panel_z_m": (self.panel_z_m, 0.0, 1.0, "m"),
            "time_limit_s": (self.time_limit_s, 0.1, 600.0, "s"),
            "hole_cost_kwh": (self.hole_cost_kwh, 0.0, 1000.0, "kWh"),
            "wire_cost_kwh_m": (self.wire_cost_kwh_m, 0.0, 1000.0, "kWh/m"),
            "mass_cost_kwh_kg": (self.mass_cost_kwh_kg, 0.0, 1000.0, "kWh/kg"),
        }
        for name, (value, low, high, unit) in bounds.items():
            if not low <= value <= high:
                raise SceneError(f"rules.{name}", f"must be {low:g} to {high:g} {unit}, got {value}")
        if self.panels_max is not None and not 1 <= self.panels_max <= 60:
            raise SceneError("rules.panels_max", f"must be 1 to 60, got {self.panels_max}")


@dataclass(frozen=True, slots=True)
class LaidPanel:
    """One panel of a layout; ``own_kwh`` is its year alone on a tracker, as the search valued it."""

    panel: PlacedPanel
    own_kwh: float
    penalty_kwh: float


@dataclass(frozen=True, slots=True)
class LayProposal:
    """Panels that fit beside one another, unwired, and how they stand to the best there could be.

    ``gap_fraction``: no other choice on this grid, within the same limits, is worth more by this share.
    """

    panels: tuple[LaidPanel, ...]
    worth_kwh: float
    bound_kwh: float
    gap_fraction: float
    is_proved: bool
    n_candidates: int


@dataclass(frozen=True, slots=True)
class LaidOut:
    """A layout with its best wiring."""

    panels: tuple[LaidPanel, ...]
    power_stc_w: float
    score_kwh: float
    wiring: str
    strings: tuple[tuple[str, ...], ...]
    mean_kwh: float | None
    worst_kwh: float | None
    own_trackers_kwh: float | None


@dataclass(frozen=True, slots=True)
class LayResult:
    """The layout found, how it stands to the best possible, and how the search went."""

    layout: LaidOut
    n_candidates: int
    n_searched: int  # candidates left after those that another one can always replace
    is_proved: bool
    layout_gap_fraction: float  # how much better another layout on this grid could be, before wiring
    bound_kwh: float  # no layout on this grid, however wired, gives more
    gap_fraction: float  # "at most so much better exists", wiring included
    words: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain JSON values."""
        return asdict(self)
