"""Measures the wire on a roof: leads from junction boxes to the combiner, home run to the gland.

Places are in millimeters as in ``layout``. Lengths come from the drawing, with slack; what lies inside
the vehicle comes from the survey.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from jobs.models import ConfidenceChoice, Design, DesignCircuit, PanelSheet, WireLeg
from jobs.parts.circuits import USUAL_HOME_RUN_M, USUAL_RUN_M
from jobs.roof.read import roof_state
from jobs.roof.state import Place, RoofController, RoofPanel, RoofState
from sizing import CircuitKind

#: Circuits whose length is drawn on the roof.
_DRAWN: Final = (CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN)
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


def box_place(panel: RoofPanel) -> Point:
    """Return the middle of a panel's junction box [mm]."""
    sheet = panel.model.sheet
    length, width = sheet.length_m * 1000, sheet.width_m * 1000
    if panel.is_turned:
        length, width = width, length
    x0, y0 = panel.x_m * 1000, panel.y_m * 1000
    x, y = x0 + length / 2, y0 + width / 2
    if sheet.box_place == PanelSheet.BoxPlace.MIDDLE:
        return x, y
    if (sheet.box_place == PanelSheet.BoxPlace.SHORT) != panel.is_turned:  # at the rear or the front
        return (x0 + length - BOX_INSET_MM if panel.box_is_far else x0 + BOX_INSET_MM), y
    return x, (y0 + width - BOX_INSET_MM if panel.box_is_far else y0 + BOX_INSET_MM)


def bends_mm(bends_m: Iterable[Sequence[float]]) -> tuple[Point, ...]:
    """Return stored bends in millimeters."""
    return tuple((x * 1000, y * 1000) for x, y in bends_m)


def place_mm(place: Place | None) -> Point | None:
    """Return a place in millimeters."""
    return None if place is None else (place[0] * 1000, place[1] * 1000)


def wires_of(roof: RoofState) -> Wires:
    """Return the wire drawn on a design's roof; controllers without a combiner have none."""
    gland = place_mm(roof.surveyed.gland)
    leads: list[Lead] = []
    homes: list[Home] = []
    for controller in roof.controllers:
        combiner = place_mm(controller.combiner)
        if combiner is not None:
            homes.append(Home(controller.label, combiner, bends_mm(controller.home_bends_m), gland))
            leads += _leads(roof, controller, combiner)
    return Wires(tuple(leads), tuple(homes))


def _leads(roof: RoofState, controller: RoofController, combiner: Point) -> Iterable[Lead]:
    for string in roof.strings:
        if string.controller != controller.label:
            continue
        panels = [one for one in roof.panels_of(string.number) if one.model.panel_sheet is not None]
        if panels:
            yield Lead(
                string=str(string.number),
                controller=controller.label,
                ends=(box_place(panels[0]), box_place(panels[-1])),
                bends=bends_mm(string.lead_bends_m),
                combiner=combiner,
            )


@dataclass(frozen=True, slots=True)
class InsideRun:
    """What of a circuit's way is not on the roof [m], and how well it is known (blank: nothing is)."""

    length_m: float
    confidence: str


def inside_runs(design: Design) -> dict[str, InsideRun]:
    """Return what lies inside the vehicle of the circuits that are drawn on its roof, by kind."""
    legs = list(design.job.survey.wire_legs.all())
    return {kind: _inside(kind, legs, design.job.vehicle.kind) for kind in _DRAWN}


def _inside(kind: str, legs: Iterable[WireLeg], vehicle_kind: str) -> InsideRun:
    own = [leg for leg in legs if leg.circuit == kind and leg.place != WireLeg.Place.ROOF]
    if own:
        sure = min((leg.confidence for leg in own), key=_SUREST_LAST.index)
        return InsideRun(sum(leg.length_m for leg in own), sure)
    if kind != CircuitKind.HOME_RUN:
        return InsideRun(0.0, "")
    usual = USUAL_HOME_RUN_M.get(vehicle_kind, USUAL_RUN_M[CircuitKind.HOME_RUN])
    return InsideRun(round(usual * INSIDE_SHARE, 3), ConfidenceChoice.GUESS)


def drawn_runs(roof: RoofState, inside: Mapping[str, InsideRun]) -> tuple[DrawnRun, ...]:
    """Return what the drawing says of the roof circuits: longest lead and home run of each controller."""
    wires = wires_of(roof)

    def run(kind: str, serves: str, drawn_mm: float) -> DrawnRun:
        rest = inside[kind]
        return DrawnRun(kind, serves, drawn_mm / 1000, roof.slack_fraction, rest.length_m, rest.confidence)

    runs = []
    for home in wires.homes:
        serves = f"controller:{home.controller}"
        leads = [lead for lead in wires.leads if lead.controller == home.controller]
        runs += [
            run(CircuitKind.STRINGS_TO_COMBINER, f"string:{lead.string}", lead.length_mm) for lead in leads
        ]
        if leads:
            runs.append(run(CircuitKind.STRINGS_TO_COMBINER, serves, max(lead.length_mm for lead in leads)))
        if home.gland is not None:
            runs.append(run(CircuitKind.HOME_RUN, serves, path_mm(home.points)))
    return tuple(runs)


class Scheduled(Protocol):
    """A row of the circuit schedule, be it a record or plain data."""

    @property
    def kind(self) -> str: ...
    @property
    def serves(self) -> str: ...
    @property
    def run_len_m(self) -> float | None: ...
    @property
    def confidence(self) -> str: ...


def off_the_drawing[C: Scheduled](
    circuits: Iterable[C], runs: Iterable[DrawnRun]
) -> Iterator[tuple[C, DrawnRun]]:
    """Yield each circuit whose length or confidence is not what the drawing says, with what it says."""
    drawn = {(run.kind, run.serves): run for run in runs}
    for circuit in circuits:
        run = drawn.get((circuit.kind, circuit.serves))
        if run is not None and (circuit.run_len_m, circuit.confidence) != (run.run_len_m, run.confidence):
            yield circuit, run


def take_drawn(design: Design) -> list[DesignCircuit]:
    """Set path and confidence of the circuits that are drawn, in memory; return those that changed."""
    changed = []
    runs = drawn_runs(roof_state(design), inside_runs(design))
    for circuit, run in off_the_drawing(design.circuits.all(), runs):
        circuit.run_len_m, circuit.confidence = run.run_len_m, run.confidence
        changed.append(circuit)
    return changed
