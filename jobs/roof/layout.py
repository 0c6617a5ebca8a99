"""Works out where things lie on a roof: panels, feet, obstacles, lid sweeps, rafters, in millimeters.

x runs from the rear edge forward, y from the right edge to the left; both start at the edge of the flat
part of the roof. Nothing here draws or judges.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import sizing
from jobs.models import Obstacle, Survey
from jobs.roof.state import RoofObstacle, RoofPanel, RoofState, SurveyedRoof
from jobs.roof.wires import NO_WIRES, Wires, box_place, place_mm, wires_of

#: A lid opens to about 110° and then leans this share of its length over its hinge side; common practice. [-]
LID_LEAN: Final = math.sin(math.radians(20.0))
#: Feet stand at least this far from the end of a frame; common practice. [mm]
FOOT_END_MM: Final = 100.0
#: Feet may be moved this far to stand on a rafter; half the usual spacing. [mm]
FOOT_SHIFT_MM: Final = 203.0
#: A foot this near to a rafter's middle counts as on it (a 1½ in rafter, screws either side). [mm]
ON_RAFTER_MM: Final = 10.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle along the axes of the roof [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def length(self) -> float:
        """Return the size along the vehicle [mm]."""
        return self.x1 - self.x0

    @property
    def width(self) -> float:
        """Return the size across the vehicle [mm]."""
        return self.y1 - self.y0

    @property
    def middle(self) -> tuple[float, float]:
        """Return the middle (x, y) [mm]."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    def grown(self, by: float) -> Box:
        """Return the box with ``by`` [mm] added on every side."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def within(self, other: Box) -> Box:
        """Return the part of the box that lies in another."""
        return Box(
            max(self.x0, other.x0), max(self.y0, other.y0), min(self.x1, other.x1), min(self.y1, other.y1)
        )


@dataclass(frozen=True, slots=True)
class RoofShape:
    """The flat roof and what is asked of it [mm]."""

    length: float
    width: float
    edge_radius: float = 0.0
    edge_clearance: float = 0.0
    front_clearance: float = 0.0
    walkway_width: float = 0.0
    rafters: tuple[float, ...] = ()
    is_first_rafter_known: bool = False

    @property
    def box(self) -> Box:
        """Return the flat part."""
        return Box(0.0, 0.0, self.length, self.width)


@dataclass(frozen=True, slots=True)
class PanelShape:
    """A panel as it lies: outline, top and underside above the roof [mm], feet (x, y), string, place."""

    number: int
    name: str
    box: Box
    is_turned: bool
    underside: float
    top: float
    feet: tuple[tuple[float, float], ...]
    feet_count: int
    fasteners_per_foot: int
    string: str
    place: int  # in its string, from 1; 0 in none
    controller: str
    cells_along: int
    cells_across: int
    is_flexible: bool
    box_at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class ObstacleShape:
    """An obstacle: outline, height, what must stay clear of it, and where its lid leans when open.

    ``key`` names it in stored checks; ``mark`` is its own key in the survey, the same before it is stored.
    """

    key: str
    mark: str
    kind: str
    name: str
    box: Box
    is_round: bool
    height: float
    keep_out: float
    sweep: Box | None
    will_be_removed: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """All that lies on one roof."""

    roof: RoofShape
    panels: tuple[PanelShape, ...]
    obstacles: tuple[ObstacleShape, ...]
    gland: tuple[float, float] | None
    wires: Wires = NO_WIRES

    @property
    def staying(self) -> tuple[ObstacleShape, ...]:
        """Return the obstacles that are still there when the panels come."""
        return tuple(obstacle for obstacle in self.obstacles if not obstacle.will_be_removed)

    @property
    def feet_near_rafters(self) -> int:
        """Return how many of the drawn feet stand on a rafter."""
        return sum(
            any(abs(x - rafter) <= ON_RAFTER_MM for rafter in self.roof.rafters)
            for panel in self.panels
            for x, _y in panel.feet
        )


def survey_layout(surveyed: SurveyedRoof) -> Layout | None:
    """Return the roof as surveyed, without panels; None while its length or width is not known."""
    if not surveyed.length_m or not surveyed.width_m:
        return None
    length, width = surveyed.length_m * 1000, surveyed.width_m * 1000
    roof = RoofShape(
        length=length,
        width=width,
        edge_radius=surveyed.edge_radius_mm or 0.0,
        edge_clearance=surveyed.edge_clearance_mm,
        front_clearance=surveyed.front_clearance_mm,
        walkway_width=surveyed.walkway_width_mm,
        rafters=_rafters(surveyed, length),
        is_first_rafter_known=surveyed.rafter_first_mm is not None,
    )
    # By place, not by when they were typed: an obstacle that was put back is drawn as it was before.
    found = sorted(surveyed.obstacles, key=lambda one: (one.x_m, one.y_m, one.key))
    obstacles = tuple(_obstacle(obstacle) for obstacle in found)
    return Layout(roof=roof, panels=(), obstacles=obstacles, gland=place_mm(surveyed.gland))


def roof_json(surveyed: SurveyedRoof) -> dict[str, Any]:
    """Return what a layout is judged on as plain data, so that a stored judgment knows when it is old."""
    layout = survey_layout(surveyed)
    if layout is None:
        return {}
    obstacles = [_obstacle_json(obstacle) for obstacle in layout.obstacles]
    roof = {name: getattr(layout.roof, name) for name in RoofShape.__slots__}
    return {"roof": {**roof, "rafters": list(layout.roof.rafters)}, "things": obstacles}


def _obstacle_json(obstacle: ObstacleShape) -> dict[str, Any]:
    return {
        "kind": obstacle.kind,
        "box": _corners(obstacle.box),
        "is_round": obstacle.is_round,
        "height": round(obstacle.height, 1),
        "keep_out": round(obstacle.keep_out, 1),
        "sweep": None if obstacle.sweep is None else _corners(obstacle.sweep),
        "will_be_removed": obstacle.will_be_removed,
    }


def _corners(box: Box) -> list[float]:
    return [round(value, 1) for value in (box.x0, box.y0, box.x1, box.y1)]


def design_layout(
    state: RoofState, built: sizing.SystemInput | None = None, roof: Layout | None = None
) -> Layout | None:
    """Return the roof with a design's panels, feet and strings as planned, or as ``built``.

    ``roof`` is the roof as it was surveyed at acceptance; None takes the survey as it stands.
    """
    bare = roof or survey_layout(state.surveyed)
    if bare is None:
        return None
    controllers = {str(panel.string): panel.controller for panel in state.panels if panel.string is not None}
    overlaid = {placed.id: placed for placed in built.panels} if built else {}
    places = _places(built) if built else {}
    panels = tuple(
        _panel(panel, bare.roof, controllers, overlaid.get(str(panel.number)), places.get(str(panel.number)))
        for panel in state.panels
        if panel.model.panel_sheet is not None
    )
    return replace(bare, panels=panels, wires=wires_of(state))


def _places(built: sizing.SystemInput) -> dict[str, int]:
    """Return the place of each panel in its string as built."""
    return {one: place for string in built.strings for place, one in enumerate(string.panel_ids, start=1)}


def _rafters(surveyed: SurveyedRoof, length: float) -> tuple[float, ...]:
    """Return where the rafters cross; an unknown first one is drawn one spacing from the rear."""
    spacing = surveyed.rafter_spacing_mm
    if not spacing or surveyed.rafter_kind == Survey.RafterKind.NONE:
        return ()
    first = spacing if surveyed.rafter_first_mm is None else surveyed.rafter_first_mm
    count = max(0, math.floor((length - first) / spacing) + 1)
    return tuple(first + step * spacing for step in range(min(count, 200)))


def _obstacle(obstacle: RoofObstacle) -> ObstacleShape:
    x0, y0 = obstacle.x_m * 1000, obstacle.y_m * 1000
    box = Box(x0, y0, x0 + obstacle.length_m * 1000, y0 + obstacle.width_m * 1000)
    return ObstacleShape(
        key=str(obstacle.pk or obstacle.key),
        mark=obstacle.key,
        kind=obstacle.kind,
        name=obstacle.name,
        box=box,
        is_round=obstacle.is_round,
        height=obstacle.height_m * 1000,
        keep_out=obstacle.keep_out_m * 1000,
        sweep=_sweep(box, obstacle.swing),
        will_be_removed=obstacle.will_be_removed,
    )


def _sweep(box: Box, swing: str) -> Box | None:
    """Return the strip over which an open lid leans, on its hinge side."""
    along, across = box.length * LID_LEAN, box.width * LID_LEAN
    strips = {
        Obstacle.Swing.FRONT: Box(box.x1, box.y0, box.x1 + along, box.y1),
        Obstacle.Swing.REAR: Box(box.x0 - along, box.y0, box.x0, box.y1),
        Obstacle.Swing.LEFT: Box(box.x0, box.y1, box.x1, box.y1 + across),
        Obstacle.Swing.RIGHT: Box(box.x0, box.y0 - across, box.x1, box.y0),
    }
    return strips.get(Obstacle.Swing(swing)) if swing else None


def _panel(
    panel: RoofPanel,
    roof: RoofShape,
    controllers: Mapping[str, str],
    overlaid: sizing.PlacedPanel | None,
    place: int | None,
) -> PanelShape:
    sheet = panel.model.sheet
    size = sheet if overlaid is None else overlaid.panel  # as accepted: the catalog may have changed since
    length, width = size.length_m * 1000, size.width_m * 1000
    columns, rows = sheet.cell_columns or 0, sheet.cell_rows or 0
    if panel.is_turned:
        length, width, columns, rows = width, length, rows, columns
    x0, y0 = panel.x_m * 1000, panel.y_m * 1000
    box = Box(x0, y0, x0 + length, y0 + width)
    string = "" if panel.string is None else str(panel.string)
    feet = panel.feet
    if overlaid is not None:
        feet, string = overlaid.feet, overlaid.string_id or ""
    underside = panel.height_above_roof_m * 1000
    return PanelShape(
        number=panel.number,
        name=panel.model.name,
        box=box,
        is_turned=panel.is_turned,
        underside=underside,
        top=underside + size.thickness_m * 1000,
        feet=feet_places(box, feet, roof.rafters),
        feet_count=feet,
        fasteners_per_foot=panel.fasteners_per_foot if overlaid is None else overlaid.fasteners_per_foot,
        string=string,
        place=(panel.place if place is None else place) if string else 0,
        controller=controllers.get(string, "A" if string and overlaid is not None else ""),
        cells_along=columns,
        cells_across=rows,
        is_flexible=sheet.is_flexible,
        box_at=box_place(panel),
    )


def feet_places(box: Box, count: int, rafters: Iterable[float]) -> tuple[tuple[float, float], ...]:
    """Return where ``count`` feet stand: along both long sides, moved onto rafters where these are near."""
    near, far = (count + 1) // 2, count // 2
    if box.length >= box.width:  # rafters cross the long sides: feet can follow them
        lines = tuple(rafters)
        return tuple(
            (x, y)
            for side_count, y in ((near, box.y0), (far, box.y1))
            for x in _on_rafters(_spread(box.x0, box.x1, side_count), lines, box)
        )
    return tuple(
        (x, y)
        for side_count, x in ((near, box.x0), (far, box.x1))
        for y in _spread(box.y0, box.y1, side_count)
    )


def _spread(start: float, end: float, count: int) -> list[float]:
    """Return ``count`` places that share a side evenly: quarter points for two."""
    return [start + (end - start) * (2 * step + 1) / (2 * count) for step in range(count)]


def _on_rafters(places: list[float], rafters: tuple[float, ...], box: Box) -> list[float]:
    """Return the places moved to the nearest rafter that is within reach, on the frame and not taken."""
    taken: list[float] = []
    for place in places:
        near = [
            rafter
            for rafter in rafters
            if abs(rafter - place) <= FOOT_SHIFT_MM
            and box.x0 + FOOT_END_MM <= rafter <= box.x1 - FOOT_END_MM
            and rafter not in taken
        ]
        taken.append(min(near, key=lambda rafter: abs(rafter - place)) if near else place)
    return taken
