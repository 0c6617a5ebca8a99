"""One moment: shadow outlines on the roof, light on every cell, and the power of strings."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.answers.hourly import cell_sky
from sizing.shade.engine.geometry import Layout, build_layout, build_plan, empty_boxes
from sizing.shade.engine.light import States, kind_states, sky_open, sun_vectors, vehicle_axes
from sizing.shade.kernels.kernel_cover import cover_sun, cover_work, outline
from sizing.shade.kernels.kernel_curve import BELOW, PHASES
from sizing.shade.kernels.kernel_nodes import node_curves, panel_power, state_tables
from sizing.shade.kernels.kernel_wiring import node_power
from sizing.shade.scene.chosen_wiring import own_wiring
from sizing.shade.scene.scene import ClearSky, FloatArray, SceneError, SceneInput, Wiring
from sizing.shade.sky.sun import Daylight, clear_moment

ABOVE = 247  # current steps up to the brightest light
GRID_V = 256  # voltages when strings stand in parallel


@dataclass(frozen=True, slots=True)
class ShadowOutline:
    """One object's shadow on the plane of the panels at ``z_m``, counter-clockwise corners (x, y) [m]."""

    name: str
    z_m: float
    corners_m: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class PanelMoment:
    """One panel: share of each cell in shadow, row by row along y, cells along x within a row."""

    panel_id: str
    cell_share: tuple[float, ...]
    columns: int
    power_w: float
    bare_power_w: float


@dataclass(frozen=True, slots=True)
class StringMoment:
    """One string at the voltage its controller works at."""

    controller: int
    panel_ids: tuple[str, ...]
    power_w: float
    bare_power_w: float


@dataclass(frozen=True, slots=True)
class ShadeMoment:
    """A moment: where the sun stands, what shades what, what comes out."""

    solar_azimuth_deg: float
    solar_elevation_deg: float
    dni_w_m2: float
    dhi_w_m2: float
    temp_air_c: float
    outlines: tuple[ShadowOutline, ...]
    panels: tuple[PanelMoment, ...]
    strings: tuple[StringMoment, ...]
    power_w: float
    bare_power_w: float

    def to_json(self) -> dict[str, Any]:
        """Return the moment as plain JSON values."""
        return asdict(self)


def shade_moment(
    scene: SceneInput,
    *,
    when: str,
    heading_deg: float,
    wiring: Wiring | None = None,
    sky: FloatArray | None = None,
) -> ShadeMoment:
    """Return shadows and string powers of one moment under a clear sky.

    Parameters
    ----------
    scene : SceneInput
        The roof; its clear-sky weather is used where it has one, else the place's mean turbidity and 20 °C.
    when : str
        Local standard time, ``YYYY-MM-DDTHH:MM``.
    heading_deg : float
        Compass direction of the nose, 0 to 360. [°]
    wiring : Wiring or None
        ``None`` takes the scene's first.
    sky : ndarray or None
        Sky seen by each cell, to spare working it out again for a clock that runs. [-]

    Returns
    -------
    ShadeMoment
        Outlines [m], shares [-], powers [W]; all powers 0 with the sun down.

    Raises
    ------
    SceneError
        If ``when`` is not such a time or the heading lies outside 0 to 360°.

    References
    ----------
    .. [1] Reda and Andreas, NREL/TP-560-34302; Ineichen and Perez (2002).
    """
    day = _moment_daylight(scene, when)
    if not 0.0 <= heading_deg <= 360.0:
        raise SceneError("heading_deg", f"must be 0 to 360 °, got {heading_deg}")
    layout = build_layout(scene)
    axes = vehicle_axes(scene.pitch_deg, scene.roll_deg)
    sun = sun_vectors(day.azimuth_deg - heading_deg, day.elevation_deg, axes)
    is_up = day.elevation_deg[0] > 0.0 and sun[0, 2] > 1e-4
    share, touched = np.zeros((1, layout.n_cells)), np.zeros((1, layout.n_panels), np.bool_)
    if is_up:
        wanted = np.ones(layout.n_panels, np.bool_)
        work = cover_work(layout.shades, layout.grids)
        cover_sun(
            layout.shades,
            layout.grids,
            sun[0],
            wanted,
            0,
            share,
            touched,
            empty_boxes(layout, 1)[0],
            False,
            work,
        )
    seen = cell_sky(scene, layout) if sky is None else sky
    states = kind_states(scene, layout, day, sun)
    chosen = wiring or (scene.wirings[0] if scene.wirings else _own(layout))
    power = _powers(scene, layout, states, share, touched, seen, chosen)
    bare = _powers(
        scene, layout, states, np.zeros_like(share), np.zeros_like(touched), _open(scene, layout), chosen
    )
    return _moment(scene, layout, day, sun[0] if is_up else None, share, chosen, power, bare)


def _own(layout: Layout) -> Wiring:
    return own_wiring(layout.panel_ids)


def _open(scene: SceneInput, layout: Layout) -> FloatArray:
    return np.repeat(sky_open(scene, layout)[layout.wires.kind], np.diff(layout.grids.first))


