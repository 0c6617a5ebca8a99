"""The yearly shade engine, timed by hand: ``python tests/bench/bench_shade.py``.

Eight panels of 36 cells, six obstructions, 24 headings, the typical year of Boulder. The baseline is what a
competent user would write with pvlib (sun), shapely (shadow on each cell) and PVMismatch (array power at its
default grid): a sample of its daylight hours is run in the same minute and scaled to the year's hours of one
heading. Ratios are per layout, heading and year.

Every line gives the time on the wall and, beside it, processor time: on a machine that others share only the
second says what the work costs. What is cut into pieces is timed with one thread and with two.
``grid``, ``curve`` or ``lay`` on the command line prints that part alone.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sizing.shade.answers.live import live_year
from sizing.shade.answers.wirings import rank_wirings
from sizing.shade.engine.fast import cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.grid import DirectionGrid, direction_grid
from sizing.shade.engine.place import build_place
from sizing.shade.engine.threads import use_threads
from sizing.shade.layout.best import search_layout
from sizing.shade.layout.candidates import find_candidates
from sizing.shade.layout.packing import pack
from sizing.shade.scene.lay_rules import LayoutRules
from sizing.shade.scene.scene import SceneInput
from sizing.shade.sky.weather import daylight_for
from tests.published.test_shade_cover_shapely import cell_squares, shadow_on_flat
from tests.shade_scenes import every_hour_kwh, in_weather, scene

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # invalid escapes in its docstrings
    from pvmismatch import PVmodule, PVstring, PVsystem
    from pvmismatch.pvmismatch_lib.pvconstants import PVconstants
    from pvmismatch.pvmismatch_lib.pvmodule import standard_cellpos_pat

SAMPLE_HOURS = 8


def timed(label: str, work: Callable[[], object], turns: int, goal_ms: float) -> float:
    """Print median and 95th percentile of some warm turns and return the median in seconds."""
    work()
    spent, used = [], []
    for _ in range(turns):
        start, began = time.perf_counter(), time.process_time()
        work()
        spent.append(time.perf_counter() - start)
        used.append(time.process_time() - began)
    spent.sort()
    median, high = statistics.median(spent), spent[min(len(spent) - 1, int(0.95 * len(spent)))]
    work_ms = statistics.median(used) * 1e3
    print(
        f"{label:<40}{median * 1e3:9.1f} ms  p95 {high * 1e3:8.1f}  processor {work_ms:8.1f}"
        f"   goal {goal_ms:g}"
    )
    return median


def baseline_s(roof) -> float:
    """Return what one heading's year would take with shapely and PVMismatch, from a sample of hours."""
    layout, day = build_layout(roof), daylight_for(roof)
    z_m = roof.panels[0].z_m
    squares = [shapely.STRtree(cell_squares(layout, p)) for p in range(layout.n_panels)]
    a, e = np.radians(np.asarray(day.azimuth_deg)), np.radians(np.asarray(day.elevation_deg))
    suns = np.column_stack([np.cos(e) * np.cos(a), -np.cos(e) * np.sin(a), np.sin(e)])  # nose north
    hours = np.linspace(0, len(suns) - 1, SAMPLE_HOURS).astype(int)
    constants = PVconstants()
    start = time.perf_counter()
    for hour in hours:
        shadow = shapely.union_all([shadow_on_flat(thing, z_m, suns[hour]) for thing in roof.obstructions])
        modules = []
        for tree in squares:
            lit = 1 - shapely.area(shapely.intersection(tree.geometries, shadow)) / shapely.area(
                tree.geometries
            )
            module = PVmodule(cell_pos=standard_cellpos_pat(9, [2, 2]), pvconst=constants)
            module.setSuns([max(0.1, float(share)) for share in lit], list(range(36)))
            modules.append(module)
        lines = [
            PVstring(numberMods=4, pvmods=modules[:4], pvconst=constants),
            PVstring(numberMods=4, pvmods=modules[4:], pvconst=constants),
        ]
        _ = PVsystem(numberStrs=2, pvstrs=lines, numberMods=4, pvconst=constants).Pmp
    return (time.perf_counter() - start) / SAMPLE_HOURS * len(suns)


def roof_of(nx: int, ny: int) -> SceneInput:
    """Return the motorhome with its panels cut into so many cells each: the same shadows on more cells."""
    roof = in_weather(scene("d2_motorhome"), "boulder")
    finer = {name: replace(kind, nx=nx, ny=ny) for name, kind in roof.panel_types.items()}
    return replace(roof, panel_types=finer)


