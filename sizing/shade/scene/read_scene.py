"""The JSON form of a scene: reads it and refuses what cannot be right, with the JSON path."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from sizing.shade.scene.jsonpath import Fact
from sizing.shade.scene.read_weather import read_weather
from sizing.shade.scene.scene import (
    DEFAULT_HEADINGS_DEG,
    Cell,
    Controller,
    Hinge,
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

MAX_CELLS = 4000  # of a scene: keeps one request inside its memory budget
MAX_CELLS_PER_PANEL = 400
MAX_OBSTRUCTIONS = 60
MAX_PANELS = 60


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
    """Return the parsed JSON of a file; raise SceneError naming the file where it cannot be read."""
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as trouble:
        raise SceneError(str(path), f"cannot be read: {trouble}") from trouble
    try:
        return json.loads(text)
    except (json.JSONDecodeError, RecursionError) as trouble:
        raise SceneError(str(path), f"is not JSON: {trouble}") from trouble


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
    top = Fact(parsed, "")
    types = {name: _panel_type(name, fact) for name, fact in top.child("panel_types").members()}
    has_panels = needs_panels or top.get("panels") is not None
    panels = _panels(top.child("panels"), types, 1 if needs_panels else 0) if has_panels else ()
    scene = SceneInput(
        name=top.text("name", default="scene"),
        roof=_roof(top.child("roof")),
        site=_site(top.child("location")),
        weather=read_weather(top.child("weather")),
        panel_types=types,
        panels=panels,
        obstructions=_obstructions(top.get("obstructions")),
        wirings=_wirings(top.get("wirings"), {panel.id for panel in panels}),
        headings_deg=_headings(top.get("headings_deg")),
        pitch_deg=_parking(top, "pitch_deg"),
        roll_deg=_parking(top, "roll_deg"),
        soiling_fraction=top.number("soiling_fraction", 0.0, 0.9, "(fraction)", default=0.0),
        albedo_fraction=top.number("albedo_fraction", 0.0, 1.0, "(fraction)", default=0.2),
    )
    if sum(t.nx * t.ny for t in map(scene.panel_type, panels)) > MAX_CELLS:
        raise SceneError("panels", f"may hold at most {MAX_CELLS} cells together")
    return scene


def _parking(top: Fact, key: str) -> float:
    parking = top.get("parking")
    return 0.0 if parking is None else parking.number(key, -20.0, 20.0, "°", default=0.0)


def _roof(fact: Fact) -> Roof:
    return Roof(
        fact.number("length", 0.0, 30.0, "m", above=True), fact.number("width", 0.0, 5.0, "m", above=True)
    )


def _site(fact: Fact) -> Site:
    return Site(
        latitude_deg=fact.number("lat", -90.0, 90.0, "°"),
        longitude_deg=fact.number("lon", -180.0, 180.0, "°"),
        altitude_m=fact.number("altitude_m", -450.0, 6000.0, "m", default=0.0),
        utc_offset_h=fact.integer("utc_offset_h", -12, 14),
    )


def _cell(fact: Fact) -> Cell:
    return Cell(
        light_current_a=fact.number("IL", 0.0, 40.0, "A", above=True),
        saturation_current_a=fact.number("I0", 0.0, 1e-3, "A", above=True),
        ideality=fact.number("n", 0.5, 3.0, "-"),
        series_ohm=fact.number("Rs", 0.0, 0.2, "Ω"),
        shunt_ohm=fact.number("Rsh", 0.1, 1e7, "Ω"),
        alpha_a_per_k=fact.number("alpha_A_K", -0.1, 0.1, "A/K", default=0.0),
        breakdown_factor=fact.number("breakdown_factor", 0.0, 10.0, "-", default=0.1),
        breakdown_v=fact.number("breakdown_voltage", -200.0, -1.0, "V", default=-15.0),
        breakdown_exp=fact.number("breakdown_exp", 0.1, 10.0, "-", default=3.7),
    )


def _panel_type(name: str, fact: Fact) -> PanelType:
    made = PanelType(
        name=name,
        len_x_m=fact.number("lx", 0.0, 5.0, "m", above=True),
        len_y_m=fact.number("ly", 0.0, 5.0, "m", above=True),
        nx=fact.integer("nx", 1, MAX_CELLS_PER_PANEL),
        ny=fact.integer("ny", 1, MAX_CELLS_PER_PANEL),
        n_bypass=fact.integer("n_bypass", 0, 36),
        halves=fact.integer("halves", 1, 2, default=1),
        margin_m=fact.number("margin", 0.0, 0.5, "m", default=0.0),
        cell=_cell(fact.child("cell")),
    )
    _check_grid(made, fact)
    return made


def _check_grid(made: PanelType, fact: Fact) -> None:
    if made.nx * made.ny > MAX_CELLS_PER_PANEL:
        raise fact.fail(f"may have at most {MAX_CELLS_PER_PANEL} cells, got nx*ny = {made.nx * made.ny}")
    if made.ny % made.n_groups:
        raise fact.child("n_bypass").fail(f"must divide the {made.ny} rows evenly, got {made.n_bypass}")
    if made.nx % made.halves:
        raise fact.child("halves").fail(f"needs an even number of columns, got nx = {made.nx}")
    if 2 * made.margin_m >= min(made.len_x_m, made.len_y_m):
        raise fact.child("margin").fail(f"leaves no room for cells, got {made.margin_m} m on each side")


def _panels(fact: Fact, types: dict[str, PanelType], least: int) -> tuple[PlacedPanel, ...]:
    elements = fact.elements()
    if not least <= len(elements) <= MAX_PANELS:
        raise fact.fail(f"must hold {least} to {MAX_PANELS} panels, got {len(elements)}")
    panels: list[PlacedPanel] = []
    for element in elements:
        panel = _panel(element, types)
        if any(panel.id == other.id for other in panels):
            raise element.child("id").fail(f"is used twice: {panel.id!r}")
        panels.append(panel)
    return tuple(panels)


def _panel(fact: Fact, types: dict[str, PanelType]) -> PlacedPanel:
    rot = fact.integer("rot", 0, 90, default=0)
    if rot not in (0, 90):
        raise fact.child("rot").fail(f"must be 0 or 90 °, got {rot}")
    return PlacedPanel(
        id=fact.text("id"),
        type_name=fact.choice("type", tuple(types)),
        x_m=fact.number("x", -5.0, 35.0, "m"),
        y_m=fact.number("y", -5.0, 10.0, "m"),
        z_m=fact.number("z", 0.0, 3.0, "m", default=0.0),
        rot_deg=rot,
        tilt_deg=fact.number("tilt_deg", 0.0, 75.0, "°", default=0.0),
        hinge=Hinge(fact.choice("hinge", tuple(Hinge), default="rear")),
    )


def _obstructions(fact: Fact | None) -> tuple[Obstruction, ...]:
    if fact is None:
        return ()
    elements = fact.elements()
    if len(elements) > MAX_OBSTRUCTIONS:
        raise fact.fail(f"must hold at most {MAX_OBSTRUCTIONS}, got {len(elements)}")
    return tuple(_obstruction(element, i) for i, element in enumerate(elements))


def _obstruction(fact: Fact, place: int) -> Obstruction:
    kind = ObstructionKind(fact.choice("kind", tuple(ObstructionKind)))
    is_box = kind == ObstructionKind.BOX
    return Obstruction(
        kind=kind,
        cx_m=fact.number("cx", -20.0, 50.0, "m"),
        cy_m=fact.number("cy", -20.0, 25.0, "m"),
        h_m=fact.number("h", 0.0, 20.0, "m"),
        lx_m=fact.number("lx", 0.0, 30.0, "m", above=True) if is_box else 0.0,
        ly_m=fact.number("ly", 0.0, 30.0, "m", above=True) if is_box else 0.0,
        r_m=0.0 if is_box else fact.number("r", 0.0, 15.0, "m", above=True),
        yaw_deg=fact.number("yaw_deg", -360.0, 360.0, "°", default=0.0) if is_box else 0.0,
        z0_m=fact.number("z0", 0.0, 20.0, "m", default=0.0),
        name=fact.text("name", default=f"{kind.value} {place + 1}"),
    )


def _headings(fact: Fact | None) -> tuple[float, ...]:
    if fact is None:
        return DEFAULT_HEADINGS_DEG
    headings = tuple(element.as_number(0.0, 360.0, "°") for element in fact.elements())
    if not 1 <= len(headings) <= 72:
        raise fact.fail(f"must hold 1 to 72 headings, got {len(headings)}")
    return headings


def _wirings(fact: Fact | None, panel_ids: set[str]) -> tuple[Wiring, ...]:
    if fact is None:
        return ()
    return tuple(_wiring(name, inner, panel_ids) for name, inner in fact.members())


def _wiring(name: str, fact: Fact, panel_ids: set[str]) -> Wiring:
    listed = fact.child("controllers")
    elements = listed.elements()
    if not elements:
        raise listed.fail("must hold at least one controller")
    used: set[str] = set()
    return Wiring(name, tuple(_controller(element, panel_ids, used) for element in elements))


def _controller(fact: Fact, panel_ids: set[str], used: set[str]) -> Controller:
    return replace(read_tracker(fact), strings=_strings(fact.child("strings"), panel_ids, used))


def read_tracker(fact: Fact) -> Controller:
    """Return a controller's kind and limits, without strings."""
    kind = TrackerKind(fact.choice("type", tuple(TrackerKind), default="mppt"))
    v_min = fact.number("v_min", 0.0, 1500.0, "V", default=0.0)
    v_max = fact.number("v_max", 0.0, 1500.0, "V", default=1000.0, above=True)
    if kind != TrackerKind.PWM and v_max < v_min:
        raise fact.child("v_max").fail(f"must be at least v_min ({v_min:g} V), got {v_max:g} V")
    is_pwm = kind == TrackerKind.PWM
    return Controller(
        strings=(),
        kind=kind,
        v_min_v=v_min,
        v_max_v=v_max,
        p_max_w=fact.number("p_max", 0.0, 1e12, "W", default=1e9, above=True),
        v_pwm_v=fact.number("v_pwm", 0.0, 1500.0, "V", above=True) if is_pwm else 0.0,
        v_start_v=fact.number("v_start", 0.0, 1500.0, "V", default=0.0),
        is_blocking=fact.flag("blocking", default=False),
    )


def _strings(fact: Fact, panel_ids: set[str], used: set[str]) -> tuple[tuple[str, ...], ...]:
    strings = []
    for element in fact.elements():
        members = [(inner, inner.as_text()) for inner in element.elements()]
        if not members:
            raise element.fail("must hold at least one panel")
        for inner, panel_id in members:
            if panel_id not in panel_ids:
                raise inner.fail(f"names no panel of this scene: {panel_id!r}")
            if panel_id in used:
                raise inner.fail(f"panel {panel_id!r} is already wired")
            used.add(panel_id)
        strings.append(tuple(panel_id for _, panel_id in members))
    if not strings:
        raise fact.fail("must hold at least one string")
    return tuple(strings)
