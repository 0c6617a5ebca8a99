"""The best set of places that do not overlap: a set packing with a proved gap (HiGHS)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import highspy
import numpy as np
import numpy.typing as npt

from sizing.shade.layout.candidates import Candidates
from sizing.shade.scene.lay_rules import LayoutRules

IntArray = npt.NDArray[np.int64]
WH = 1000.0
Progress = Callable[[float, str], bool]


@dataclass(frozen=True, slots=True, eq=False)
class Packing:
    """Chosen candidates, their worth and the bound no other choice passes [kWh]."""

    chosen: IntArray
    worth_kwh: float
    bound_kwh: float
    is_proved: bool
    n_searched: int


def pack_ways(
    found: Candidates, rules: LayoutRules, progress: Progress | None = None, *, floor_kwh: float = 0.0
) -> Packing:
    """Return the best packing that leaves one of the ways to walk free; the bound holds for all of them."""
    if not rules.ways:
        return pack(found, rules, progress, floor_kwh=floor_kwh)
    places = [np.flatnonzero(found.clear_of(way)) for way in rules.ways]
    best = Packing(np.zeros(0, np.int64), 0.0, 0.0, True, 0)
    bound, is_proved = 0.0, True
    for free in sorted(places, key=lambda one: -_promise(found.take(one), rules)):
        made = pack(found.take(free), rules, progress, floor_kwh=max(floor_kwh, best.worth_kwh))
        bound, is_proved = max(bound, made.bound_kwh), is_proved and made.is_proved
        if made.worth_kwh > best.worth_kwh:
            best = replace(made, chosen=free[made.chosen])
    return replace(best, bound_kwh=bound, is_proved=is_proved)


def _promise(found: Candidates, rules: LayoutRules) -> float:
    """Return what a packing made without a search is worth [kWh]: the better ways are searched first."""
    useful = found.take(found.worth_kwh > 0.0)
    return float(useful.worth_kwh[greedy(useful, rules.panels_max)].sum())


def pack(
    found: Candidates, rules: LayoutRules, progress: Progress | None = None, *, floor_kwh: float = 0.0
) -> Packing:
    """Return the most worthy places that fit beside one another; nothing where none beats ``floor_kwh``.

    Raises
    ------
    SearchStopped
        Never: a stop returns the best packing so far, with its gap.
    """
    useful = np.flatnonzero(found.worth_kwh > 0.0)
    if not len(useful):
        return Packing(useful, 0.0, 0.0, True, 0)
    kept = useful[undominated(found.take(useful))]
    few = found.take(kept)
    first = greedy(few, rules.panels_max)
    if progress is not None and not progress(0.45, f"first layout: {few.worth_kwh[first].sum():,.0f} kWh"):
        return Packing(
            kept[first], float(few.worth_kwh[first].sum()), _loose_bound(few, rules), False, len(kept)
        )
    chosen, bound, is_proved = _solve(few, rules, first, progress)
    worth = float(few.worth_kwh[chosen].sum())
    if worth <= floor_kwh:
        return Packing(kept[:0], 0.0, max(bound, worth), is_proved, len(kept))
    return Packing(kept[chosen], worth, max(bound, worth), is_proved, len(kept))


def _loose_bound(few: Candidates, rules: LayoutRules) -> float:
    most = rules.panels_max or len(few.own_kwh)
    return float(np.sort(few.worth_kwh)[::-1][:most].sum())


def greedy(found: Candidates, most: int | None) -> IntArray:
    """Return places taken one by one, most energy per area first."""
    area = found.size.prod(axis=1)
    chosen: list[int] = []
    for c in np.argsort(-found.worth_kwh / area, kind="stable"):
        if most is not None and len(chosen) >= most:
            break
        if not any(_overlap(found, int(c), other) for other in chosen):
            chosen.append(int(c))
    return np.array(chosen, np.int64)


def _overlap(found: Candidates, a: int, b: int) -> bool:
    low, high = found.step[a], found.step[a] + found.size[a]
    other_low, other_high = found.step[b], found.step[b] + found.size[b]
    return bool(np.all(low < other_high) and np.all(other_low < high))


def undominated(found: Candidates) -> IntArray:
    """Return the candidates that no neighbour one step away can always replace.

    A neighbour of the same size replaces a place where it is worth at least as much and nothing that fits
    beside the place would be in the neighbour's way: then no candidate ends exactly in the row or column the
    neighbour enters. Such places are dropped one after the other until none is left.
    """
    alive = np.ones(len(found.step), np.bool_)
    index = {
        (int(t), int(r), int(x), int(y)): i
        for i, (t, r, (x, y)) in enumerate(zip(found.type_index, found.rot_deg, found.step, strict=True))
    }
    edges = _Edges(found, alive)
    changed = True
    while changed:
        changed = False
        for i in np.argsort(found.worth_kwh, kind="stable"):
            if alive[i] and _is_replaceable(found, int(i), alive, index, edges):
                alive[i] = False
                edges.drop(int(i))
                changed = True
    return np.flatnonzero(alive)


class _Edges:
    """Counts, for each grid line, the living candidates that start or end there, by the cells they span."""

    def __init__(self, found: Candidates, alive: npt.NDArray[np.bool_]) -> None:
        self.step, self.size = found.step, found.size
        top = (found.step + found.size).max(axis=0) + 2
        self.counts = [np.zeros((top[axis], top[1 - axis]), np.int32) for axis in (0, 1) for _ in (0, 1)]
        for i in np.flatnonzero(alive):
            self._add(int(i), 1)

    def _add(self, i: int, by: int) -> None:
        for axis in (0, 1):
            low, high = self.step[i, axis], self.step[i, axis] + self.size[i, axis]
            across = slice(self.step[i, 1 - axis], self.step[i, 1 - axis] + self.size[i, 1 - axis])
            self.counts[2 * axis][low, across] += by  # starts on this line
            self.counts[2 * axis + 1][high, across] += by  # ends on this line

    def drop(self, i: int) -> None:
        """Forget a candidate."""
        self._add(i, -1)

    def is_clear(self, i: int, axis: int, ahead: int) -> bool:
        """Return whether nothing touches the side of place ``i`` that a step ``ahead`` would enter."""
        across = slice(self.step[i, 1 - axis], self.step[i, 1 - axis] + self.size[i, 1 - axis])
        if ahead > 0:
            line = self.step[i, axis] + self.size[i, axis]
            return not self.counts[2 * axis][line, across].any()
        return not self.counts[2 * axis + 1][self.step[i, axis], across].any()


def _is_replaceable(
    found: Candidates,
    i: int,
    alive: npt.NDArray[np.bool_],
    index: dict[tuple[int, int, int, int], int],
    edges: _Edges,
) -> bool:
    x, y = int(found.step[i, 0]), int(found.step[i, 1])
    for axis, ahead in ((0, -1), (0, 1), (1, -1), (1, 1)):
        beside = (x + ahead, y) if axis == 0 else (x, y + ahead)
        j = index.get((int(found.type_index[i]), int(found.rot_deg[i]), *beside))
        if j is None or not alive[j] or found.worth_kwh[j] < found.worth_kwh[i]:
            continue
        if edges.is_clear(i, axis, ahead):
            return True
    return False


def cliques(found: Candidates) -> list[IntArray]:
    """Return the largest sets of places that all cover one grid cell; every overlap is in one of them."""
    top = (found.step + found.size).max(axis=0)
    seen: dict[bytes, IntArray] = {}
    starts_x, starts_y = np.unique(found.step[:, 0]), np.unique(found.step[:, 1])
    ends = found.step + found.size
    for x in starts_x[starts_x < top[0]]:
        in_x = (found.step[:, 0] <= x) & (ends[:, 0] > x)
        for y in starts_y[starts_y < top[1]]:
            members = np.flatnonzero(in_x & (found.step[:, 1] <= y) & (ends[:, 1] > y))
            if len(members) > 1:
                seen[members.tobytes()] = members
    return list(seen.values())


def _solve(
    found: Candidates, rules: LayoutRules, first: IntArray, progress: Progress | None
) -> tuple[IntArray, float, bool]:
    """Return the places chosen, the bound [kWh] and whether the choice is proved; ``first`` is the start."""
    solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]  # highspy is untyped
    solver.silent()
    for option, value in (
        ("mip_rel_gap", 0.0),
        ("mip_abs_gap", 0.5 / WH),
        ("time_limit", rules.time_limit_s),
        ("threads", 1),
    ):
        solver.setOptionValue(option, value)
    solver.passModel(_model(found, rules))
    start = highspy.HighsSolution()
    start.col_value = np.isin(np.arange(len(found.own_kwh)), first).astype(float).tolist()
    solver.setSolution(start)
    if progress is not None:
        _watch(solver, progress)
    solver.run()
    info = solver.getInfo()
    bound = -info.mip_dual_bound
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return first, _loose_bound(found, rules), False
    chosen = np.flatnonzero(np.asarray(solver.getSolution().col_value) > 0.5)
    is_proved = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return chosen, bound if math.isfinite(bound) else _loose_bound(found, rules), is_proved


def _model(found: Candidates, rules: LayoutRules) -> Any:
    """Return the packing as a linear model of yes-or-no columns: at most one place of each clique."""
    n = len(found.own_kwh)
    rows = cliques(found)
    most = [1.0] * len(rows)
    if rules.panels_max is not None:
        rows, most = [*rows, np.arange(n, dtype=np.int64)], [*most, float(rules.panels_max)]
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = n, len(rows)
    model.col_cost_ = -found.worth_kwh
    model.col_lower_, model.col_upper_ = np.zeros(n), np.ones(n)
    model.integrality_ = [highspy.HighsVarType.kInteger] * n
    model.row_lower_, model.row_upper_ = np.full(len(rows), -np.inf), np.array(most)
    matrix = model.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.start_ = np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.int32)
    matrix.index_ = np.concatenate([np.zeros(0, np.int64), *rows]).astype(np.int32)
    matrix.value_ = np.ones(len(matrix.index_))
    return model


def _watch(solver: Any, progress: Progress) -> None:
    """Tell of the search as it goes; once asked to stop, the next halt of the solver ends it."""
    stopped = False

    def look(event: Any) -> None:
        nonlocal stopped
        found = event.data_out
        words = f"layout: {-found.mip_primal_bound:,.0f} kWh, at most {-found.mip_dual_bound:,.0f}"
        stopped = stopped or not progress(0.6, words)
        event.interrupt(stopped)

    solver.cbMipImprovingSolution += look
    solver.cbMipInterrupt += look