def pass_s(roof: SceneInput, grid: DirectionGrid | None) -> tuple[int, int, float]:
    """Return cells, nodes and the least processor time of a full pass in a few turns [s]."""
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof), grid=grid)
    spent = []
    for _ in range(4):
        start = time.thread_time()
        wiring_year(place, cast_shadows(place, layout), roof.wirings[0])
        spent.append(time.thread_time() - start)
    return layout.n_cells, place.state_of.size, min(spent)


def curve() -> None:
    """Print what a full pass costs over cells and over nodes, and the power of the growth."""
    grids = ((6, 2), (9, 4), (12, 6), (16, 8), (25, 10))
    cells = [pass_s(roof_of(*grid), None) for grid in grids]
    nodes = [pass_s(roof_of(9, 4), direction_grid(n_azimuth=n)) for n in (36, 72, 144)]
    for name, rows, of in (("cells", cells, 0), ("nodes", nodes, 1)):
        for row in rows:
            per = row[2] / row[0] / row[1] * 1e9
            print(
                f"{row[0]:6} cells × {row[1]:6} nodes {row[2] * 1e3:9.1f} ms  {per:6.2f} ns a cell and node"
            )
        first, last = rows[0], rows[-1]
        power = math.log(last[2] / first[2]) / math.log(last[of] / first[of])
        print(f"grows with {name} to the power {power:.2f} (1 is linear)")


def lay() -> None:
    """Time the automatic layout of a 7.5 × 2.4 m roof on a 5 cm grid: proof alone, then wiring and bound."""
    roof = in_weather(scene("d2_motorhome"), "boulder")
    roof = replace(roof, roof=replace(roof.roof, len_x_m=7.5, len_y_m=2.4))
    rules, day = LayoutRules(), daylight_for(roof)

    def proof() -> None:
        assert pack(find_candidates(roof, rules, day, None), rules).is_proved

    timed("layout proved, 7.5 × 2.4 m, 5 cm", proof, 3, 3000)
    timed("layout, wiring and bound", lambda: search_layout(roof, rules), 3, 5000)


def main() -> None:
    """Run every line and print it."""
    if len(sys.argv) > 1:
        {"curve": curve, "grid": grid, "lay": lay}[sys.argv[1]]()
        return
    full = grid()
    roof = in_weather(scene("d2_motorhome"), "boulder")
    layout = build_layout(roof)
    timed("a new place", lambda: build_place(roof, layout, daylight_for(roof)), 3, 300)
    one = replace(roof, wirings=roof.wirings[:1])
    timed("every hour, one wiring", lambda: every_hour_kwh(one), 2, 2000)
    lay()
    slow = baseline_s(roof)
    print(f"{'pvlib + shapely + PVMismatch':<40}{slow:9.0f} s for one heading")
    print(f"{'ratio per layout, heading, year':<40}{slow / (full / 24):9.0f}  goal 100000")
    curve()


def grid() -> float:
    """Time what is cut into pieces with one thread and with two; return a full pass of one [s]."""
    full = []
    for threads in (1, 2):
        use_threads(threads)
        print(f"{threads} thread{'s' if threads > 1 else ''}:")
        full.append(grid_lines())
    use_threads(1)
    return full[0]


def grid_lines() -> float:
    """Time passes, moves, wirings and rankings; return a full pass [s]."""
    roof = in_weather(scene("d2_motorhome"), "boulder")
    layout = build_layout(roof)
    place = build_place(roof, layout, daylight_for(roof))
    shadows, wiring = cast_shadows(place, layout), roof.wirings[0]
    full = timed(
        "full pass, 24 headings", lambda: wiring_year(place, cast_shadows(place, layout), wiring), 60, 25
    )
    step = iter(range(10_000))

    def one_move() -> None:
        panels = (replace(roof.panels[0], x_m=roof.panels[0].x_m + 0.01 * (next(step) % 5)), *roof.panels[1:])
        live_year(replace(roof, panels=panels))

    timed("one panel moved", one_move, 60, 8)
    for further in roof.wirings:
        name = f"a further wiring, {further.name}"
        timed(name, lambda further=further: wiring_year(place, shadows, further), 100, 2)
    timed("all groupings of 8 panels", lambda: rank_wirings(roof), 5, 500)
    return full


if __name__ == "__main__":
    main()
