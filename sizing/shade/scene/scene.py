"""What a shade question is made of: roof, obstructions, panels, wiring, place and weather.

Roof frame: origin at the rear right corner of the roof seen from above, x forward, y to the left, z up,
meters. Heading is the compass direction of +x, clockwise from north. A field whose name in a scene file is
another has that one as its alias.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

import numpy as np
import numpy.typing as npt
from pydantic import Field

from sizing.core.limits import Count, InputOutOfRange, OneOf, Range

FloatArray = npt.NDArray[np.float64]
MAX_CELLS_PER_PANEL = 400
MAX_PANELS = 60
Name = Annotated[str, Field(min_length=1)]
X = Annotated[float, Range(-5.0, 35.0, "m")]
Y = Annotated[float, Range(-5.0, 10.0, "m")]
Volts = Annotated[float, Range(0.0, 1500.0, "V")]
DEFAULT_HEADINGS_DEG: tuple[float, ...] = tuple(float(h) for h in range(0, 360, 15))


class SceneError(InputOutOfRange):
    """A scene that cannot be asked about; ``path`` is the JSON path of the fact that is wrong."""


class NoFreePlace(SceneError):
    """A search for layouts came to nothing: no panel fits, or no place is worth its penalties."""


class ObstructionKind(StrEnum):
    """Shapes a roof object may take."""

    BOX = "box"
    CYLINDER = "cylinder"
    DOME = "dome"


class TrackerKind(StrEnum):
    """How a controller chooses its working voltage."""

    MPPT = "mppt"  # finds the best peak
    MPPT_HIGH_V = "mppt_high_v"  # stays at the first peak it meets coming down from open circuit
    PWM = "pwm"  # ties the array to the battery voltage


class Hinge(StrEnum):
    """The edge of a tilted panel that stays down; the panel faces that way."""

    FRONT = "front"
    REAR = "rear"
    LEFT = "left"
    RIGHT = "right"


class SkyModel(StrEnum):
    """Where diffuse light comes from."""

    ISOTROPIC = "isotropic"
    HAYDAVIES = "haydavies"
    PEREZ = "perez"


@dataclass(frozen=True, slots=True)
class Roof:
    """Roof skin seen from above, along x and along y."""

    len_x_m: Annotated[float, Range(0.0, 30.0, "m", is_above=True), Field(alias="length")]
    len_y_m: Annotated[float, Range(0.0, 5.0, "m", is_above=True), Field(alias="width")]


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: single diode at 1000 W/m² and 25 °C with constant shunt and reverse breakdown."""

    light_current_a: Annotated[float, Range(0.0, 40.0, "A", is_above=True), Field(alias="IL")]
    saturation_current_a: Annotated[float, Range(0.0, 1e-3, "A", is_above=True), Field(alias="I0")]
    ideality: Annotated[float, Range(0.5, 3.0), Field(alias="n")]
    series_ohm: Annotated[float, Range(0.0, 0.2, "Ω"), Field(alias="Rs")]
    shunt_ohm: Annotated[float, Range(0.1, 1e7, "Ω"), Field(alias="Rsh")]
    alpha_a_per_k: Annotated[float, Range(-0.1, 0.1, "A/K"), Field(alias="alpha_A_K")] = 0.0
    breakdown_factor: Annotated[float, Range(0.0, 10.0)] = 0.1
    breakdown_v: Annotated[float, Range(-200.0, -1.0, "V"), Field(alias="breakdown_voltage")] = -15.0
    breakdown_exp: Annotated[float, Range(0.1, 10.0)] = 3.7


@dataclass(frozen=True, slots=True)
class PanelType:
    """Outer size, cell grid and bypass groups; ``n_bypass`` 0: no working diode; ``halves`` 2: half-cut."""

    name: str
    len_x_m: Annotated[float, Range(0.0, 5.0, "m", is_above=True), Field(alias="lx")]
    len_y_m: Annotated[float, Range(0.0, 5.0, "m", is_above=True), Field(alias="ly")]
    nx: Annotated[int, Range(1, MAX_CELLS_PER_PANEL)]
    ny: Annotated[int, Range(1, MAX_CELLS_PER_PANEL)]
    n_bypass: Annotated[int, Range(0, 36)]
    halves: Annotated[int, Range(1, 2), Field(default=1)]
    margin_m: Annotated[float, Range(0.0, 0.5, "m"), Field(default=0.0, alias="margin")]
    cell: Cell

    @property
    def n_groups(self) -> int:
        """Groups in series; one even where no diode works."""
        return max(1, self.n_bypass)

    @property
    def n_series(self) -> int:
        """Cells in series from terminal to terminal."""
        return self.nx * self.ny // self.halves


@dataclass(frozen=True, slots=True)
class PlacedPanel:
    """A panel on the roof: smallest corner, height of the cells, quarter turn, tilt about an edge."""

    id: Name
    type_name: Annotated[Name, Field(alias="type")]
    x_m: Annotated[X, Field(alias="x")]
    y_m: Annotated[Y, Field(alias="y")]
    z_m: Annotated[float, Range(0.0, 3.0, "m"), Field(default=0.0, alias="z")]
    rot_deg: Annotated[int, OneOf((0, 90), "°"), Field(alias="rot")] = 0
    tilt_deg: Annotated[float, Range(0.0, 75.0, "°")] = 0.0
    hinge: Hinge = Hinge.REAR


