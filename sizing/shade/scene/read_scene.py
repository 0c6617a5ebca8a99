"""Reads a scene file and refuses what cannot be right, with the JSON path."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator

from sizing.core.limits import Count, InputOutOfRange, Range, shown
from sizing.core.reading import Form, loads, read_file
from sizing.shade.scene.lay_rules import LAY, KeepOut, LayoutRules
from sizing.shade.scene.read_weather import read_weather
from sizing.shade.scene.scene import (
    DEFAULT_HEADINGS_DEG,
    MAX_CELLS_PER_PANEL,
    MAX_PANELS,
    Controller,
    Name,
    Obstruction,
    ObstructionKind,
    PanelType,
    PlacedPanel,
    Roof,
    SceneError,
    SceneInput,
    Site,
    TrackerKind,
    Wiring,
)

MAX_CELLS: Final = 4000  # of a scene: keeps one request inside its memory budget


# -- checks of one thing; each names the path within it -----------------------------------------------------


def _by_name(data: Any) -> Any:
    """Tell each panel type its name, which the file gives as the key."""
    if not isinstance(data, Mapping):
        return data
    return {
        key: {**facts, "name": key} if isinstance(facts, Mapping) else facts for key, facts in data.items()
    }


def _check_grid(made: PanelType) -> PanelType:
    if made.nx * made.ny > MAX_CELLS_PER_PANEL:
        raise InputOutOfRange(
            "", f"may have at most {MAX_CELLS_PER_PANEL} cells, got nx*ny = {made.nx * made.ny}"
        )
    if made.ny % made.n_groups:
        raise InputOutOfRange("n_bypass", f"must divide the {made.ny} rows evenly, got {made.n_bypass}")
    if made.nx % made.halves:
        raise InputOutOfRange("halves", f"needs an even number of columns, got nx = {made.nx}")
    if 2 * made.margin_m >= min(made.len_x_m, made.len_y_m):
        raise InputOutOfRange("margin", f"leaves no room for cells, got {made.margin_m} m on each side")
    return made


_BOX_ONLY: Final = ("lx", "ly", "yaw_deg")


def _used_sizes(data: Any) -> Any:
    """Leave out sizes that the kind of an obstruction does not use; refuse one that it misses."""
    if not isinstance(data, Mapping) or data.get("kind") not in tuple(ObstructionKind):
        return data
    is_box = data["kind"] == ObstructionKind.BOX
    for name in ("lx", "ly") if is_box else ("r",):
        if data.get(name) is None:
            raise InputOutOfRange(name, "is missing")
    unused = ("r",) if is_box else _BOX_ONLY
    return {name: value for name, value in data.items() if name not in unused}


def check_tracker(made: Controller) -> Controller:
    """Refuse limits of a controller that contradict one another."""
    if made.kind == TrackerKind.PWM:
        if not made.v_pwm_v:
            raise InputOutOfRange("v_pwm", "is missing")
        return made
    if made.v_max_v < made.v_min_v:
        raise InputOutOfRange("v_max", f"must be at least v_min ({made.v_min_v:g} V), got {made.v_max_v:g} V")
    return replace(made, v_pwm_v=0.0)


# -- the file ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Parking:
    pitch_deg: Annotated[float, Range(-20.0, 20.0, "°")] = 0.0
    roll_deg: Annotated[float, Range(-20.0, 20.0, "°")] = 0.0


@dataclass(frozen=True, slots=True)
class _WiringForm:
    controllers: Annotated[
        tuple[Annotated[Controller, AfterValidator(check_tracker)], ...], Count(1, MAX_PANELS, "controllers")
    ]


@dataclass(frozen=True, slots=True)
class _SceneForm:
    """The members of a scene file."""

    roof: Roof
    location: Site
    weather: Annotated[Any, BeforeValidator(read_weather)]
    panel_types: Annotated[
        dict[str, Annotated[PanelType, AfterValidator(_check_grid)]], BeforeValidator(_by_name)
    ]
    panels: tuple[PlacedPanel, ...] | None = None
    obstructions: Annotated[
        tuple[Annotated[Obstruction, BeforeValidator(_used_sizes)], ...], Count(0, 60, "obstructions")
    ] = ()
    wirings: dict[str, _WiringForm] = field(default_factory=dict)
    name: Name = "scene"
    headings_deg: Annotated[
        tuple[Annotated[float, Range(0.0, 360.0, "°")], ...], Count(1, 72, "headings")
    ] = DEFAULT_HEADINGS_DEG
    parking: _Parking = field(default_factory=_Parking)
    soiling_fraction: Annotated[float, Range(0.0, 0.9, "(fraction)")] = 0.0
    albedo_fraction: Annotated[float, Range(0.0, 1.0, "(fraction)")] = 0.2
    lay: Any = None  # read by read_lay


_SCENE: Final = Form(_SceneForm, "scene", refusal=SceneError, null_is_absent=True)


def scene_from_file(path: str | Path) -> SceneInput:
    """Return the scene of a JSON file.

    Parameters
    ----------
    path : str or Path
        A file as :func:`scene_from_json` reads it. Lengths. [m]

    Returns
    -------
    SceneInput
        The checked scene. [SI units]

    Raises
    ------
    SceneError
        If the file cannot be read or a fact is missing or out of its range; ``path`` names it.

    References
    ----------
    .. [1] The file format is this project's own.
    """
    return scene_from_json(json_from_file(path))


def json_from_file(path: str | Path) -> Any:
    """Return the parsed JSON of a file; raise SceneError where it cannot be read."""
    try:
        text = read_file(path)
    except InputOutOfRange as refusal:
        raise SceneError(refusal.path, refusal.message) from None
    try:
        return loads(text)
    except InputOutOfRange as refusal:
        raise SceneError(str(path), refusal.message) from None


def scene_from_json(parsed: Any, *, needs_panels: bool = True) -> SceneInput:
    """Return the scene of parsed JSON.

    Parameters
    ----------
    parsed : dict
        ``roof``, ``location``, ``weather``, ``panel_types``, ``panels``, ``obstructions``, ``wirings`` and
        the optional ``headings_deg``, ``parking`` (pitch_deg, roll_deg), ``soiling_fraction``. Lengths. [m]
    needs_panels : bool
        Refuse a scene without panels; a roof that panels are still to be laid on has none. [-]

    Returns
    -------
    SceneInput
        The checked scene. [SI units]

    Raises
    ------
    SceneError
        If a fact is missing or out of its range; ``path`` names it.

    References
    ----------
    .. [1] The file format is this project's own.
    """
    told = _SCENE.read(parsed)
    if told.panels is None and needs_panels:
        raise SceneError("panels", "is missing")
    panels = told.panels or ()
    _check_panels(panels, told, least=1 if needs_panels else 0)
    _check_wirings(told.wirings, {panel.id for panel in panels})
    return SceneInput(
        name=told.name,
        roof=told.roof,
        site=told.location,
        weather=told.weather,
        panel_types=told.panel_types,
        panels=panels,
        obstructions=tuple(
            thing if thing.name else replace(thing, name=f"{thing.kind.value} {place}")
            for place, thing in enumerate(told.obstructions, start=1)
        ),
        wirings=tuple(Wiring(name, form.controllers) for name, form in told.wirings.items()),
        headings_deg=told.headings_deg,
        pitch_deg=told.parking.pitch_deg,
        roll_deg=told.parking.roll_deg,
        soiling_fraction=told.soiling_fraction,
        albedo_fraction=told.albedo_fraction,
    )


def _check_panels(panels: tuple[PlacedPanel, ...], told: _SceneForm, least: int) -> None:
    if not least <= len(panels) <= MAX_PANELS:
        raise SceneError("panels", f"must hold {least} to {MAX_PANELS} panels, got {len(panels)}")
    seen: set[str] = set()
    for place, panel in enumerate(panels):
        if panel.type_name not in told.panel_types:
            listed = ", ".join(f'"{name}"' for name in told.panel_types)
            raise SceneError(
                f"panels[{place}].type", f"must be one of {listed}, got {shown(panel.type_name)}"
            )
        if panel.id in seen:
            raise SceneError(f"panels[{place}].id", f"is used twice: {shown(panel.id)}")
        seen.add(panel.id)
    kinds = [told.panel_types[panel.type_name] for panel in panels]
    if sum(kind.nx * kind.ny for kind in kinds) > MAX_CELLS:
        raise SceneError("panels", f"may hold at most {MAX_CELLS} cells together")


def _check_wirings(wirings: Mapping[str, _WiringForm], panel_ids: set[str]) -> None:
    for name, wiring in wirings.items():
        used: set[str] = set()
        for place, controller in enumerate(wiring.controllers):
            path = f"wirings.{name}.controllers[{place}].strings"
            if not controller.strings:
                raise SceneError(path, "is missing")
            for row, string in enumerate(controller.strings):
                _check_string(f"{path}[{row}]", string, panel_ids, used)


def _check_string(path: str, string: tuple[str, ...], panel_ids: set[str], used: set[str]) -> None:
    for place, panel_id in enumerate(string):
        if panel_id not in panel_ids:
            raise SceneError(f"{path}[{place}]", f"names no panel of this scene: {shown(panel_id)}")
        if panel_id in used:
            raise SceneError(f"{path}[{place}]", f"panel {shown(panel_id)} is already wired")
        used.add(panel_id)


# -- the member lay ---------------------------------------------------------------------------------------


def read_lay(data: Any, scene: SceneInput) -> LayoutRules:
    """Return the rules of a layout; names must be those of panel types and roof objects of the scene."""
    rules = LAY.read(data, at="lay")
    _check_rules(rules)
    for place, name in enumerate(rules.type_names):
        if name not in scene.panel_types:
            raise SceneError(f"lay.type_names[{place}]", f"names no panel type: {shown(name)}")
    _check_names("holes", rules.holes, scene.panel_types, "panel type")
    _check_names("mass_kg", rules.mass_kg, scene.panel_types, "panel type")
    things = [thing.name for thing in scene.obstructions]
    _check_names("clearance_m", rules.clearance_m, things, "roof object")
    return rules


def _check_names(member: str, given: Iterable[str], known: Iterable[str], what: str) -> None:
    for name in given:
        if name not in known:
            raise SceneError(f"lay.{member}.{name}", f"names no {what} of this scene")


def _check_rules(rules: LayoutRules) -> None:
    """Refuse rules at odds with one another, and a price that would count for nothing."""
    areas = {"keep_outs": rules.keep_outs, **{f"ways[{i}]": way for i, way in enumerate(rules.ways)}}
    for member, each in areas.items():
        for place, area in enumerate(each):
            _check_area(f"lay.{member}[{place}]", area)
    limits = rules.string_limits
    if limits.series_max < limits.series_min:
        raise SceneError(
            "lay.string_limits.series_max",
            f"must be at least series_min ({limits.series_min}), got {limits.series_max}",
        )
    if rules.controller is not None:
        try:
            check_tracker(rules.controller)
        except InputOutOfRange as refusal:
            raise SceneError(f"lay.controller.{refusal.path}", refusal.message) from None
    if (rules.gland_x_m is None) != (rules.gland_y_m is None):
        raise SceneError("lay.gland_x_m" if rules.gland_x_m is None else "lay.gland_y_m", "is missing")
    if rules.wire_cost_kwh_m > 0.0 and rules.gland_x_m is None:
        raise SceneError("lay.wire_cost_kwh_m", "needs gland_x_m and gland_y_m, where the wire goes in")
    if rules.mass_cost_kwh_kg > 0.0 and not rules.mass_kg:
        raise SceneError("lay.mass_cost_kwh_kg", "needs mass_kg, what each panel type weighs")


def _check_area(path: str, area: KeepOut) -> None:
    for key, low, high in (("x1", area.x0_m, area.x1_m), ("y1", area.y0_m, area.y1_m)):
        if high <= low:
            raise SceneError(f"{path}.{key}", f"must be above {low:g} m, got {high:g} m")
