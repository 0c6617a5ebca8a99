"""Knows how the wire on a roof is read as it was drawn, tried out, stored, and followed by the schedule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignController
from jobs.parts.circuits import surveyed_run
from jobs.roof.wires import bends_mm, combiner_of, drawn_runs, take_drawn
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
        raise RoofRefused("The wire path cannot be read.")
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
        raise RoofRefused("The wire path cannot be read.")
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


def path_state(design: Design) -> dict[str, Any]:
    """Return slack, combiners and home runs in the shape the workspace sends back."""
    controllers = list(design.controllers.all())
    places = {one.label: combiner_of(one) for one in controllers}
    return {
        "slack": design.path_slack_fraction,
        "combiners": {label: _rounded(point) for label, point in places.items() if point is not None},
        "homes": {one.label: bends_state(one.home_bends_m) for one in controllers if one.home_bends_m},
    }


def bends_state(bends_m: Iterable[Sequence[float]]) -> list[list[float]]:
    """Return stored bends as the workspace knows them [mm]."""
    return [_rounded(point) for point in bends_mm(bends_m)]


def bends_in_metres(bends: Iterable[Point]) -> list[list[float]]:
    """Return bends as they are stored."""
    return [[round(x / 1000, 4), round(y / 1000, 4)] for x, y in bends]


def _rounded(point: Sequence[float]) -> list[float]:
    return [round(point[0], 1), round(point[1], 1)]


# --- trying and storing -------------------------------------------------------------------------------------


def put_path(design: Design, path: Path, controllers: Iterable[DesignController]) -> list[DesignController]:
    """Set slack, combiners and home runs in memory; return the controllers that changed."""
    design.path_slack_fraction = round(path.slack_fraction, 4)
    changed = []
    for one in controllers:
        before = (one.combiner_x_m, one.combiner_y_m, one.home_bends_m)
        point = path.combiners.get(one.label)
        one.combiner_x_m, one.combiner_y_m = (None, None) if point is None else _in_metres(point)
        one.home_bends_m = bends_in_metres(path.homes.get(one.label, ())) if point else []
        if before != (one.combiner_x_m, one.combiner_y_m, one.home_bends_m):
            changed.append(one)
    return changed


def _in_metres(point: Point) -> tuple[float, float]:
    return round(point[0] / 1000, 4), round(point[1] / 1000, 4)


def save_path(design: Design, path: Path) -> None:
    """Store slack, combiners and home runs of a locked draft."""
    for controller in put_path(design, path, list(design.controllers.all())):
        controller.save(update_fields=["combiner_x_m", "combiner_y_m", "home_bends_m"])
    design.save(update_fields=["path_slack_fraction"])


def drawn_keys(design: Design) -> frozenset[tuple[str, str]]:
    """Return the circuits whose length comes from the drawing now, by kind and what they serve."""
    return frozenset((run.kind, run.serves) for run in drawn_runs(design_in_full(design.pk)))


def schedule_follow(design: Design, drawn_before: frozenset[tuple[str, str]] = frozenset()) -> None:
    """Write drawn lengths into the schedule; a circuit no longer drawn goes back to the survey's length."""
    full = design_in_full(design.pk)
    changed = take_drawn(full)
    lost = drawn_before - {(run.kind, run.serves) for run in drawn_runs(full)}
    legs = list(full.job.survey.wire_legs.all())
    for circuit in full.circuits.all():
        if (circuit.kind, circuit.serves) in lost:
            own = [leg for leg in legs if leg.circuit == circuit.kind]
            circuit.run_len_m, circuit.confidence = surveyed_run(circuit.kind, own, full.job.vehicle.kind)
            changed.append(circuit)
    for circuit in changed:
        circuit.save(update_fields=["run_len_m", "confidence"])
