"""The JSON form of a scene's weather."""

from __future__ import annotations

from sizing.shade.scene.jsonpath import Fact
from sizing.shade.scene.scene import (
    ClearSky,
    ClimateGrid,
    Heat,
    MonthlyClimate,
    SkyModel,
    Weather,
    WeatherFile,
)

MODELS = ("ineichen", "file", "monthly", "climate_grid")
FORMATS = ("epw", "tmy3", "pvgis_tmy")


def read_weather(fact: Fact) -> Weather:
    """Return the weather of a scene; ``model`` chooses which facts are asked."""
    model = fact.choice("model", MODELS)
    if model == "ineichen":
        return _clear_sky(fact)
    if model == "file":
        return WeatherFile(
            path=fact.text("path"),
            format=fact.choice("format", FORMATS),
            heat=_heat(fact),
            sky_model=_sky(fact, SkyModel.HAYDAVIES),
        )
    wind = fact.number("wind_ms", 0.0, 40.0, "m/s", default=1.5)
    if model == "climate_grid":
        return ClimateGrid(wind_ms=wind, heat=_heat(fact), sky_model=_sky(fact, SkyModel.HAYDAVIES))
    return MonthlyClimate(
        ghi_kwh_m2_day=_twelve(fact.child("ghi_kwh_m2_day"), 0.0, 12.0, "kWh/m²·day"),
        t_min_c=_twelve(fact.child("t_min_c"), -70.0, 50.0, "°C"),
        t_max_c=_twelve(fact.child("t_max_c"), -70.0, 60.0, "°C"),
        wind_ms=wind,
        heat=_heat(fact),
        sky_model=_sky(fact, SkyModel.HAYDAVIES),
    )


def _clear_sky(fact: Fact) -> ClearSky:
    return ClearSky(
        linke_turbidity=fact.number("linke_turbidity", 1.0, 10.0, "-"),
        beam_scale=fact.number("beam_scale", 0.0, 2.0, "-", default=1.0),
        diffuse_scale=fact.number("diffuse_scale", 0.0, 5.0, "-", default=1.0),
        t_mean_c=fact.number("t_mean_c", -60.0, 50.0, "°C"),
        t_season_c=fact.number("t_season_c", -50.0, 50.0, "°C", default=0.0),
        t_daily_c=fact.number("t_daily_c", -30.0, 30.0, "°C", default=0.0),
        wind_ms=fact.number("wind_ms", 0.0, 40.0, "m/s", default=1.5),
        heat=_heat(fact),
        sky_model=_sky(fact, SkyModel.ISOTROPIC),
    )


def _heat(fact: Fact) -> Heat:
    return Heat(
        u0_w_m2k=fact.number("u0", 1.0, 100.0, "W/m²K", default=20.0),
        u1_ws_m3k=fact.number("u1", 0.0, 50.0, "Ws/m³K", default=5.0),
        iam_diffuse=fact.number("iam_diffuse", 0.0, 1.0, "-", default=0.95),
    )


def _sky(fact: Fact, default: SkyModel) -> SkyModel:
    return SkyModel(fact.choice("sky_model", tuple(SkyModel), default=default.value))


def _twelve(fact: Fact, low: float, high: float, unit: str) -> tuple[float, ...]:
    values = tuple(element.as_number(low, high, unit) for element in fact.elements())
    if len(values) != 12:
        raise fact.fail(f"must hold 12 monthly values, got {len(values)}")
    return values
