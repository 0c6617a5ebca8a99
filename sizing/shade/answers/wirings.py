"""How all wirings of a roof compare: every grouping up to ten panels, a bounded search above."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from sizing.shade.engine.fast import Shadows, cast_shadows, reference, wiring_year
from sizing.shade.engine.geometry import TRACKERS, build_layout
from sizing.shade.engine.known_place import place_for
from sizing.shade.engine.place import GRID_V, Place
from sizing.shade.engine.spacing import asked_weight
from sizing.shade.engine.threads import in_pieces
from sizing.shade.kernels.kernel_curve import BOLTZMANN_EV_K, T_REF_K
from sizing.shade.kernels.kernel_rank import rank_nodes
from sizing.shade.scene.chosen_wiring import own_wiring
from sizing.shade.scene.groupings import (
    Grouping,
    StringLimits,
    count_groupings,
    groupings,
    shape_words,
    swaps,
    tidy,
)
from sizing.shade.scene.scene import (
    Controller,
    FloatArray,
    PanelType,
    SceneError,
    SceneInput,
    TrackerKind,
    Wiring,
)

ALL_UP_TO = 10  # panels; above, and above this many groupings, the search is bounded
MOST_GROUPINGS = 120_000
SIEVE_ABOVE = 3000  # groupings: first on every sixth azimuth, then the best on all
SIEVE_STEP = 6
SIEVE_KEEP = 400
BATCH = 2000
COLDEST_FACTOR = 1.25  # NFPA 70 (2017), table 690.7(A), coldest row
CONSIDERABLE = 0.003  # two wirings closer than this count as equal

Progress = Callable[[float, str], bool]


@dataclass(frozen=True, slots=True)
class RankedWiring:
    """One wiring of the ranking; ``behind_kwh`` is what it gives less than the best."""

    name: str
    shape: str
    strings: tuple[tuple[str, ...], ...]
    mean_kwh: float
    worst_kwh: float
    worst_heading_deg: float
    behind_kwh: float


@dataclass(frozen=True, slots=True)
class WiringRanking:
    """The best wirings, how many were tried, how far they differ, and how much better could exist."""

    wirings: tuple[RankedWiring, ...]
    n_tried: int
    n_possible: int
    is_complete: bool
    spread_fraction: float
    bound_kwh: float  # every panel on a tracker of its own
    gap_fraction: float
    best_by_shape: tuple[tuple[str, float, float], ...]  # shape, best and worst of its groupings [kWh]
    words: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the ranking as plain JSON values."""
        return asdict(self)


def rank_wirings(
    scene: SceneInput,
    *,
    controller: Controller | None = None,
    limits: StringLimits | None = None,
    top: int = 20,
    progress: Progress | None = None,
) -> WiringRanking:
    """Return the groupings of a roof's panels into strings on one controller, best yearly energy first.

    Parameters
    ----------
    scene : SceneInput
        The roof; all its panels are wired.
    controller : Controller or None
        Limits of the tracker; ``None`` takes the first controller of the first wiring. [V], [W]
    limits : StringLimits or None
        Panels in series and strings in parallel the string plan allows; ``None`` keeps the open-circuit
        voltage in the coldest weather the code table knows under the tracker's limit. [-]
    top : int
        How many wirings to return with all headings worked out. [-]
    progress : callable or None
        Called with the share done (0 to 1) and a word; returning False stops the search early.

    Returns
    -------
    WiringRanking
        Energies [kWh/year]; ``gap_fraction`` says how much better any wiring of these panels could be. [-]

    Raises
    ------
    SceneError
        If no grouping keeps the limits.

    Notes
    -----
    Every set partition is tried up to ten panels; above, groupings are improved by swapping panels until no
    swap helps. The bound is the sum of own-tracker energies, which no wiring can pass.

    References
    ----------
    .. [1] Kirchhoff's laws; no further source needed.
    """
    make = controller or default_controller(scene)
    limits = limits or cold_limits(scene, make)
    layout = build_layout(scene)
    place = place_for(scene, layout)
    shadows = cast_shadows(place, layout)
    n_possible = count_groupings(layout.n_panels, limits)
    if n_possible == 0:
        raise SceneError("panels", f"{layout.n_panels} panels cannot be split into strings within the limits")
    is_complete = layout.n_panels <= ALL_UP_TO and n_possible <= MOST_GROUPINGS
    judge = _Judge(place, shadows, make, progress)
    scored = judge.all(list(groupings(layout.n_panels, limits))) if is_complete else judge.search(limits)
    return _ranking(scene, place, shadows, make, scored, n_possible, is_complete and not judge.stopped, top)