def _moment_daylight(scene: SceneInput, when: str) -> Daylight:
    try:
        stamp = dt.datetime.fromisoformat(when)
    except (ValueError, TypeError) as trouble:
        raise SceneError("when", f"must be a time like 2025-06-21T09:30, got {when!r}") from trouble
    if stamp.tzinfo is not None:
        raise SceneError("when", f"must be a local standard time without zone, got {when!r}")
    utc = stamp.replace(tzinfo=dt.UTC).timestamp() - scene.site.utc_offset_h * 3600.0
    return clear_moment(
        scene.weather if isinstance(scene.weather, ClearSky) else None, scene.site, np.array([utc])
    )


def _powers(
    scene: SceneInput,
    layout: Layout,
    states: States,
    share: FloatArray,
    touched: npt.NDArray[np.bool_],
    sky: FloatArray,
    wiring: Wiring,
) -> FloatArray:
    """Return what each panel delivers [W], scaled to the controllers' power limits."""
    opened = sky_open(scene, layout)
    n, n_kinds = ABOVE + BELOW + 1, len(layout.kind_types)
    steps = np.zeros(1)
    tables = np.zeros((1, n_kinds, PHASES + 1, n + ABOVE), np.float32)
    light = (states.beam_w_m2, states.diffuse_w_m2, states.extra_w_m2, states.temp_cell_c)
    if max(float(part.max()) for part in light[:3]) <= 0.0:
        return np.zeros(layout.n_panels)
    state_tables(layout.kinds, *light, opened, ABOVE, steps, tables)
    even = np.zeros((1, layout.n_panels, n), np.float32)
    curves = np.zeros((1, layout.n_panels, n), np.float32)
    state_of, spacing = np.zeros((1, 1, 1), np.int64), np.ones((1, 1), np.int64)
    wanted = np.ones(layout.n_panels, np.bool_)
    node_curves(
        layout.kinds, layout.wires, *light, state_of, spacing, steps, tables, share, touched, sky, wanted,
        even, curves, 0, 1,
    )  # fmt: skip
    plan = build_plan(wiring, layout)
    power, voltage = np.zeros((len(plan.tracker), 1)), np.zeros((len(plan.tracker), 1))
    lit = np.ones(1, np.bool_)
    node_power(plan, state_of, spacing, lit, steps, touched, even, curves, GRID_V, power, voltage, 0, 1)
    panels = np.zeros((layout.n_panels, 1))
    panel_power(plan, state_of, spacing, lit, steps, touched, even, curves, voltage, panels)
    delivered = panels[:, 0]
    for c, controller in enumerate(wiring.controllers):
        spots = [layout.index(i) for string in controller.strings for i in string]
        total = delivered[spots].sum()
        if total > 0.0:
            delivered[spots] *= min(power[c, 0], controller.p_max_w) / total
    return delivered


def _moment(
    scene: SceneInput,
    layout: Layout,
    day: Daylight,
    sun: FloatArray | None,
    share: FloatArray,
    wiring: Wiring,
    power: FloatArray,
    bare: FloatArray,
) -> ShadeMoment:
    panels = tuple(
        PanelMoment(
            panel_id=panel_id,
            cell_share=tuple(share[0, layout.grids.first[p] : layout.grids.first[p + 1]].tolist()),
            columns=int(layout.grids.cells[p, 0]),
            power_w=float(power[p]),
            bare_power_w=float(bare[p]),
        )
        for p, panel_id in enumerate(layout.panel_ids)
    )
    strings = tuple(
        StringMoment(
            c,
            string,
            float(sum(power[layout.index(i)] for i in string)),
            float(sum(bare[layout.index(i)] for i in string)),
        )
        for c, controller in enumerate(wiring.controllers)
        for string in controller.strings
    )
    return ShadeMoment(
        solar_azimuth_deg=float(day.azimuth_deg[0]),
        solar_elevation_deg=float(day.elevation_deg[0]),
        dni_w_m2=float(day.dni_w_m2[0]),
        dhi_w_m2=float(day.dhi_w_m2[0]),
        temp_air_c=float(day.temp_air_c[0]),
        outlines=() if sun is None else _outlines(scene, layout, sun),
        panels=panels,
        strings=strings,
        power_w=float(sum(s.power_w for s in strings)),
        bare_power_w=float(sum(s.bare_power_w for s in strings)),
    )


def _outlines(scene: SceneInput, layout: Layout, sun: FloatArray) -> tuple[ShadowOutline, ...]:
    """Return shadow polygons on each flat plane that holds panels."""
    work = cover_work(layout.shades, layout.grids)
    made = []
    for plane in np.flatnonzero(layout.grids.is_flat):
        for k, thing in enumerate(scene.obstructions):
            n = outline(layout.shades, k, layout.grids.frame, int(plane), True, sun, work.poly)
            corners = work.poly[k, :n]
            if len(corners):
                z = float(layout.grids.frame[plane, 0, 2])
                made.append(ShadowOutline(thing.name, z, tuple((float(x), float(y)) for x, y in corners)))
    return tuple(made)
