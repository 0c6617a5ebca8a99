"""Holds a roof as plain frozen data: as surveyed, and with a design's panels, strings and wire.

Meters from the rear right corner of the flat roof, as the records have them. ``jobs.roof.read`` makes it from
records; ``jobs.workspace.edit`` makes it from what a page sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from jobs.models import Obstacle
from jobs.parts.panel_model import PanelModel

Place = tuple[float, float]

_KIND_WORDS: Final = dict(Obstacle.Kind.choices)


@dataclass(frozen=True, slots=True)
class RoofObstacle:
    """An obstacle on the roof. ``pk`` is None until it is stored; ``key`` is its own from the beginning."""

    pk: int | None
    key: str
    kind: str
    label: str
    is_round: bool
    x_m: float
    y_m: float
    length_m: float
    width_m: float
    height_m: float
    height_open_m: float | None
    swing: str
    keep_out_m: float
    will_be_removed: bool
    is_guess: bool

    @property
    def name(self) -> str:
        """Return its own name, else what it is."""
        return self.label or str(_KIND_WORDS.get(self.kind, self.kind))


@dataclass(frozen=True, slots=True)
class SurveyedRoof:
    """The roof as surveyed: its size (None while not measured), what is asked of it, what stands on it."""

    survey_id: int
    length_m: float | None
    width_m: float | None
    edge_radius_mm: float | None
    edge_clearance_mm: float
    front_clearance_mm: float
    walkway_width_mm: float
    rafter_spacing_mm: float | None
    rafter_first_mm: float | None
    rafter_kind: str
    gland: Place | None
    obstacles: tuple[RoofObstacle, ...]
    is_known_bare: bool  # somebody looked and found nothing on it

    @property
    def staying(self) -> tuple[RoofObstacle, ...]:
        """Return the obstacles that are still there when the panels come."""
        return tuple(obstacle for obstacle in self.obstacles if not obstacle.will_be_removed)


@dataclass(frozen=True, slots=True)
class UsedPanel:
    """What the survey says of a panel that was on a roof before; None is not known."""

    age_years: float | None
    measured_isc_a: float | None
    measured_at_w_m2: float | None


@dataclass(frozen=True, slots=True)
class RoofPanel:
    """A panel on the roof; ``string`` is its string's number (None: in none), ``place`` counts from 1."""

    number: int
    model: PanelModel
    x_m: float
    y_m: float
    is_turned: bool
    box_is_far: bool
    height_above_roof_m: float
    feet: int
    fasteners_per_foot: int
    string: int | None = None
    controller: str = ""
    place: int = 0
    used: UsedPanel | None = None


@dataclass(frozen=True, slots=True)
class RoofString:
    """Panels in series on one controller; the panels know their string."""

    number: int
    controller: str
    fuse_a: float | None
    lead_bends_m: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class RoofController:
    """A charge controller with where its strings join on the roof (None: not drawn) and its home run."""

    label: str
    part_id: int
    combiner: Place | None
    home_bends_m: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class RoofState:
    """A design's roof: what was surveyed, panels in the order of their numbers, strings, drawn wire."""

    design_id: int
    surveyed: SurveyedRoof
    panels: tuple[RoofPanel, ...]
    strings: tuple[RoofString, ...]
    controllers: tuple[RoofController, ...]
    slack_fraction: float

    def panels_of(self, string: int) -> list[RoofPanel]:
        """Return the panels of a string in the order they are wired."""
        mine = (panel for panel in self.panels if panel.string == string)
        return sorted(mine, key=lambda one: (one.place, one.number))
