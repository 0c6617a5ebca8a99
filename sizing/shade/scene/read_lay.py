"""The JSON form of what an automatic layout must keep to: the member ``lay`` of a scene file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from sizing.shade.scene.groupings import StringLimits
from sizing.shade.scene.jsonpath import Fact
from sizing.shade.scene.lay_rules import KeepOut, LayRules
from sizing.shade.scene.read_scene import MAX_PANELS, read_tracker
from sizing.shade.scene.scene import SceneError

MAX_AREAS = 60
MAX_WAYS = 12
MAX_RAFTERS = 60

Reader = Callable[[Fact, str], Any]


def _number(low: float, high: float, unit: str) -> Reader:
    return lambda fact, key: fact.number(key, low, high, unit)


def _named(low: float, high: float, unit: str) -> Reader:
    return lambda fact, key: {
        name: inner.as_number(low, high, unit) for name, inner in fact.child(key).members()
    }


def _list(fact: Fact, most: int) -> list[Fact]:
    elements = fact.elements()
    if len(elements) > most:
        raise fact.fail(f"must hold at most {most}, got {len(elements)}")
    return elements


def _area(fact: Fact) -> KeepOut:
    """Return a rectangle given by two corners."""
    fact.only("x0", "y0", "x1", "y1", "name")
    x0, x1 = (fact.number(key, -5.0, 35.0, "m") for key in ("x0", "x1"))
    y0, y1 = (fact.number(key, -5.0, 10.0, "m") for key in ("y0", "y1"))
    for key, low, high in (("x1", x0, x1), ("y1", y0, y1)):
        if high <= low:
            raise fact.child(key).fail(f"must be above {low:g} m, got {high:g} m")
    return KeepOut(x0, y0, x1, y1, fact.text("name", default="keep-out"))


def _areas(fact: Fact, key: str) -> tuple[KeepOut, ...]:
    return tuple(_area(element) for element in _list(fact.child(key), MAX_AREAS))


def _ways(fact: Fact, key: str) -> tuple[tuple[KeepOut, ...], ...]:
    ways = _list(fact.child(key), MAX_WAYS)
    return tuple(tuple(_area(element) for element in _list(way, MAX_AREAS)) for way in ways)


def _rafters(fact: Fact, key: str) -> tuple[float, ...]:
    return tuple(inner.as_number(-5.0, 35.0, "m") for inner in _list(fact.child(key), MAX_RAFTERS))


def _types(fact: Fact, key: str) -> tuple[str, ...]:
    return tuple(inner.as_text() for inner in _list(fact.child(key), MAX_PANELS))


def _holes(fact: Fact, key: str) -> dict[str, int]:
    inner = fact.child(key)
    return {name: inner.integer(name, 0, 200) for name, _ in inner.members()}


def _string_limits(fact: Fact, key: str) -> StringLimits:
    inner = fact.child(key)
    inner.only("series_min", "series_max", "strings_max", "equal_lengths")
    low = inner.integer("series_min", 1, 60, default=1)
    high = inner.integer("series_max", 1, 60, default=60)
    if high < low:
        raise inner.child("series_max").fail(f"must be at least series_min ({low}), got {high}")
    return StringLimits(
        low, high, inner.integer("strings_max", 1, 60, default=60), inner.flag("equal_lengths", default=True)
    )


#: Every member of ``lay``, named as in LayRules, and how it is read.
MEMBERS: dict[str, Reader] = {
    "grid_m": _number(0.02, 0.5, "m"),
    "edge_m": _number(0.0, 1.0, "m"),
    "gap_m": _number(0.0, 1.0, "m"),
    "obstruction_gap_m": _number(0.0, 2.0, "m"),
    "panel_z_m": _number(0.0, 1.0, "m"),
    "type_names": _types,
    "keep_outs": _areas,
    "clearance_m": _named(-1.0, 5.0, "m"),
    "ways": _ways,
    "keep_placed": lambda fact, key: fact.flag(key, default=False),
    "rafters_x_m": _rafters,
    "panels_max": lambda fact, key: fact.integer(key, 1, MAX_PANELS),
    "holes_per_panel": lambda fact, key: fact.integer(key, 0, 200),
    "holes": _holes,
    "hole_cost_kwh": _number(0.0, 1000.0, "kWh"),
    "gland_x_m": _number(-5.0, 35.0, "m"),
    "gland_y_m": _number(-5.0, 10.0, "m"),
    "wire_cost_kwh_m": _number(0.0, 1000.0, "kWh/m"),
    "mass_kg": _named(0.0, 200.0, "kg"),
    "mass_cost_kwh_kg": _number(0.0, 1000.0, "kWh/kg"),
    "time_limit_s": _number(0.1, 600.0, "s"),
    "controller": lambda fact, key: read_tracker(fact.child(key)),
    "string_limits": _string_limits,
}


def read_lay(fact: Fact, known_types: tuple[str, ...], known_things: tuple[str, ...]) -> LayRules:
    """Return the rules of a scene file; names must be those of its panel types and roof objects."""
    fact.only(*MEMBERS)
    given = {key: read(fact, key) for key, read in MEMBERS.items() if fact.get(key) is not None}
    rules = replace(LayRules(), **given)
    for key in ("holes", "mass_kg"):
        _known(fact, key, getattr(rules, key), known_types, "panel type")
    _known(fact, "clearance_m", rules.clearance_m, known_things, "roof object")
    for place, name in enumerate(rules.type_names):
        if name not in known_types:
            raise SceneError(f"{fact.path}.type_names[{place}]", f"names no panel type: {name!r}")
    if (rules.gland_x_m is None) != (rules.gland_y_m is None):
        fact.child("gland_x_m" if rules.gland_x_m is None else "gland_y_m")  # says that it is missing
    _priced(fact, rules)
    return rules


def _priced(fact: Fact, rules: LayRules) -> None:
    """Refuse a price that would count for nothing because its quantity is not known."""
    if rules.wire_cost_kwh_m > 0.0 and rules.gland_x_m is None:
        raise fact.child("wire_cost_kwh_m").fail("needs gland_x_m and gland_y_m, where the wire goes in")
    if rules.mass_cost_kwh_kg > 0.0 and not rules.mass_kg:
        raise fact.child("mass_cost_kwh_kg").fail("needs mass_kg, what each panel type weighs")


def _known(fact: Fact, key: str, given: dict[str, Any], known: tuple[str, ...], what: str) -> None:
    for name in given:
        if name not in known:
            raise SceneError(f"{fact.path}.{key}.{name}", f"names no {what} of this scene")
