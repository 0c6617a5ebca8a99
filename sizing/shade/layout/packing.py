"""The best set of the places tried that do not overlap: a set packing with a bound over them (HiGHS)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import highspy
import numpy as np

from sizing.shade.layout.candidates import Candidates
from sizing.shade.layout.conflicts import cliques, overlap, undominated
from sizing.shade.layout.places import IntArray
from sizing.shade.scene.lay_rules import LayoutRules

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
    return float(useful.worth_kwh[start_of(useful, rules.panels_max)].sum())


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
    first = start_of(few, rules.panels_max)
    if progress is not None and not progress(0.45, f"first layout: {few.worth_kwh[first].sum():,.0f} kWh"):
        return Packing(
            kept[first], float(few.worth_kwh[first].sum()), _loose_bound(few, rules), False, len(kept)
        )
    chosen, bound, is_proved = _solve(few, rules, first, progress)
    if few.worth_kwh[first].sum() > few.worth_kwh[chosen].sum():
        chosen = first
    worth = float(few.worth_kwh[chosen].sum())
    if worth <= floor_kwh:
        return Packing(kept[:0], 0.0, max(bound, worth), is_proved, len(kept))
    return Packing(kept[chosen], worth, max(bound, worth), is_proved, len(kept))


def _loose_bound(few: Candidates, rules: LayoutRules) -> float:
    """Return what no choice passes, known without a search [kWh]: by count, and by the ground there is."""
    worth, area = few.worth_kwh, few.size.prod(axis=1, dtype=float)
    by_count = float(np.sort(worth)[::-1][: rules.panels_max].sum())
    ground = float(((few.step + few.size).max(axis=0) - few.step.min(axis=0)).prod(dtype=float))
    order = np.argsort(-worth / area)
    room = np.clip(ground - np.append(0.0, np.cumsum(area[order])[:-1]), 0.0, area[order])
    by_area = float((worth[order] * room / area[order]).sum())
    return min(by_count, by_area)


def greedy(found: Candidates, most: int | None, before: IntArray | None = None) -> IntArray:
    """Return places taken one by one, most energy per area first, after those taken ``before``."""
    area = found.size.prod(axis=1, dtype=float)
    chosen: list[int] = [] if before is None else before.tolist()
    for c in np.argsort(-found.worth_kwh / area, kind="stable"):
        if most is not None and len(chosen) >= most:
            break
        if not any(overlap(found, int(c), other) for other in chosen):
            chosen.append(int(c))
    return np.array(chosen, np.int64)


def start_of(found: Candidates, most: int | None) -> IntArray:
    """Return the better of two first layouts: taken one by one, or drawn by hand and filled up so."""
    drawn = np.flatnonzero(found.is_drawn)
    by_hand = drawn[greedy(found.take(drawn), most)]
    made = [greedy(found, most), greedy(found, most, by_hand)]
    return max(made, key=lambda one: float(found.worth_kwh[one].sum()))


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
        ("presolve", "off"),  # it costs more than the search: the sets of overlapping places are the largest
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
