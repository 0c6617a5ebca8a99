"""Judges a roof layout: overlaps, keep-outs, edges, lid sweeps, the way to walk.

Each finding is a check like those of the sizing face, says by how much it falls short, and is stored with
them. Clearances come from the survey: they are starting values of the shop, not the text of a standard.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import shapely.affinity
from shapely.geometry import Point, Polygon
from shapely.geometry import box as shapely_box
from shapely.ops import unary_union

import sizing
from jobs.models import Obstacle
from jobs.roof.layout import Box, Layout, ObstacleShape, PanelShape

P, V = sizing.Provenance, sizing.Verdict
#: Panels stand at least this far apart so that frames can move and water run off; common practice. [mm]
PANEL_GAP_MM: Final = 20.0
#: Air under a rigid panel; common practice, 40 to 75 mm is better. [mm]
AIR_GAP_MM: Final = 20.0
#: How far a person on the walkway reaches to work on an obstacle; common practice. [mm]
REACH_MM: Final = 600.0
#: A panel may pass over a low pipe cap with this much air; common practice. [mm]
OVER_STACK_MM: Final = 50.0
#: Half the side of a gland box with its bead of sealant; common practice, no source. [mm]
GLAND_ROOM_MM: Final = 100.0
#: Differences below this are drawing noise, not distances. [mm]
NOISE_MM: Final = 0.5
SHOP: Final = "Clearance set in the survey (shop default)"
PRACTICE: Final = "Common practice, no source"
GEOMETRY: Final = "Computed from the roof plan"
D: Final = sizing.Danger
#: By rule: what suffers, and what to do about it.
_CONCERNS: Final = {
    "roof": (D.PEOPLE, "Measure length and flat width of the roof."),
    "edge": (D.PEOPLE, "Move the panel in from the edge: the wind pulls hardest there."),
    "overlap": (D.EQUIPMENT, "Move one of the panels."),
    "gap": (D.EQUIPMENT, "Move the panels apart."),
    "obstacle": (D.EQUIPMENT, "Move the panel off it."),
    "keep_out": (D.EQUIPMENT, "Move the panel away from it."),
    "lid_sweep": (D.EQUIPMENT, "Move the panel out of the lid's way."),
    "air_gap": (D.MONEY, "Raise the panel: cool cells give more."),
    "gland": (D.EQUIPMENT, "Move the panel off the gland: its seal is inspected twice a year."),
    "walkway": (D.PEOPLE, "Make room for a person to walk, or plan work there without stepping past."),
}
_SERVICED: Final = frozenset({Obstacle.Kind.AIR_CONDITIONER, Obstacle.Kind.AIR_CONDITIONER_LOW})
WALK_TO: Final = _SERVICED | {Obstacle.Kind.VENT, Obstacle.Kind.VENT_RAIN_COVER, Obstacle.Kind.ANTENNA}
WALK_OVER: Final = frozenset({Obstacle.Kind.LADDER, Obstacle.Kind.SEAM})


@dataclass(frozen=True, slots=True)
class Finding:
    """A judgment on a layout, and the numbers of the panels to move where it does not pass."""

    check: sizing.Check
    panels: tuple[int, ...] = ()


def layout_checks(layout: Layout | None) -> tuple[sizing.Check, ...]:
    """Return every judgment on a layout; without a measured roof one that says so."""
    if layout is None:
        return (_unmeasured().check,)
    return tuple(finding.check for finding in layout_findings(layout))


def layout_findings(layout: Layout) -> tuple[Finding, ...]:
    """Return every judgment on a measured roof with the panels it is about."""
    if not layout.panels:
        return ()
    return tuple(
        finding
        for rule in (_edges, _overlaps, _gaps, _obstacles, _keep_outs, _gland, _sweeps, _air_gaps, _walkways)
        for finding in rule(layout)
    )


@functools.lru_cache(maxsize=1024)
def shape_of(area: Box, is_round: bool = False) -> Polygon:
    """Return a box (or the circle or ellipse inside it) as a polygon [mm]."""
    if not is_round:
        return shapely_box(area.x0, area.y0, area.x1, area.y1)
    circle = Point(0, 0).buffer(1.0, quad_segs=16)
    x, y = area.middle
    return shapely.affinity.translate(shapely.affinity.scale(circle, area.length / 2, area.width / 2), x, y)


def in_words(distance_mm: float) -> str:
    """Return a distance in both units, because a stored sentence is read by either kind of shop."""
    return sizing.show_both(distance_mm, "mm")


def _check(
    *,
    rule: str,
    subject: str,
    title: str,
    verdict: sizing.Verdict,
    value_mm: float | None,
    limit_mm: float | None,
    sentence: str,
    source: str,
    provenance: sizing.Provenance,
    formula: str = "gap = shortest distance between the outlines",
    key: str = "",
    panels: Iterable[PanelShape] = (),
) -> Finding:
    margin = None
    if value_mm is not None and limit_mm:
        margin = (value_mm - limit_mm) / limit_mm
    substituted = ""
    if value_mm is not None and limit_mm is not None:
        substituted = f"{in_words(value_mm)}, at least {in_words(limit_mm)}"
    check = sizing.Check(
        rule=f"layout_{rule}",
        key=key or f"{subject}/layout_{rule}",
        subject=subject,
        title=title,
        verdict=verdict,
        value=None if value_mm is None else value_mm / 1000,
        limit=None if limit_mm is None else limit_mm / 1000,
        unit="m",
        margin=margin,
        sentence=sentence,
        source=source,
        provenance=provenance,
        formula=formula,
        substituted=substituted,
        danger=_CONCERNS[rule][0],
        action=_CONCERNS[rule][1],
    )
    return Finding(check, tuple(panel.number for panel in panels))


def _unmeasured() -> Finding:
    return _check(
        rule="roof",
        subject="roof",
        title="Panels on the roof",
        verdict=V.NOT_ENOUGH_DATA,
        value_mm=None,
        limit_mm=None,
        sentence="Length and flat width of the roof are not known: the layout cannot be judged.",
        source=GEOMETRY,
        provenance=P.COMPUTED,
    )


def _named(panel: PanelShape) -> str:
    return f"panel:{panel.number}"


def _edges(layout: Layout) -> Iterable[Finding]:
    """Judge each panel against the roof's edges: over the edge blocks, too near is a caution."""
    roof = layout.roof
    for panel in layout.panels:
        gaps = {
            "rear edge": (panel.box.x0, roof.edge_clearance),
            "right edge": (panel.box.y0, roof.edge_clearance),
            "left edge": (roof.width - panel.box.y1, roof.edge_clearance),
            "front edge": (roof.length - panel.box.x1, roof.front_clearance),
        }
        edge, (gap, wanted) = min(gaps.items(), key=lambda item: item[1][0] - item[1][1])
        if gap < -NOISE_MM:
            verdict = V.BLOCK
            words = f"Panel {panel.number} hangs {in_words(-gap)} over the {edge} of the flat roof."
        elif gap < wanted - NOISE_MM:
            verdict = V.CAUTION
            words = f"Panel {panel.number} is {in_words(wanted - gap)} too close to the {edge}."
        else:
            verdict = V.PASS
            words = f"Panel {panel.number} keeps clear of every edge; the nearest is the {edge}."
        yield _check(
            rule="edge",
            panels=(panel,),
            subject=_named(panel),
            title=f"Panel {panel.number} to the {edge}",
            verdict=verdict,
            value_mm=gap,
            limit_mm=wanted,
            sentence=words,
            source=SHOP,
            provenance=P.SHOP_DEFAULT,
            formula="gap = outline of the panel to the edge of the flat roof",
        )


