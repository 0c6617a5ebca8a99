"""Knows the way of the wire on a roof: leads from junction boxes to the combiner, home run to the gland.

Places are in millimetres as in ``roof_layout``. Lengths come from the drawing, with slack; what lies inside
the vehicle comes from the survey.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from jobs.models import ConfidenceChoice, Design, DesignCircuit, DesignController, DesignPanel, WireLeg
from jobs.parts.circuits import USUAL_HOME_RUN_M, USUAL_RUN_M
from sizing import CircuitKind

#: Middle of a junction box from the edge of its side; common practice, no source. [mm]
BOX_INSET_MM: Final = 70.0
#: Share of the usual home run that lies inside where nobody measured it; common practice, no source. [-]
INSIDE_SHARE: Final = 0.5
SLACK_WORDS: Final = "corners, sag and drip loops; common practice, no source"

Point = tuple[float, float]
_SUREST_LAST: Final = ("guess", "scaled", "measured")


@dataclass(frozen=True, slots=True)
class Lead:
    """Both wires of one string: from its two ends over the bends to the combiner."""

    string: str
    controller: str
    ends: tuple[Point, Point]  # junction boxes of the first and of the last panel
    bends: tuple[Point, ...]
    combiner: Point

    @property
    def length_mm(self) -> float:
        """Return the one-way path [mm]: half of there and back, since both ends have a wire of their own."""
        first = (*self.bends, self.combiner)[0]
        own = sum(math.dist(end, first) for end in self.ends) / 2
        return own + path_mm((*self.bends, self.combiner))


@dataclass(frozen=True, slots=True)
class Home:
    """The home run of one controller on the roof: combiner, bends, gland (None while it has no place)."""

    controller: str
    combiner: Point
    bends: tuple[Point, ...]
    gland: Point | None

    @property
    def points(self) -> tuple[Point, ...]:
        """Return the way in order."""
        return (self.combiner, *self.bends, *((self.gland,) if self.gland else ()))


@dataclass(frozen=True, slots=True)
class Wires:
    """All wire drawn on one roof."""

    leads: tuple[Lead, ...] = ()
    homes: tuple[Home, ...] = ()


NO_WIRES: Final = Wires()


@dataclass(frozen=True, slots=True)
class DrawnRun:
    """What the drawing says of one circuit, one way [m]."""

    kind: str
    serves: str
    drawn_m: float
    slack_fraction: float
    inside_m: float
    inside_confidence: str  # blank: nothing lies inside

    @property
    def run_len_m(self) -> float:
        """Return the whole path [m]."""
        return round(self.drawn_m * (1 + self.slack_fraction) + self.inside_m, 3)

    @property
    def confidence(self) -> str:
        """Return how well the path is known: scaled from the drawing, or as little as what lies inside."""
        known = (ConfidenceChoice.SCALED, self.inside_confidence or ConfidenceChoice.MEASURED)
        return str(min(known, key=_SUREST_LAST.index))


def path_mm(points: Sequence[Point]) -> float:
    """Return how long the way through these points is [mm]."""
    return sum(math.dist(one, other) for one, other in itertools.pairwise(points))


def box_place(panel: DesignPanel) -> Point:
    """Return the middle of a panel's junction box [mm]."""
    sheet = panel.part.panel_sheet
    length, width = sheet.length_m * 1000, sheet.width_m * 1000
    if panel.is_turned:
        length, width = width, length
    x0, y0 = panel.x_m * 1000, panel.y_m * 1000
    x, y = x0 + length / 2, y0 + width / 2
    if sheet.box_place == sheet.BoxPlace.MIDDLE:
        return x, y
    if (sheet.box_place == sheet.BoxPlace.SHORT) != panel.is_turned:  # at the rear or the front
        return (x0 + length - BOX_INSET_MM if panel.box_is_far else x0 + BOX_INSET_MM), y
    return x, (y0 + width - BOX_INSET_MM if panel.box_is_far else y0 + BOX_INSET_MM)


def combiner_of(controller: DesignController) -> Point | None:
    """Return where the strings of a controller join on the roof [mm]."""
    if controller.combiner_x_m is None or controller.combiner_y_m is None:
        return None
    return controller.combiner_x_m * 1000, controller.combiner_y_m * 1000


