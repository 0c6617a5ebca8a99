"""How fast the sizing face answers, against a plain per-call script of pandas and pvlib in the same run.

Run: ``python tests/bench/bench_size_system.py``. Prints medians; nothing is asserted, machines differ.
The plain script does what a competent user would write for one design without this engine: read the tables
with pandas, look up the ampacity, work the cold and hot volts with pvlib's single-diode model, and sum a
month's average day with pvlib's sun and clear sky.
"""

from __future__ import annotations

import pathlib
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2]))

import sizing
from tests.designs import P200, controller, golden, placed

TABLES = pathlib.Path(sizing.__file__).parent / "tables"


def median_ms(call: Callable[[], Any], times: int) -> float:
    """Return the median duration of a call after one to warm up."""
    call()
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        spent.append((time.perf_counter() - start) * 1000)
    return statistics.median(spent)


def plain_script() -> float:
    """Size the reference design the plain way: tables by pandas, module and sun by pvlib."""
    import pandas as pd
    from pvlib import location, pvsystem

    ampacity = pd.read_csv(TABLES / "ampacity_33cfr183_table5.csv")
    factors = pd.read_csv(TABLES / "voc_temperature_nec_690_7.csv")
    conductors = pd.read_csv(TABLES / "conductors.csv")
    diode = sizing.find_modules("", limit=1)[0].single_diode
    volts = 0.0
    for cell_c in (-30.0, 25.0, 70.0):
        moved = pvsystem.calcparams_cec(
            1000.0,
            cell_c,
            diode.alpha_sc_a_per_c,
            diode.a_ref_v,
            diode.i_l_ref_a,
            diode.i_o_ref_a,
            diode.r_sh_ref_ohm,
            diode.r_s_ohm,
            diode.adjust_percent,
        )
        volts += float(pvsystem.singlediode(*moved)["v_oc"])
    place = location.Location(45.0, -90.0, altitude=300)
    day = pd.date_range("2019-06-11", periods=48, freq="30min", tz="Etc/GMT+6")
    energy = place.get_clearsky(day, model="haurwitz")["ghi"].sum() / 2000
    return volts + energy + len(ampacity) + len(factors) + len(conductors)


def import_seconds() -> float:
    """Return how long a fresh process takes to import the face."""
    code = "import time; t = time.perf_counter(); import sizing; print(time.perf_counter() - t)"
    found = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)
        for _ in range(5)
    ]
    return statistics.median(found)


def main() -> None:
    """Print every figure with the goal beside it."""
    design = golden()
    twelve = replace(
        design,
        panels=placed(P200, 12),
        strings=(),
        controllers=(controller(), replace(controller(), id="B")),
        circuits=(
            replace(design.circuits[0], size=None, ocpd=None),
            replace(design.circuits[0], id="C2B", serves="controller:B", size=None, ocpd=None),
        ),
    )
    mixed = replace(
        twelve,
        panels=tuple(
            replace(each, panel=replace(each.panel, name=f"kind {index}"))
            for index, each in enumerate(twelve.panels)
        ),
    )
    full = median_ms(lambda: sizing.size_system(design), 200)
    plain = median_ms(plain_script, 15)
    alike = median_ms(lambda: sizing.string_plans(twelve), 20)
    kinds = median_ms(lambda: sizing.string_plans(mixed), 10)
    print(f"full system, warm          {full:8.2f} ms   goal 5 ms")
    print(f"plain pandas/pvlib script  {plain:8.2f} ms   ratio {plain / full:.0f}")
    print(f"plans, 12 alike, 2 units   {alike:8.2f} ms   goal 150 ms")
    print(f"plans, 12 kinds, 2 units   {kinds:8.2f} ms   goal 150 ms")
    print(f"import sizing              {import_seconds():8.3f} s    goal 0.3 s")


if __name__ == "__main__":
    main()