def _overlaps(layout: Layout) -> Iterable[Finding]:
    """Block where two panels claim the same place."""
    for first, second, shared in _pairs(layout):
        if shared > NOISE_MM:
            yield _check(
                rule="overlap",
                panels=(second,),
                subject=_named(second),
                key=f"panel:{second.number}/layout_overlap:{first.number}",
                title=f"Panels {first.number} and {second.number}",
                verdict=V.BLOCK,
                value_mm=-shared,
                limit_mm=PANEL_GAP_MM,
                sentence=f"Panels {first.number} and {second.number} overlap by {in_words(shared)}.",
                source=GEOMETRY,
                provenance=P.COMPUTED,
                formula="overlap = the smaller side of the shared area",
            )


def _gaps(layout: Layout) -> Iterable[Finding]:
    """Judge the gap between neighbors; one check for the narrowest of them."""
    gaps = [
        (_apart(first.box, second.box), first, second)
        for first, second, shared in _pairs(layout)
        if shared <= NOISE_MM
    ]
    if not gaps:
        return
    gap, first, second = min(gaps, key=lambda item: item[0])
    is_short = gap < PANEL_GAP_MM - NOISE_MM
    pair = f"Panels {first.number} and {second.number}"
    yield _check(
        rule="gap",
        panels=(first, second),
        subject="roof",
        title="Narrowest gap between panels",
        verdict=V.CAUTION if is_short else V.PASS,
        value_mm=gap,
        limit_mm=PANEL_GAP_MM,
        sentence=f"{pair} are {in_words(PANEL_GAP_MM - gap)} too close together."
        if is_short
        else f"{pair} are the closest together, {in_words(gap)} apart.",
        source=PRACTICE,
        provenance=P.COMMON_PRACTICE,
    )