@dataclass(frozen=True, slots=True)
class Obstruction:
    """An opaque thing on the roof; sizes that its kind does not use are 0."""

    kind: ObstructionKind
    cx_m: Annotated[float, Range(-20.0, 50.0, "m"), Field(alias="cx")]
    cy_m: Annotated[float, Range(-20.0, 25.0, "m"), Field(alias="cy")]
    h_m: Annotated[float, Range(0.0, 20.0, "m"), Field(alias="h")]
    lx_m: Annotated[float, Range(0.0, 30.0, "m", is_above=True), Field(alias="lx")] = 0.0
    ly_m: Annotated[float, Range(0.0, 30.0, "m", is_above=True), Field(alias="ly")] = 0.0
    r_m: Annotated[float, Range(0.0, 15.0, "m", is_above=True), Field(alias="r")] = 0.0
    yaw_deg: Annotated[float, Range(-360.0, 360.0, "°")] = 0.0
    z0_m: Annotated[float, Range(0.0, 20.0, "m"), Field(alias="z0")] = 0.0
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Controller:
    """One tracker and its strings: panels of a string in series, strings in parallel."""

    strings: Annotated[
        tuple[Annotated[tuple[Name, ...], Count(1, MAX_PANELS, "panels")], ...],
        Count(1, MAX_PANELS, "strings"),
        Field(default=()),
    ]
    kind: Annotated[TrackerKind, Field(alias="type")] = TrackerKind.MPPT
    v_min_v: Annotated[Volts, Field(alias="v_min")] = 0.0
    v_max_v: Annotated[float, Range(0.0, 1500.0, "V", is_above=True), Field(alias="v_max")] = 1000.0
    p_max_w: Annotated[float, Range(0.0, 1e12, "W", is_above=True), Field(alias="p_max")] = 1e9
    v_pwm_v: Annotated[float, Range(0.0, 1500.0, "V", is_above=True), Field(alias="v_pwm")] = 0.0
    v_start_v: Annotated[Volts, Field(alias="v_start")] = 0.0
    is_blocking: Annotated[bool, Field(alias="blocking")] = False


@dataclass(frozen=True, slots=True)
class Wiring:
    """A named way to connect the panels."""

    name: str
    controllers: tuple[Controller, ...]


@dataclass(frozen=True, slots=True)
class Site:
    """Where the vehicle stands."""

    latitude_deg: Annotated[float, Range(-90.0, 90.0, "°"), Field(alias="lat")]
    longitude_deg: Annotated[float, Range(-180.0, 180.0, "°"), Field(alias="lon")]
    altitude_m: Annotated[float, Range(-450.0, 6000.0, "m"), Field(default=0.0)]
    utc_offset_h: Annotated[int, Range(-12, 14)]


@dataclass(frozen=True, slots=True)
class Heat:
    """What turns light into panel temperature and takes the reflection off diffuse light."""

    u0_w_m2k: float = 20.0
    u1_ws_m3k: float = 5.0
    iam_diffuse: float = 0.95


@dataclass(frozen=True, slots=True)
class ClearSky:
    """A year of clear sky (Ineichen and Perez) with cosine temperatures."""

    linke_turbidity: float
    beam_scale: float = 1.0
    diffuse_scale: float = 1.0
    t_mean_c: float = 15.0
    t_season_c: float = 0.0
    t_daily_c: float = 0.0
    wind_ms: float = 1.5
    year: int = 2023
    heat: Heat = field(default_factory=Heat)
    sky_model: SkyModel = SkyModel.ISOTROPIC


@dataclass(frozen=True, slots=True)
class WeatherFile:
    """A typical-year file on disk: ``epw``, ``tmy3``, ``pvgis_tmy`` (csv); gzip allowed."""

    path: str
    format: str
    heat: Heat = field(default_factory=Heat)
    sky_model: SkyModel = SkyModel.HAYDAVIES


@dataclass(frozen=True, slots=True)
class MonthlyClimate:
    """Twelve months of mean daily light and mean daily lowest and highest temperature."""

    ghi_kwh_m2_day: tuple[float, ...]
    t_min_c: tuple[float, ...]
    t_max_c: tuple[float, ...]
    wind_ms: float = 1.5
    heat: Heat = field(default_factory=Heat)
    sky_model: SkyModel = SkyModel.HAYDAVIES


@dataclass(frozen=True, slots=True)
class ClimateGrid:
    """The built-in climate table, read at the site."""

    wind_ms: float = 1.5
    heat: Heat = field(default_factory=Heat)
    sky_model: SkyModel = SkyModel.HAYDAVIES


@dataclass(frozen=True, slots=True, eq=False)
class HourlyWeather:
    """Samples in memory, each ``weight_h`` hours; ``times_utc_s`` is the middle of the sample, Unix time."""

    times_utc_s: FloatArray
    weight_h: FloatArray
    ghi_w_m2: FloatArray
    dni_w_m2: FloatArray
    dhi_w_m2: FloatArray
    temp_air_c: FloatArray
    wind_ms: FloatArray
    heat: Heat = field(default_factory=Heat)
    sky_model: SkyModel = SkyModel.HAYDAVIES


Weather = ClearSky | WeatherFile | MonthlyClimate | ClimateGrid | HourlyWeather


@dataclass(frozen=True, slots=True)
class SceneInput:
    """Everything a year on a roof depends on."""

    roof: Roof
    site: Site
    weather: Weather
    panel_types: Mapping[str, PanelType]
    panels: tuple[PlacedPanel, ...]
    obstructions: tuple[Obstruction, ...] = ()
    wirings: tuple[Wiring, ...] = ()
    name: str = ""
    headings_deg: tuple[float, ...] = DEFAULT_HEADINGS_DEG
    pitch_deg: float = 0.0  # nose up
    roll_deg: float = 0.0  # right side down
    soiling_fraction: float = 0.0
    albedo_fraction: float = 0.2  # of the ground, seen by tilted panels only

    def panel_type(self, panel: PlacedPanel) -> PanelType:
        """Return the type of a placed panel."""
        return self.panel_types[panel.type_name]
