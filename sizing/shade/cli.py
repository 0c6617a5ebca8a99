"""Runs the commands ``shade`` and ``lay``: scene file in, JSON out, one line and code 2 for a refused one."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from sizing.core.printing import print_json, refuse
from sizing.shade.scene.scene import SceneError, SceneInput

if TYPE_CHECKING:
    from sizing.shade.answers.band import YearBand


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


def _shade(options: argparse.Namespace) -> dict[str, Any]:
    from sizing.shade.answers.report import check_report, tidy_numbers, year_report
    from sizing.shade.answers.rules_of_thumb import folk_answers
    from sizing.shade.answers.year import shade_year
    from sizing.shade.scene.read_scene import scene_from_file

    scene = scene_from_file(options.scene)
    if options.moment:
        from sizing.shade.answers.moment import shade_moment

        found: dict[str, Any] = tidy_numbers(
            shade_moment(scene, when=options.moment, heading_deg=options.heading).to_json()
        )
        return found
    if options.every_hour:
        from sizing.shade.answers.check import shade_check

        return check_report(shade_check(scene), scene.headings_deg)
    report = year_report(shade_year(scene, main=options.main))
    report["folk_rules"] = tidy_numbers([asdict(found) for found in folk_answers(scene, main=options.main)])
    if options.all_wirings:
        from sizing.shade.answers.wirings import rank_wirings

        report["all_wirings"] = tidy_numbers(rank_wirings(scene).to_json())
    if options.years:
        report["band"] = tidy_numbers(_band(scene, options).to_json())
    return report


def _band(scene: SceneInput, options: argparse.Namespace) -> YearBand:
    from sizing.shade.answers.band import year_band
    from sizing.shade.sky.year_files import years_near

    site = scene.site
    years = years_near(options.years, site.latitude_deg, site.longitude_deg, within_km=options.within_km)
    return year_band(scene, [replace(year, heat=scene.weather.heat) for year in years], wiring=options.main)


def run_lay(argv: Sequence[str]) -> int:
    """Lay panels on the roof of a scene: the best layout, its wiring, how much better could exist."""
    parser = _Parser(prog="python -m sizing lay", description=run_lay.__doc__, epilog=LAY_WORDS)
    parser.add_argument("scene", help="scene file (JSON); its panel types are laid, its panels are ignored")
    for flag, member, kind, words in LAY_FLAGS:
        parser.add_argument(flag, dest=member, type=kind, metavar=METAVARS[kind], help=words)
    for flag, member, words in LAY_LISTS:
        parser.add_argument(
            flag, dest=member, type=_four, action="append", metavar=METAVARS[_four], help=words
        )
    parser.add_argument("--gland", type=_two, metavar=METAVARS[_two], help="where the wire goes in [m]")
    parser.add_argument(
        "--mass", type=_weight, action="append", metavar="TYPE=KG", help="what one panel of a type weighs"
    )
    return _guarded(parser, argv, _lay)


def _lay(options: argparse.Namespace) -> dict[str, Any]:
    from sizing.shade.answers.report import tidy_numbers
    from sizing.shade.layout.best import search_layout
    from sizing.shade.scene.read_scene import json_from_file, read_lay, scene_from_json

    parsed = json_from_file(options.scene)
    scene = scene_from_json(parsed, needs_panels=False)
    asked = {} if parsed.get("lay") is None else parsed["lay"]
    given = {**asked, **_flagged(options)} if isinstance(asked, Mapping) else asked
    found: dict[str, Any] = tidy_numbers(search_layout(scene, read_lay(given, scene)).to_json())
    return found


def _flagged(options: argparse.Namespace) -> dict[str, Any]:
    """Return the members of ``lay`` that flags set, in the form of the file."""
    made = {member: getattr(options, member) for _, member, _, _ in LAY_FLAGS}
    rectangles = {member: getattr(options, member) for _, member, _ in LAY_LISTS}
    made["keep_outs"] = rectangles["keep_outs"]
    made["ways"] = rectangles["ways"] and [[area] for area in rectangles["ways"]]
    made["gland_x_m"], made["gland_y_m"] = options.gland or (None, None)
    made["mass_kg"] = options.mass and dict(options.mass)
    return {member: value for member, value in made.items() if value is not None}


def _numbers(text: str, count: int | None) -> list[float]:
    try:
        found = [float(piece) for piece in text.split(",")]
    except ValueError as trouble:
        raise argparse.ArgumentTypeError(f"needs numbers between commas, got {text!r}") from trouble
    if count is not None and len(found) != count:
        raise argparse.ArgumentTypeError(f"needs {count} numbers between commas, got {text!r}")
    return found


def _any(text: str) -> list[float]:
    return _numbers(text, None)


def _two(text: str) -> list[float]:
    return _numbers(text, 2)


def _four(text: str) -> dict[str, float]:
    return dict(zip(("x0", "y0", "x1", "y1"), _numbers(text, 4), strict=True))


def _weight(text: str) -> tuple[str, float]:
    name, _, mass = text.rpartition("=")
    if not name:
        raise argparse.ArgumentTypeError(f"needs a panel type and its weight, TYPE=KG, got {text!r}")
    return name, _numbers(mass, 1)[0]


METAVARS: dict[Any, str] = {float: "NUMBER", int: "COUNT", _any: "X,X,…", _two: "X,Y", _four: "X0,Y0,X1,Y1"}
#: Flag, member of ``lay`` it sets, kind, words.
LAY_FLAGS: tuple[tuple[str, str, Callable[[str], Any], str], ...] = (
    ("--grid", "grid_m", float, "candidate grid [m] (0.05)"),
    ("--seconds", "time_limit_s", float, "longest search for the layout [s] (20)"),
    ("--panels", "panels_max", int, "most panels to lay"),
    ("--edge", "edge_m", float, "room along the edge of the roof [m] (0.03)"),
    ("--gap", "gap_m", float, "room between panels [m] (0.02)"),
    ("--thing-gap", "obstruction_gap_m", float, "room round roof objects [m] (0.05)"),
    ("--rafters", "rafters_x_m", _any, "rafters across the roof [m]: every panel must span two"),
    ("--holes", "holes_per_panel", int, "holes a panel needs (8)"),
    ("--hole-cost", "hole_cost_kwh", float, "energy a hole is worth [kWh/year]"),
    ("--wire-cost", "wire_cost_kwh_m", float, "energy a meter from panel to gland is worth [kWh/year]"),
    ("--mass-cost", "mass_cost_kwh_kg", float, "energy a kilogram is worth [kWh/year]"),
)
LAY_LISTS = (
    ("--keep-out", "keep_outs", "a rectangle no panel may enter [m]; may be given again"),
    ("--walkway", "ways", "a strip to walk on [m]; given again: one of them stays free"),
)
LAY_WORDS = (
    "The scene file may hold the same and more in its member 'lay' (rules by name, ways of several "
    "rectangles, holes and room by type or object, string limits, controller); a flag wins over the file."
)


def _guarded(
    parser: _Parser, argv: Sequence[str], act: Callable[[argparse.Namespace], dict[str, Any]]
) -> int:
    try:
        options = parser.parse_args(list(argv))
        print_json(act(options))
    except SceneError as refusal:
        return refuse(str(refusal))
    except SystemExit as leave:  # --help
        return int(leave.code or 0)
    return 0
