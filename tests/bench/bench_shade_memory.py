"""The memory of a fresh process of the shade engine, by hand: ``python tests/bench/bench_shade_memory.py``.

Once with the climate grid, as the product asks, once with a typical-year file, which pvlib reads. VmRSS holds
the pages of libraries, which processes share; RssAnon does not.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sizing.shade.answers.check import shade_check
from sizing.shade.answers.live import live_year
from sizing.shade.answers.wirings import rank_wirings
from sizing.shade.answers.year import shade_year
from sizing.shade.layout.best import search_layout
from sizing.shade.scene.scene import ClimateGrid
from tests.shade_scenes import in_weather, scene

GOAL_MB = 300


def say(words: str) -> None:
    """Print what the process holds now and held at most."""
    lines = Path("/proc/self/status").read_text().splitlines()
    facts = [line.split() for line in lines if line.startswith(("VmHWM", "VmRSS", "RssAnon"))]
    print(f"{words:<34}" + "  ".join(f"{name} {int(kb) / 1024:4.0f} MB" for name, kb, _ in facts))


def measure(weather: str) -> None:
    """Ask one question after the other."""
    roof = scene("d2_motorhome")
    roof = replace(roof, weather=ClimateGrid()) if weather == "grid" else in_weather(roof, "boulder")
    shade_year(roof)
    say(f"year of shade, {weather}")
    live_year(roof)
    rank_wirings(roof)
    say("  and one panel moved, all wirings")
    shade_check(roof)
    say("  and every hour")
    search_layout(roof)
    say("  and automatic layout")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(sys.argv[1])
    else:
        print(f"goal {GOAL_MB} MB")
        for chosen in ("grid", "file"):
            subprocess.run([sys.executable, __file__, chosen], check=True)
