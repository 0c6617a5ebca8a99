"""Reads the weather of a scene file; its member ``model`` chooses what else is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final

from sizing.core.limits import Count, InputOutOfRange, OneOf, Range, shown
from sizing.core.reading import Form
from sizing.shade.scene.scene import (
    ClearSky,
    ClimateGrid,
    Heat,
    MonthlyClimate,
    Name,
    SkyModel,
    Weather,
    WeatherFile,
)

Wind = Annotated[float, Range(0.0, 40.0, "m/s")]
TWELVE: Final = Count(12, 12, "monthly values")


@dataclass(frozen=True, slots=True, kw_only=True)
class _AnyForm:
    """What every weather may say: how panels shed heat, and where diffuse light comes from."""

    u0: Annotated[float, Range(1.0, 100.0, "W/m²K")] = 20.0
    u1: Annotated[float, Range(0.0, 50.0, "Ws/m³K")] = 5.0
    iam_diffuse: Annotated[float, Range(0.0, 1.0)] = 0.95
    sky_model: SkyModel = SkyModel.HAYDAVIES


@dataclass(frozen=True, slots=True, kw_only=True)
class _ClearSkyForm(_AnyForm):
    linke_turbidity: Annotated[float, Range(1.0, 10.0)]
    beam_scale: Annotated[float, Range(0.0, 2.0)] = 1.0
    diffuse_scale: Annotated[float, Range(0.0, 5.0)] = 1.0
    t_mean_c: Annotated[float, Range(-60.0, 50.0, "°C")]
    t_season_c: Annotated[float, Range(-50.0, 50.0, "°C")] = 0.0
    t_daily_c: Annotated[float, Range(-30.0, 30.0, "°C")] = 0.0
    wind_ms: Wind = 1.5
    sky_model: SkyModel = SkyModel.ISOTROPIC


@dataclass(frozen=True, slots=True, kw_only=True)
class _FileForm(_AnyForm):
    path: Name
    format: Annotated[str, OneOf(("epw", "tmy3", "pvgis_tmy"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _GridForm(_AnyForm):
    wind_ms: Wind = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class _MonthlyForm(_GridForm):
    ghi_kwh_m2_day: Annotated[tuple[Annotated[float, Range(0.0, 12.0, "kWh/m²·day")], ...], TWELVE]
    t_min_c: Annotated[tuple[Annotated[float, Range(-70.0, 50.0, "°C")], ...], TWELVE]
    t_max_c: Annotated[tuple[Annotated[float, Range(-70.0, 60.0, "°C")], ...], TWELVE]


#: Each ``model`` of a file: how it is read and what the engine is told.
MODELS: Final[dict[str, tuple[Form[Any], type[Any]]]] = {
    "ineichen": (Form(_ClearSkyForm, "weather", null_is_absent=True), ClearSky),
    "file": (Form(_FileForm, "weather", null_is_absent=True), WeatherFile),
    "monthly": (Form(_MonthlyForm, "weather", null_is_absent=True), MonthlyClimate),
    "climate_grid": (Form(_GridForm, "weather", null_is_absent=True), ClimateGrid),
}


def read_weather(data: Any) -> Weather:
    """Return the weather of a scene; raise InputOutOfRange with the path within it."""
    if not isinstance(data, Mapping):
        raise InputOutOfRange("", f"must be an object, got {shown(data)}")
    if data.get("model") is None:
        raise InputOutOfRange("model", "is missing")
    try:
        form, kind = MODELS[OneOf(tuple(MODELS)).choice(data["model"])]
    except InputOutOfRange as refusal:
        raise InputOutOfRange("model", refusal.message) from None
    read = form.read({name: value for name, value in data.items() if name != "model"})
    told = {each.name: getattr(read, each.name) for each in fields(read)}
    heat = Heat(told.pop("u0"), told.pop("u1"), told.pop("iam_diffuse"))
    weather: Weather = kind(**told, heat=heat)
    return weather