def default_controller(scene: SceneInput) -> Controller:
    if scene.wirings:
        return replace(scene.wirings[0].controllers[0], strings=())
    return Controller(strings=())


def cold_limits(scene: SceneInput, make: Controller) -> StringLimits:
    """Return string limits that keep the coldest open-circuit voltage under the controller's limit.

    References
    ----------
    .. [1] NFPA 70 (2017), table 690.7(A): the factor of its coldest row, -36 to -40 °C, is 1.25.
    """
    volts = max(open_circuit_v(scene.panel_type(panel)) for panel in scene.panels)
    return StringLimits(series_max=max(1, int(make.v_max_v / (COLDEST_FACTOR * volts))))


def open_circuit_v(kind: PanelType) -> float:
    """Return a panel's open-circuit voltage at 1000 W/m² and 25 °C [V]: no current, so Rs drops nothing."""
    cell = kind.cell
    thermal = cell.ideality * BOLTZMANN_EV_K * T_REF_K
    volts = 0.6
    for _ in range(60):  # Newton; the exponential is convex, so it closes in from above
        grown = cell.saturation_current_a * math.exp(volts / thermal)
        excess = grown - cell.saturation_current_a + volts / cell.shunt_ohm - cell.light_current_a
        volts -= excess / (grown / thermal + 1.0 / cell.shunt_ohm)
    return volts * kind.n_series


class _Judge:
    """Scores groupings by mean yearly energy and remembers every score."""

    def __init__(self, place: Place, shadows: Shadows, make: Controller, progress: Progress | None) -> None:
        self.place, self.shadows, self.make, self.progress = place, shadows, make, progress
        self.weight = mean_weight(place, shadows)
        self.scores: dict[Grouping, float] = {}
        self.stopped = False

    def all(self, every: list[Grouping]) -> dict[Grouping, float]:
        """Return the scores of a whole list, sieved first where it is long."""
        if len(every) > SIEVE_ABOVE:
            rough = self._batches(every, SIEVE_STEP, 0.8)
            every = sorted(every, key=lambda g: -rough.get(g, 0.0))[:SIEVE_KEEP]
            exact = self._batches(every, 1, 1.0)
            return {**rough, **exact}
        return self._batches(every, 1, 1.0)

    def search(self, limits: StringLimits) -> dict[Grouping, float]:
        """Return scores found by swapping panels from a few starts until nothing helps."""
        starts = _starts(self.shadows.layout.n_panels, limits)
        for i, start in enumerate(starts):
            here = start
            while not self.stopped:
                around = [g for g in [here, *swaps(here)] if g not in self.scores]
                self.scores |= self._batches(around, 1, (i + 1) / len(starts))
                best = max([here, *swaps(here)], key=lambda g: self.scores.get(g, 0.0))
                if best == here or self.scores.get(best, 0.0) <= self.scores.get(here, 0.0):
                    break
                here = best
        return self.scores

    def _batches(self, every: list[Grouping], node_step: int, upto: float) -> dict[Grouping, float]:
        found: dict[Grouping, float] = {}
        for start in range(0, len(every), BATCH):
            if self.stopped:
                break
            chunk = every[start : start + BATCH]
            scores = score_groupings(self.place, self.shadows, self.make, chunk, self.weight, node_step)
            found.update(zip(chunk, scores.tolist(), strict=True))
            done = upto * min(1.0, (start + BATCH) / max(len(every), 1))
            if self.progress is not None and not self.progress(done, f"{len(found)} wirings tried"):
                self.stopped = True
        return found