def bends_mm(bends_m: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    """Return stored bends in millimetres."""
    return tuple((x * 1000, y * 1000) for x, y in bends_m)


def wires_of(design: Design) -> Wires:
    """Return the wire drawn on a design's roof; controllers without a combiner have none."""
    survey = design.job.survey
    gland = None
    if survey.gland_x_m is not None and survey.gland_y_m is not None:
        gland = (survey.gland_x_m * 1000, survey.gland_y_m * 1000)
    leads, homes = [], []
    for controller in design.controllers.all():
        combiner = combiner_of(controller)
        if combiner is not None:
            homes.append(Home(controller.label, combiner, bends_mm(controller.home_bends_m), gland))
            leads += _leads(design, controller, combiner)
    return Wires(tuple(leads), tuple(homes))


def _leads(design: Design, controller: DesignController, combiner: Point) -> Iterable[Lead]:
    members: dict[int, list[DesignPanel]] = {}
    for panel in design.panels.all():
        if panel.string is not None and getattr(panel.part, "panel_sheet", None) is not None:
            members.setdefault(panel.string.number, []).append(panel)
    for string in design.strings.all():
        panels = sorted(members.get(string.number, []), key=lambda one: (one.position_in_string, one.number))
        if panels and string.controller.label == controller.label:
            yield Lead(
                string=str(string.number),
                controller=controller.label,
                ends=(box_place(panels[0]), box_place(panels[-1])),
                bends=bends_mm(string.lead_bends_m),
                combiner=combiner,
            )


def drawn_runs(design: Design) -> tuple[DrawnRun, ...]:
    """Return what the drawing says of the roof circuits: longest lead and home run of each controller."""
    wires, slack = wires_of(design), design.path_slack_fraction
    runs = []
    for home in wires.homes:
        serves = f"controller:{home.controller}"
        leads = [lead for lead in wires.leads if lead.controller == home.controller]
        inside, sure = _inside(design, CircuitKind.STRINGS_TO_COMBINER)
        runs += [
            DrawnRun(
                CircuitKind.STRINGS_TO_COMBINER,
                f"string:{lead.string}",
                lead.length_mm / 1000,
                slack,
                inside,
                sure,
            )
            for lead in leads
        ]
        if leads:
            longest = max(lead.length_mm for lead in leads) / 1000
            runs.append(DrawnRun(CircuitKind.STRINGS_TO_COMBINER, serves, longest, slack, inside, sure))
        if home.gland is not None:
            inside, sure = _inside(design, CircuitKind.HOME_RUN)
            runs.append(
                DrawnRun(CircuitKind.HOME_RUN, serves, path_mm(home.points) / 1000, slack, inside, sure)
            )
    return tuple(runs)


def _inside(design: Design, kind: str) -> tuple[float, str]:
    """Return what of a circuit's way is not on the roof [m] and how well it is known."""
    legs = [
        leg
        for leg in design.job.survey.wire_legs.all()
        if leg.circuit == kind and leg.place != WireLeg.Place.ROOF
    ]
    if legs:
        sure = min((leg.confidence for leg in legs), key=_SUREST_LAST.index)
        return sum(leg.length_m for leg in legs), sure
    if kind != CircuitKind.HOME_RUN:
        return 0.0, ""
    usual = USUAL_HOME_RUN_M.get(design.job.vehicle.kind, USUAL_RUN_M[CircuitKind.HOME_RUN])
    return round(usual * INSIDE_SHARE, 3), ConfidenceChoice.GUESS


def take_drawn(design: Design) -> list[DesignCircuit]:
    """Set path and confidence of the circuits that are drawn, in memory; return those that changed."""
    runs = {(run.kind, run.serves): run for run in drawn_runs(design)}
    changed = []
    for circuit in design.circuits.all():
        run = runs.get((circuit.kind, circuit.serves))
        if run is None or (circuit.run_len_m, circuit.confidence) == (run.run_len_m, run.confidence):
            continue
        circuit.run_len_m, circuit.confidence = run.run_len_m, run.confidence
        changed.append(circuit)
    return changed
