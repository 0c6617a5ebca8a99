"""The first answer of a fresh process, by hand: ``python tests/bench/bench_first_answer.py``.

Kernels and bytecode are cached before (``manage.py warm``). First a plain Python that imports the engine and
works out the year of a roof of eight panels with all it has to say; then a server as a shop runs it: from its
start to its first page, then the first live answer of the roof workspace, at once and after three seconds.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
GOAL_S, TURNS = 2.0, 5
ASK = """
from dataclasses import replace
from sizing import scene_from_file, shade_year
from sizing.shade.scene.scene import ClimateGrid
roof = scene_from_file('fixtures/published/shade/d2_motorhome.json')
assert shade_year(replace(roof, weather=ClimateGrid())).findings
"""


def main() -> None:
    """Print every line beside its goal."""
    plain = [
        spent(lambda: subprocess.run([sys.executable, "-c", ASK], cwd=ROOT, check=True)) for _ in range(TURNS)
    ]
    said("python, imports and first year", plain)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "bench")]
        from bench_workspace import estimator, roof, set_up

        set_up()
        design = roof()
        cookie = estimator(design).cookies["sessionid"].value
        for wait_s in (0.0, 3.0):
            started, first, next_one = zip(
                *(server(design, cookie, wait_s) for _ in range(TURNS)), strict=True
            )
            said("server, start to its first page", list(started))
            said(f"  first live answer after {wait_s:.0f} s", list(first))
            said("  the next", list(next_one))


def spent(work: Any) -> float:
    """Return how long something takes [s]."""
    at = time.perf_counter()
    work()
    return time.perf_counter() - at


def server(design: Any, cookie: str, wait_s: float) -> tuple[float, float, float]:
    """Start a server; return start to first page, first live answer and the next [s]."""
    from bench_workspace import served

    from jobs.roof.read import roof_state
    from jobs.workspace.state import layout_state

    at = time.perf_counter()
    process, address = served()
    page = urllib.request.Request(
        f"{address}/designs/{design.pk}/roof/", headers={"Cookie": f"sessionid={cookie}"}
    )
    with urllib.request.urlopen(page) as answer:
        token = answer.headers["Set-Cookie"].partition("csrftoken=")[2].partition(";")[0]
    started = time.perf_counter() - at
    time.sleep(wait_s)
    asked = urllib.request.Request(
        f"{address}/designs/{design.pk}/roof/live/",
        json.dumps({"layout": layout_state(roof_state(design)), "sequence": 1}).encode(),
        {
            "Cookie": f"sessionid={cookie}; csrftoken={token}",
            "X-CSRFToken": token,
            "Content-Type": "application/json",
        },
    )
    times = [spent(lambda: json.load(urllib.request.urlopen(asked))["year"]) for _ in range(2)]
    process.terminate()
    process.wait()
    return started, times[0], times[1]


def said(what: str, times_s: list[float]) -> None:
    """Print median and worst."""
    print(
        f"{what:34s} {statistics.median(times_s):6.2f} s median, {max(times_s):.2f} worst, goal {GOAL_S:.0f}"
    )


if __name__ == "__main__":
    main()
