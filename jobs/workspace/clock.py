"""Reads what the shade clock over a roof is set to, and shapes the answer for the drawing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sizing
from jobs.engine.scene import Question, Stop, scene_json, shade_question
from jobs.engine.state import DesignState
from jobs.shop.refusals import Refusal, number_within
from jobs.workspace.year import compass

FIRST_YEAR, LAST_YEAR = 1950, 2100


class ClockRefused(Refusal):
    """A moment or place cannot be; names field, limit and unit."""


@dataclass(frozen=True, slots=True)
class ClockAsk:
    """What the clock is set to: local standard time, where the nose points, which place."""

    date: str
    minute: int
    heading_deg: float
    stop_key: str
    spot: tuple[float, float] | None  # latitude and longitude, in place of a stop [°]
    wants: frozenset[str]  # "day", "worst_year" beside the moment

    @property
    def when(self) -> str:
        """Return the moment as the engine reads it."""
        return f"{self.date}T{self.minute // 60:02d}:{self.minute % 60:02d}"


def read_clock(data: Any) -> ClockAsk:
    """Return what was sent; raise ClockRefused for anything that cannot be."""
    if not isinstance(data, Mapping):
        raise ClockRefused("The shade clock needs a date and a time.")
    spot = None
    if data.get("latitude") is not None or data.get("longitude") is not None:
        spot = (
            _number(data.get("latitude"), "Latitude", -90.0, 90.0, "°"),
            _number(data.get("longitude"), "Longitude", -180.0, 180.0, "°"),
        )
    wants = data.get("wants")
    return ClockAsk(
        date=_date(data.get("date")),
        minute=int(_number(data.get("minute"), "Time", 0, 24 * 60 - 1, "minutes of the day")),
        heading_deg=_number(data.get("heading"), "Nose points to", 0.0, 360.0, "°"),
        stop_key=str(data.get("stop") or ""),
        spot=spot,
        wants=frozenset(str(one) for one in wants) if isinstance(wants, list) else frozenset(),
    )


def _date(value: Any) -> str:
    try:
        day = dt.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise ClockRefused("Date: must be a day like 2025-06-21.") from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ClockRefused(f"Date: must lie in the years {FIRST_YEAR} to {LAST_YEAR}.")
    return day.isoformat()


def _number(value: Any, name: str, low: float, high: float, unit: str) -> float:
    return number_within(value, name, low, high, unit, refused=ClockRefused)


def clock_answer(design: DesignState, ask: ClockAsk) -> dict[str, Any]:
    """Return the moment, and the day and the worst hour of the year where wanted; why not where it cannot be.

    Lengths are whole millimeters, powers whole watts.
    """
    try:
        question = shade_question(design.roof, design.sun, ask.stop_key or None, elsewhere=_elsewhere(ask))
        scene = sizing.scene_from_json(scene_json(question))
        moment = sizing.clock_moment(scene, when=ask.when, heading_deg=ask.heading_deg)
        answer: dict[str, Any] = {
            "place": _place(question),
            "moment": _moment(moment, question),
            "reason": "",
        }
        if "day" in ask.wants:
            answer["stops"] = _stops(design)
            answer["day"] = _day(sizing.shade_day(scene, date=ask.date, heading_deg=ask.heading_deg))
        if "worst_year" in ask.wants:
            year = dt.date.fromisoformat(ask.date).year
            answer["worst_year"] = _hour(sizing.worst_hour(scene, year=year, heading_deg=ask.heading_deg))
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {"moment": None, "reason": str(problem)}
    return answer


def _elsewhere(ask: ClockAsk) -> Stop | None:
    """Return the latitude and longitude that were given as a place."""
    if ask.spot is None:
        return None
    latitude, longitude = ask.spot
    name = f"{latitude:g}°, {longitude:g}°"
    return Stop(key="", place=name, latitude_deg=latitude, longitude_deg=longitude)


def _stops(design: DesignState) -> list[dict[str, str]]:
    """Return the places of the travel plan the sun can be worked out for."""
    known = (stop for stop in design.sun.stops if stop.longitude_deg is not None)
    return [{"key": stop.key, "name": stop.place} for stop in known]


def _place(question: Question) -> dict[str, Any]:
    where = question["scene"]["location"]
    return {
        "key": question["place"]["key"],
        "name": question["place"]["name"],
        "utc_offset_h": where["utc_offset_h"],
    }


def _moment(moment: sizing.ShadeMoment, question: Question) -> dict[str, Any]:
    return {
        "azimuth": round(moment.solar_azimuth_deg, 1),
        "from": compass(moment.solar_azimuth_deg),
        "elevation": round(moment.solar_elevation_deg, 1),
        "air_c": round(moment.temp_air_c),
        "shadows": [_shadow(one) for one in moment.outlines],
        "panels": [
            [int(one.panel_id), round(100 * sum(one.cell_share) / len(one.cell_share)), round(one.power_w)]
            for one in moment.panels
        ],
        "strings": _strings(moment, question),
        "power": round(moment.power_w),
        "bare": round(moment.bare_power_w),
    }


def _shadow(outline: Any) -> dict[str, Any]:
    corners = [round(1000 * value) for corner in outline.corners_m for value in corner]
    return {"name": outline.name, "corners": corners}


def _strings(moment: sizing.ShadeMoment, question: Question) -> list[dict[str, Any]]:
    """Return each string's power beside its unshaded power; panels in none count each by itself."""
    numbers = [(number, label) for label, strings in question["strings"].items() for number in strings] or [
        (0, "")
    ] * len(moment.strings)
    return [
        {
            "number": number,
            "controller": label,
            "panels": [int(panel) for panel in one.panel_ids],
            "power": round(one.power_w),
            "bare": round(one.bare_power_w),
        }
        for (number, label), one in zip(numbers, moment.strings, strict=True)
    ]


def _day(day: sizing.ShadeDay) -> dict[str, Any]:
    return {
        "power": [round(value) for value in day.power_w],
        "bare": [round(value) for value in day.bare_power_w],
        "elevation": [round(value) for value in day.solar_elevation_deg],
        "worst": _hour(day.worst),
    }


def _hour(hour: sizing.ShadeHour | None) -> dict[str, Any] | None:
    if hour is None:
        return None
    start = dt.datetime.fromisoformat(hour.start)
    return {
        "date": start.date().isoformat(),
        "minute": start.hour * 60 + 30,  # read at its middle
        "lost_wh": round(hour.lost_wh),
        "bare_wh": round(hour.bare_power_wh),
    }
