"""What an automatic layout must keep to, and what it answers."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields
from typing import Annotated, Any, Final

from pydantic import Field

from sizing.core.limits import Count, Range
from sizing.core.reading import Form
from sizing.shade.scene.groupings import StringLimits
from sizing.shade.scene.scene import MAX_PANELS, Controller, Name, PlacedPanel, SceneError, X, Y

Holes = Annotated[int, Range(0, 200)]


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A rectangle no panel may enter: a walkway, a hatch's swing, a service face. [m]"""

    x0_m: Annotated[X, Field(alias="x0")]
    y0_m: Annotated[Y, Field(alias="y0")]
    x1_m: Annotated[X, Field(alias="x1")]
    y1_m: Annotated[Y, Field(alias="y1")]
    name: Name = "keep-out"


Areas = Annotated[tuple[KeepOut, ...], Count(0, 60, "areas")]


@dataclass(frozen=True, slots=True)
class LayoutRules:
    """Clearances [m], allowed types, penalties and limits of one search.

    Penalties are taken off a panel's yearly energy: per hole in the roof, per meter from the gland, per
    kilogram. ``rafters_x_m``: a panel must span two rafters, one near each end, or it is not a candidate.
    ``clearance_m`` is the room round a thing by its name, where it is not ``obstruction_gap_m``; below 0
    panels may cover it. ``ways``: sets of rectangles, one whole set of which must stay free to walk.
    ``keep_placed``: the panels of the scene stay and are laid around; otherwise their places are tried too.
    """

    grid_m: Annotated[float, Range(0.02, 0.5, "m")] = 0.05
    edge_m: Annotated[float, Range(0.0, 1.0, "m")] = 0.03
    gap_m: Annotated[float, Range(0.0, 1.0, "m")] = 0.02
    obstruction_gap_m: Annotated[float, Range(0.0, 2.0, "m")] = 0.05
    panel_z_m: Annotated[float, Range(0.0, 1.0, "m")] = 0.06
    type_names: Annotated[tuple[Name, ...], Count(0, MAX_PANELS, "names")] = ()  # empty: all of the scene
    keep_outs: Areas = ()
    clearance_m: dict[str, Annotated[float, Range(-1.0, 5.0, "m")]] = field(default_factory=dict)
    ways: Annotated[tuple[Areas, ...], Count(0, 12, "ways")] = ()
    keep_placed: bool = False
    rafters_x_m: Annotated[tuple[X, ...], Count(0, 60, "rafters")] = ()
    panels_max: Annotated[int, Range(1, MAX_PANELS)] | None = None
    holes_per_panel: Holes = 8
    holes: dict[str, Holes] = field(default_factory=dict)  # by type, where it differs
    hole_cost_kwh: Annotated[float, Range(0.0, 1000.0, "kWh")] = 0.0
    gland_x_m: X | None = None
    gland_y_m: Y | None = None
    wire_cost_kwh_m: Annotated[float, Range(0.0, 1000.0, "kWh/m")] = 0.0
    mass_kg: dict[str, Annotated[float, Range(0.0, 200.0, "kg")]] = field(default_factory=dict)
    mass_cost_kwh_kg: Annotated[float, Range(0.0, 1000.0, "kWh/kg")] = 0.0
    time_limit_s: Annotated[float, Range(0.1, 600.0, "s")] = 20.0
    controller: Controller | None = None
    string_limits: StringLimits = field(default_factory=StringLimits)

    def check(self) -> None:
        """Refuse a number out of its range; raise SceneError naming the rule."""
        values = {each.name: getattr(self, each.name) for each in fields(self)}
        LAY.read({name: each for name, each in values.items() if isinstance(each, (int, float))}, at="rules")


#: How the member ``lay`` of a scene file is read.
LAY: Final = Form(LayoutRules, "lay", refusal=SceneError, null_is_absent=True)


@dataclass(frozen=True, slots=True)
class LaidPanel:
    """One panel of a layout; ``own_kwh`` is its year alone on a tracker, as the search valued it."""

    panel: PlacedPanel
    own_kwh: float
    penalty_kwh: float


@dataclass(frozen=True, slots=True)
class LayoutProposal:
    """Panels that fit beside one another, unwired, and how they stand to the best there could be.

    ``gap_fraction``: no other choice of the ``n_candidates`` places tried, within the same limits, is worth
    more by this share; places that were not tried are not spoken of. ``is_proved``: the search came to its
    end over those places.
    """

    panels: tuple[LaidPanel, ...]
    worth_kwh: float
    bound_kwh: float
    gap_fraction: float
    is_proved: bool
    n_candidates: int


@dataclass(frozen=True, slots=True)
class RuleCost:
    """What letting one rule go would add at least: panels, and their energy alone on trackers [kWh/year]."""

    panels: int
    kwh: float


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
class LayoutResult:
    """The layout found, how it stands to the best of the ``n_candidates`` places tried, how the search went.

    Bound and gaps are about those places alone: grid, edges, clearances, neighbors, panels drawn by hand.
    """

    layout: LaidOut
    n_candidates: int
    n_searched: int  # candidates left after those that another one can always replace
    is_proved: bool
    layout_gap_fraction: float  # how much better another layout of them could be, before wiring
    bound_kwh: float  # no layout of these places, however wired, gives more
    gap_fraction: float  # "at most so much better exists", wiring included
    words: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain JSON values."""
        return asdict(self)
