"""Reads the wire that was drawn on a roof, tries it in memory, stores it and lets the schedule follow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from jobs.engine.stored import design_in_full
from jobs.models import Design
from jobs.parts.circuits import surveyed_run
from jobs.roof.read import controller_state, roof_state
from jobs.roof.state import Place, RoofController, RoofState
from jobs.roof.wires import bends_mm, drawn_runs, inside_runs, place_mm, take_drawn
from jobs.workspace.obstacles import Point, RoofRefused, mm_within, read_gland

MOST_BENDS: Final = 20
#: Where wire may lie beside the roof it starts on. [mm]
PLACE_LIMITS: Final = ((-1000.0, 16_000.0), (-1000.0, 4_000.0))
MOST_SLACK: Final = 0.5


@dataclass(frozen=True, slots=True)
class Path:
    """Wire as sent: for each controller its combiner and the bends of its home run [mm]."""

    slack_fraction: float
    combiners: Mapping[str, Point]
    homes: Mapping[str, tuple[Point, ...]]


# --- reading ------------------------------------------------------------------------------------------------


def read_path(data: Any, controllers: frozenset[str]) -> tuple[Path, Point | None]:
    """Return the sent wire and the gland it ends in; raise RoofRefused for what cannot be right."""
    if not isinstance(data, Mapping):
        raise RoofRefused("The wire path could not be saved. Reload the page and try again.")
    slack = mm_within(_percent(data.get("slack", 0.1)), "Slack", 0.0, MOST_SLACK * 100, "%")
    combiners = {
        label: read_point(point, f"Combiner {label}")
        for label, point in _by_controller(data.get("combiners"), controllers)
    }
    homes = {
        label: read_bends(points, f"Home run {label}")
        for label, points in _by_controller(data.get("homes"), controllers)
    }
    return Path(slack / 100, combiners, homes), read_gland(data.get("gland"))


def _percent(value: Any) -> Any:
    return value * 100 if isinstance(value, int | float) and not isinstance(value, bool) else value


def _by_controller(data: Any, controllers: frozenset[str]) -> Iterable[tuple[str, Any]]:
    if data is None:
        return
    if not isinstance(data, Mapping):
        raise RoofRefused("The wire path could not be saved. Reload the page and try again.")
    for label, value in data.items():
        if label not in controllers:
            raise RoofRefused(f"Wire path: there is no controller {label}.")
        yield label, value


def read_point(value: Any, name: str) -> Point:
    """Return a place beside or on the roof [mm]; raise RoofRefused."""
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        raise RoofRefused(f"{name}: must be a place on the roof.")
    along, across = PLACE_LIMITS
    return mm_within(value[0], f"{name}, from the rear", *along), mm_within(
        value[1], f"{name}, from the right", *across
    )


def read_bends(values: Any, name: str) -> tuple[Point, ...]:
    """Return the bends of a wire [mm]; raise RoofRefused."""
    if values is None:
        return ()
    if not isinstance(values, list) or len(values) > MOST_BENDS:
        raise RoofRefused(f"{name}: a list of at most {MOST_BENDS} bends.")
    return tuple(read_point(value, f"{name}, bend {place}") for place, value in enumerate(values, start=1))


# --- what the workspace shows -------------------------------------------------------------------------------


def path_state(roof: RoofState) -> dict[str, Any]:
    """Return slack, combiners and home runs in the shape the workspace sends back."""
    places = {one.label: place_mm(one.combiner) for one in roof.controllers}
    return {
        "slack": roof.slack_fraction,
        "combiners": {label: _rounded(point) for label, point in places.items() if point is not None},
        "homes": {one.label: bends_state(one.home_bends_m) for one in roof.controllers if one.home_bends_m},
    }


def bends_state(bends_m: Iterable[Sequence[float]]) -> list[list[float]]:
    """Return stored bends as the workspace knows them [mm]."""
    return [_rounded(point) for point in bends_mm(bends_m)]


def bends_in_metres(bends: Iterable[Point]) -> tuple[Place, ...]:
    """Return bends as they are kept."""
    return tuple(_in_metres(point) for point in bends)


def _rounded(point: Sequence[float]) -> list[float]:
    return [round(point[0], 1), round(point[1], 1)]


# --- trying and storing -------------------------------------------------------------------------------------


def with_path(roof: RoofState, path: Path) -> RoofState:
    """Return a roof with the slack, combiners and home runs that were sent."""
    controllers = tuple(_with_path(one, path) for one in roof.controllers)
    return replace(roof, slack_fraction=round(path.slack_fraction, 4), controllers=controllers)


def _with_path(controller: RoofController, path: Path) -> RoofController:
    point = path.combiners.get(controller.label)
    if point is None:
        return replace(controller, combiner=None, home_bends_m=())
    bends = bends_in_metres(path.homes.get(controller.label, ()))
    return replace(controller, combiner=_in_metres(point), home_bends_m=bends)


def _in_metres(point: Point) -> Place:
    return round(point[0] / 1000, 4), round(point[1] / 1000, 4)


def save_path(design: Design, path: Path) -> None:
    """Store slack, combiners and home runs of a locked draft."""
    for record in design.controllers.all():
        before = controller_state(record)
        drawn = _with_path(before, path)
        if drawn != before:
            record.combiner_x_m, record.combiner_y_m = drawn.combiner or (None, None)
            record.home_bends_m = [list(place) for place in drawn.home_bends_m]
            record.save(update_fields=["combiner_x_m", "combiner_y_m", "home_bends_m"])
    design.path_slack_fraction = round(path.slack_fraction, 4)
    design.save(update_fields=["path_slack_fraction"])


def drawn_keys(design: Design) -> frozenset[tuple[str, str]]:
    """Return the circuits whose length comes from the drawing now, by kind and what they serve."""
    return _drawn(design_in_full(design.pk))


def _drawn(full: Design) -> frozenset[tuple[str, str]]:
    return frozenset((run.kind, run.serves) for run in drawn_runs(roof_state(full), inside_runs(full)))


def schedule_follow(design: Design, drawn_before: frozenset[tuple[str, str]] = frozenset()) -> None:
    """Write drawn lengths into the schedule; a circuit no longer drawn goes back to the survey's length."""
    full = design_in_full(design.pk)
    changed = take_drawn(full)
    lost = drawn_before - _drawn(full)
    legs = list(full.job.survey.wire_legs.all())
    for circuit in full.circuits.all():
        if (circuit.kind, circuit.serves) in lost:
            own = [leg for leg in legs if leg.circuit == circuit.kind]
            circuit.run_len_m, circuit.confidence = surveyed_run(circuit.kind, own, full.job.vehicle.kind)
            changed.append(circuit)
    for circuit in changed:
        circuit.save(update_fields=["run_len_m", "confidence"])