def _pairs(layout: Layout) -> Iterable[tuple[PanelShape, PanelShape, float]]:
    for position, first in enumerate(layout.panels):
        for second in layout.panels[position + 1 :]:
            yield first, second, _shared(first.box, second.box)


def _apart(one: Box, other: Box, is_round: bool = False) -> float:
    """Return the shortest distance from a box to another or the circle in it [mm]; 0 when they meet."""
    along = max(one.x0 - other.x1, other.x0 - one.x1, 0.0)
    across = max(one.y0 - other.y1, other.y0 - one.y1, 0.0)
    if not is_round:
        return math.hypot(along, across)
    return float(shape_of(one).distance(shape_of(other, True)))


def _shared(one: Box, other: Box) -> float:
    """Return how deep two boxes overlap [mm]; 0 when they do not."""
    along = min(one.x1, other.x1) - max(one.x0, other.x0)
    across = min(one.y1, other.y1) - max(one.y0, other.y0)
    return min(along, across) if along > 0 and across > 0 else 0.0


def _passes_over(panel: PanelShape, obstacle: ObstacleShape) -> bool:
    """Return whether the panel clears a low pipe cap below it."""
    return (
        obstacle.kind == Obstacle.Kind.PLUMBING_STACK and panel.underside >= obstacle.height + OVER_STACK_MM
    )


def _obstacles(layout: Layout) -> Iterable[Finding]:
    """Block a panel that lies on something which stays."""
    for panel in layout.panels:
        for obstacle in layout.staying:
            deep = _shared(panel.box, obstacle.box)
            if obstacle.kind == Obstacle.Kind.SEAM or deep <= NOISE_MM:
                continue
            if obstacle.is_round and not shape_of(panel.box).intersects(shape_of(obstacle.box, True)):
                continue
            over = _passes_over(panel, obstacle)
            yield _check(
                rule="obstacle",
                panels=(panel,),
                subject=_named(panel),
                key=f"panel:{panel.number}/layout_obstacle:{obstacle.key}",
                title=f"Panel {panel.number} and {obstacle.name}",
                verdict=V.CAUTION if over else V.BLOCK,
                value_mm=-deep,
                limit_mm=0.0,
                sentence=f"Panel {panel.number} passes over {obstacle.name}: keep the cap within reach."
                if over
                else f"Panel {panel.number} lies {in_words(deep)} over {obstacle.name}.",
                source=PRACTICE if over else GEOMETRY,
                provenance=P.COMMON_PRACTICE if over else P.COMPUTED,
                formula="overlap = the smaller side of the shared area",
            )


