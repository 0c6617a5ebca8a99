"""The yearly shade engine, timed by hand: ``python tests/bench/bench_shade.py``.

Eight panels of 36 cells, six obstructions, 24 headings, the typical year of Boulder. The baseline is what a
competent user would write with pvlib (sun), shapely (shadow on each cell) and PVMismatch (array power at its
default grid): a sample of its daylight hours is run in the same minute and scaled to the year's hours of one
heading. Ratios are per layout, heading and year.
"""

from __future__ import annotations

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

from sizing.shade.fast import cast_shadows, wiring_year
from sizing.shade.geometry import build_layout
from sizing.shade.live import live_year
from sizing.shade.place import build_place
from sizing.shade.weather import daylight_for
from sizing.shade.wirings import rank_wirings
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
    spent = []
    for _ in range(turns):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    spent.sort()
    median, high = statistics.median(spent), spent[min(len(spent) - 1, int(0.95 * len(spent)))]
    print(f"{label:<34}{median * 1e3:9.1f} ms  p95 {high * 1e3:8.1f}   goal {goal_ms:g}")
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


def main() -> None:
    """Run every line and print it."""
    roof = in_weather(scene("d2_motorhome"), "boulder")
    layout, day = build_layout(roof), daylight_for(roof)
    place = build_place(roof, layout, day)
    shadows, wiring = cast_shadows(place, layout), roof.wirings[0]
    full = timed(
        "full pass, 24 headings", lambda: wiring_year(place, cast_shadows(place, layout), wiring), 30, 25
    )
    step = iter(range(10_000))

    def one_move() -> None:
        panels = (replace(roof.panels[0], x_m=roof.panels[0].x_m + 0.01 * (next(step) % 5)), *roof.panels[1:])
        live_year(replace(roof, panels=panels))

    timed("one panel moved", one_move, 40, 8)
    timed("a further wiring", lambda: wiring_year(place, shadows, roof.wirings[1]), 30, 2)
    timed("all groupings of 8 panels", lambda: rank_wirings(roof), 3, 500)
    timed("a new place", lambda: build_place(roof, layout, daylight_for(roof)), 3, 300)
    one = replace(roof, wirings=roof.wirings[:1])
    timed("every hour, one wiring", lambda: every_hour_kwh(one), 2, 2000)
    slow = baseline_s(roof)
    print(f"{'pvlib + shapely + PVMismatch':<34}{slow:9.0f} s for one heading")
    print(f"{'ratio per layout, heading, year':<34}{slow / (full / 24):9.0f}  goal 100000")


if __name__ == "__main__":
    main()
