"""Knows the commands ``shade`` and ``lay``: scene file in, JSON out, named error and code 2 on bad input."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sizing.shade.scene import SceneError, SceneInput

if TYPE_CHECKING:
    from sizing.shade.band import YearBand

REFUSED = 2


class _Parser(argparse.ArgumentParser):
    """Leaves through an exception, so that a command stays a function."""

    def error(self, message: str) -> Any:
        raise SceneError("arguments", message)


def run_shade(argv: Sequence[str]) -> int:
    """Print the year of a scene: by heading and wiring, what each panel and object costs, findings."""
    parser = _Parser(prog="python -m sizing shade", description=run_shade.__doc__)
    parser.add_argument("scene", help="scene file (JSON)")
    parser.add_argument(
        "--main", help="wiring that panels, costs and findings are told for (default: the first)"
    )
    parser.add_argument(
        "--every-hour", action="store_true", help="work out every hour instead of the grid (slow)"
    )
    parser.add_argument("--all-wirings", action="store_true", help="also rank every grouping of the panels")
    parser.add_argument(
        "--years", metavar="FOLDER", help="also the band over the years of weather in a folder (5 or more)"
    )
    parser.add_argument("--within-km", type=float, default=50.0, help="how far those years may lie [km]")
    parser.add_argument(
        "--moment", metavar="TIME", help="one moment instead: local standard 2025-06-21T09:30"
    )
    parser.add_argument("--heading", type=float, default=0.0, help="heading of that moment [°]")
    return _guarded(parser, argv, _shade)


def _shade(scene: SceneInput, options: argparse.Namespace) -> dict[str, Any]:
    from sizing.shade.report import check_report, tidy_numbers, year_report
    from sizing.shade.year import shade_year

    if options.moment:
        from sizing.shade.moment import shade_moment

        found: dict[str, Any] = tidy_numbers(
            shade_moment(scene, when=options.moment, heading_deg=options.heading).to_json()
        )
        return found
    if options.every_hour:
        from sizing.shade.check import shade_check

        return check_report(shade_check(scene), scene.headings_deg)
    report = year_report(shade_year(scene, main=options.main))
    if options.all_wirings:
        from sizing.shade.wirings import rank_wirings

        report["all_wirings"] = tidy_numbers(rank_wirings(scene).to_json())
    if options.years:
        report["band"] = tidy_numbers(_band(scene, options).to_json())
    return report


def _band(scene: SceneInput, options: argparse.Namespace) -> YearBand:
    from sizing.shade.band import year_band
    from sizing.shade.year_files import years_near

    site = scene.site
    years = years_near(options.years, site.latitude_deg, site.longitude_deg, within_km=options.within_km)
    return year_band(scene, [replace(year, heat=scene.weather.heat) for year in years], wiring=options.main)


def run_lay(argv: Sequence[str]) -> int:
    """Lay panels on the roof of a scene: the best layout, its wiring, how much better could exist."""
    parser = _Parser(prog="python -m sizing lay", description=run_lay.__doc__)
    parser.add_argument("scene", help="scene file (JSON); its panel types are laid, its panels are ignored")
    parser.add_argument("--grid", type=float, default=0.05, help="candidate grid [m]")
    parser.add_argument("--seconds", type=float, default=20.0, help="longest search for the layout [s]")
    parser.add_argument("--panels", type=int, default=None, help="most panels to lay")
    return _guarded(parser, argv, _lay)


def _lay(scene: SceneInput, options: argparse.Namespace) -> dict[str, Any]:
    from sizing.shade.lay import lay_panels
    from sizing.shade.lay_rules import LayRules
    from sizing.shade.report import tidy_numbers

    rules = LayRules(grid_m=options.grid, time_limit_s=options.seconds, panels_max=options.panels)
    found: dict[str, Any] = tidy_numbers(lay_panels(scene, rules).to_json())
    return found


def _guarded(
    parser: _Parser, argv: Sequence[str], act: Callable[[SceneInput, argparse.Namespace], dict[str, Any]]
) -> int:
    from sizing.shade.read_scene import scene_from_file

    try:
        options = parser.parse_args(list(argv))
        print(json.dumps(act(scene_from_file(options.scene), options), indent=1, ensure_ascii=False))
    except SceneError as refusal:
        print(f"error: {refusal}", file=sys.stderr)
        return REFUSED
    except SystemExit as leave:  # --help
        return int(leave.code or 0)
    return 0