def _keep_outs(layout: Layout) -> Iterable[Finding]:
    """Judge the clearance round each obstacle; too little to service an air conditioner blocks."""
    for obstacle in layout.staying:
        if not obstacle.keep_out:
            continue
        found = [
            (_apart(panel.box, obstacle.box, obstacle.is_round), panel)
            for panel in layout.panels
            if not _passes_over(panel, obstacle)
        ]
        found = [(gap, panel) for gap, panel in found if gap > 0]  # on top of it: the obstacle rule speaks
        if not found:
            continue
        gap, panel = min(found, key=lambda item: item[0])
        lacking = in_words(obstacle.keep_out - gap)
        is_short = gap < obstacle.keep_out - NOISE_MM
        verdict = (V.BLOCK if obstacle.kind in _SERVICED else V.CAUTION) if is_short else V.PASS
        yield _check(
            rule="keep_out",
            panels=(panel,),
            subject=f"obstacle:{obstacle.key}",
            title=f"Room around {obstacle.name}",
            verdict=verdict,
            value_mm=gap,
            limit_mm=obstacle.keep_out,
            sentence=f"Panel {panel.number} is {lacking} too close to {obstacle.name}."
            if is_short
            else f"{obstacle.name} keeps its room; panel {panel.number} is the nearest.",
            source=SHOP,
            provenance=P.SHOP_DEFAULT,
        )


def gland_box(layout: Layout) -> Box | None:
    """Return the ground of the gland with its sealant; None while it has no place."""
    if layout.gland is None:
        return None
    x, y = layout.gland
    return Box(x, y, x, y).grown(GLAND_ROOM_MM)


def _gland(layout: Layout) -> Iterable[Finding]:
    """Caution a panel over the gland: nobody sees or mends its seal there."""
    box = gland_box(layout)
    if box is None:
        return
    for panel in layout.panels:
        deep = _shared(panel.box, box)
        if deep > NOISE_MM:
            yield _check(
                rule="gland",
                panels=(panel,),
                subject=_named(panel),
                key=f"panel:{panel.number}/layout_gland",
                title=f"Panel {panel.number} and the gland",
                verdict=V.CAUTION,
                value_mm=-deep,
                limit_mm=0.0,
                sentence=f"Panel {panel.number} lies {in_words(deep)} over the gland and its sealant.",
                source=PRACTICE,
                provenance=P.COMMON_PRACTICE,
                formula="overlap = the smaller side of the shared area",
            )


def _sweeps(layout: Layout) -> Iterable[Finding]:
    """Block a panel in the way of a lid that opens."""
    for obstacle in layout.staying:
        if obstacle.sweep is None:
            continue
        deep, panel = max(
            ((_shared(panel.box, obstacle.sweep), panel) for panel in layout.panels),
            key=lambda item: item[0],
        )
        hits = deep > NOISE_MM
        yield _check(
            rule="lid_sweep",
            panels=(panel,) if hits else (),
            subject=f"obstacle:{obstacle.key}",
            title=f"Lid of {obstacle.name}",
            verdict=V.BLOCK if hits else V.PASS,
            value_mm=-deep if hits else None,
            limit_mm=0.0,
            sentence=f"The open lid of {obstacle.name} reaches {in_words(deep)} over panel {panel.number}."
            if hits
            else f"The lid of {obstacle.name} opens clear of every panel.",
            source="Common practice: a lid opens to about 110°",
            provenance=P.COMMON_PRACTICE,
            formula="reach = lid length · sin 20°",
        )