def _starts(n_panels: int, limits: StringLimits) -> list[Grouping]:
    """Return first groupings: neighbors together, and dealt out in turn, for every allowed length."""
    starts: list[Grouping] = []
    for length in range(limits.series_min, min(limits.series_max, n_panels) + 1):
        n_strings = -(-n_panels // length)
        if (limits.equal_lengths and n_panels % length) or n_strings > limits.strings_max:
            continue
        together = [tuple(range(i, min(i + length, n_panels))) for i in range(0, n_panels, length)]
        dealt = [tuple(range(i, n_panels, n_strings)) for i in range(n_strings)]
        if len(together[-1]) >= limits.series_min:
            starts.append(tidy(together))
        if (
            min(len(s) for s in dealt) >= limits.series_min
            and max(len(s) for s in dealt) <= limits.series_max
        ):
            starts.append(tidy(dealt))
    if not starts:
        raise SceneError("panels", f"{n_panels} panels cannot be split into strings within the limits")
    return list(dict.fromkeys(starts))


def mean_weight(place: Place, shadows: Shadows) -> FloatArray:
    """Return what 1 W at each node (elevation, class, azimuth) is worth in a year [kWh], mean of headings."""
    measure = reference(place, shadows.layout)
    n_azimuth, n_headings = place.state_of.shape[2], len(place.headings_deg)
    if place.level:
        year = measure.energy_map.sum(axis=0)
        turns = np.round(place.headings_deg / 360.0 * n_azimuth).astype(np.int64)
        seen = np.mean([np.roll(year, -turn, axis=1) for turn in turns], axis=0)
    else:
        seen = measure.energy_map.sum(axis=0) / n_headings
    worth = seen.reshape(-1) * measure.per_w
    return np.ascontiguousarray(worth.reshape(place.state_of.shape) / 1000.0)


def score_groupings(
    place: Place,
    shadows: Shadows,
    make: Controller,
    every: Sequence[Grouping],
    weight: FloatArray,
    node_step: int = 1,
    trackers: Sequence[Sequence[int]] | None = None,
) -> FloatArray:
    """Return the gridded yearly energy of groupings on one controller [kWh], mean of headings.

    ``trackers`` gives for each grouping how many of its strings each tracker takes, in order; ``None`` puts
    all on one.
    """
    index: dict[tuple[int, ...], int] = {}
    part: list[int] = []
    tracker_at, grouping_at = [0], [0]
    for g, grouping in enumerate(every):
        part += [index.setdefault(string, len(index)) for string in grouping]
        for size in trackers[g] if trackers is not None else (len(grouping),):
            tracker_at.append(tracker_at[-1] + size)
        grouping_at.append(len(tracker_at) - 1)
    if make.kind == TrackerKind.PWM:
        return _score_slowly(place, shadows, make, every)
    energy = np.zeros((len(place.state_of), len(every)))
    in_pieces(
        rank_nodes,
        np.array([p for string in index for p in string], np.int64),
        np.cumsum([0, *[len(string) for string in index]]).astype(np.int64), np.array(part, np.int64),
        np.array(tracker_at, np.int64), np.array(grouping_at, np.int64),
        np.array([make.v_min_v, make.v_max_v, make.v_pwm_v, make.v_start_v]), TRACKERS[make.kind],
        make.p_max_w, make.is_blocking, place.state_of, place.sunlit, place.steps, shadows.touched,
        shadows.even, shadows.curves, asked_weight(weight, place.spacing, node_step), _grid_v(every), energy,
    )  # fmt: skip
    return np.asarray(energy.sum(axis=0))


def _grid_v(every: Sequence[Grouping]) -> int:
    """Return how many voltages serve strings whose lengths differ that much."""
    lengths = [len(string) for grouping in every for string in grouping]
    return GRID_V if max(lengths) == min(lengths) else 3 * GRID_V


def _score_slowly(place: Place, shadows: Shadows, make: Controller, every: Sequence[Grouping]) -> FloatArray:
    return np.array([wiring_year(place, shadows, as_wiring(shadows, make, g)).mean_kwh for g in every])


def as_wiring(shadows: Shadows, make: Controller, grouping: Grouping) -> Wiring:
    """Return a grouping as a wiring on one controller."""
    ids = shadows.layout.panel_ids
    strings = tuple(tuple(ids[p] for p in string) for string in grouping)
    name = f"{shape_words(grouping)} " + " | ".join("-".join(string) for string in strings)
    return Wiring(name, (replace(make, strings=strings),))


def _ranking(
    scene: SceneInput,
    place: Place,
    shadows: Shadows,
    make: Controller,
    scored: dict[Grouping, float],
    n_possible: int,
    is_complete: bool,
    top: int,
) -> WiringRanking:
    order = sorted(scored, key=lambda g: -scored[g])
    exact = []
    for grouping in order[:top]:
        wiring = as_wiring(shadows, make, grouping)
        exact.append((grouping, wiring, wiring_year(place, shadows, wiring)))
    exact.sort(key=lambda item: -item[2].mean_kwh)
    best = exact[0][2].mean_kwh
    ranked = []
    for grouping, wiring, year in exact:
        worst = int(year.by_heading_kwh.argmin())
        ranked.append(
            RankedWiring(
                name=wiring.name,
                shape=shape_words(grouping),
                strings=wiring.controllers[0].strings,
                mean_kwh=year.mean_kwh,
                worst_kwh=float(year.by_heading_kwh[worst]),
                worst_heading_deg=float(place.headings_deg[worst]),
                behind_kwh=best - year.mean_kwh,
            )
        )
    bound = wiring_year(place, shadows, own_wiring(shadows.layout.panel_ids)).mean_kwh
    shapes = _by_shape(scored)
    low = min(scored.values())
    return WiringRanking(
        wirings=tuple(ranked),
        n_tried=len(scored),
        n_possible=n_possible,
        is_complete=is_complete,
        spread_fraction=(best - low) / best if best > 0 else 0.0,
        bound_kwh=bound,
        gap_fraction=max(0.0, bound / best - 1.0) if best > 0 else 0.0,
        best_by_shape=shapes,
        words=tuple(_words(ranked, shapes, bound, best)),
    )


def _by_shape(scored: dict[Grouping, float]) -> tuple[tuple[str, float, float], ...]:
    shapes: dict[str, list[float]] = {}
    for grouping, score in scored.items():
        shapes.setdefault(shape_words(grouping), []).append(score)
    rows = [(shape, max(scores), min(scores)) for shape, scores in shapes.items()]
    return tuple(sorted(rows, key=lambda row: -row[1]))


def _words(
    ranked: list[RankedWiring], shapes: tuple[tuple[str, float, float], ...], bound: float, best: float
) -> list[str]:
    """Answer the folk rules with this roof's numbers."""
    lines = [
        f"Best: {ranked[0].name}, {best:,.0f} kWh a year; at most {100 * (bound / best - 1):.1f}% better "
        "exists with these panels in these places, whatever the wiring."
        if best > 0
        else "None of these wirings gives anything: their volts stay below what the controller needs."
    ]
    energy = {shape: high for shape, high, _ in shapes}
    parallel = [s for s in energy if s.startswith("1s") and "+" not in s]
    series = [s for s in energy if s.endswith("s") and "+" not in s and s != "1s"]
    if parallel and series:
        gap = energy[parallel[0]] - energy[series[0]]
        word = "more" if gap > 0 else "less"
        verdict = (
            "holds here"
            if gap > CONSIDERABLE * best
            else "makes no difference here"
            if abs(gap) <= CONSIDERABLE * best
            else "is wrong here"
        )
        lines.append(
            f'"Parallel for shade" {verdict}: all in parallel gives {abs(gap):,.0f} kWh a year {word} than '
            "all in series."
        )
    for shape, high, low in shapes:
        if high - low > CONSIDERABLE * best:
            lines.append(
                f"Which panel joins which string matters: {shape} gives {low:,.0f} to {high:,.0f} kWh a year "
                "depending on the grouping alone."
            )
    return lines