def _air_gaps(layout: Layout) -> Iterable[Finding]:
    """Caution a rigid panel with too little air below it."""
    low = [panel for panel in layout.panels if not panel.is_flexible]
    if not low:
        return
    panel = min(low, key=lambda item: item.underside)
    is_short = panel.underside < AIR_GAP_MM - NOISE_MM
    yield _check(
        rule="air_gap",
        panels=(panel,),
        subject="roof",
        title="Air under the panels",
        verdict=V.CAUTION if is_short else V.PASS,
        value_mm=panel.underside,
        limit_mm=AIR_GAP_MM,
        sentence=f"Panel {panel.number} has {in_words(AIR_GAP_MM - panel.underside)} too little air below it."
        if is_short
        else f"Every panel has at least {in_words(panel.underside)} of air below it.",
        source=PRACTICE,
        provenance=P.COMMON_PRACTICE,
        formula="gap = underside of the frame to the roof",
    )


def _walkways(layout: Layout) -> Iterable[Finding]:
    """Judge whether a person gets from the ladder to what needs looking after."""
    wanted = layout.roof.walkway_width
    targets = [obstacle for obstacle in layout.staying if obstacle.kind in WALK_TO]
    if not wanted or not targets:
        return
    walkable = WalkableArea(free_roof(layout))
    ladders = [shape_of(t.box) for t in layout.staying if t.kind == Obstacle.Kind.LADDER]
    for obstacle in targets:
        width = widest_way(walkable, layout, ladders, shape_of(obstacle.box, obstacle.is_round))
        is_short = width < wanted - NOISE_MM
        start = "from the ladder" if ladders else "from the edge"
        yield _check(
            rule="walkway",
            subject=f"obstacle:{obstacle.key}",
            title=f"Way to {obstacle.name}",
            verdict=V.CAUTION if is_short else V.PASS,
            value_mm=width,
            limit_mm=wanted,
            sentence=f"The way {start} to {obstacle.name} is {in_words(wanted - width)} too narrow."
            if is_short
            else f"A person gets {start} to within reach of {obstacle.name}.",
            source=SHOP,
            provenance=P.SHOP_DEFAULT,
            formula="width = the widest strip that leads there between panels, things and edges",
        )


def free_roof(layout: Layout) -> Polygon:
    """Return where a foot may be set: the flat roof without panels and what else stands on it."""
    taken = [shape_of(panel.box) for panel in layout.panels]
    taken += [shape_of(t.box, t.is_round) for t in layout.staying if t.kind not in WALK_OVER]
    return shape_of(layout.roof.box).difference(unary_union(taken))


class WalkableArea:
    """Where the middle of a person may be on a free roof, by the width of the way; each worked out once."""

    def __init__(self, free: Polygon) -> None:
        self.free = free
        self.known: dict[float, list[Polygon]] = {}

    def of(self, width: float) -> list[Polygon]:
        """Return the parts of the roof in which a strip of this width [mm] can turn."""
        if width not in self.known:
            inner = self.free.buffer(-width / 2 + 0.01, quad_segs=8)
            self.known[width] = [part for part in getattr(inner, "geoms", [inner]) if not part.is_empty]
        return self.known[width]


def widest_way(walkable: WalkableArea, layout: Layout, ladders: list[Polygon], target: Polygon) -> float:
    """Return the widest strip [mm] that leads from a ladder (or any edge) to within reach of the target.

    Searched between nothing and the width asked for: wider than asked is not looked at.
    """
    wanted = layout.roof.walkway_width
    starts = ladders or [shape_of(layout.roof.box).exterior]
    if _leads(walkable, starts, target, wanted):
        return wanted
    low, high = 0.0, wanted
    while high - low > 2.0:
        middle = (low + high) / 2
        if _leads(walkable, starts, target, middle):
            low = middle
        else:
            high = middle
    return low


def _leads(walkable: WalkableArea, starts: Iterable[Any], target: Polygon, width: float) -> bool:
    near = width / 2 + 50.0
    return any(
        part.distance(target) <= REACH_MM and any(part.distance(start) <= near for start in starts)
        for part in walkable.of(width)
    )
