"""From which side and at which hours each string loses: the groundwork of the blame sentences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizing.shade.engine.fast import Shadows, WiringYear, reference
from sizing.shade.engine.geometry import build_plan
from sizing.shade.engine.place import Place
from sizing.shade.kernels.kernel_nodes import panel_power
from sizing.shade.scene.scene import FloatArray, Wiring

SIDES = ("front", "right", "rear", "left")  # where the sun stands, seen from the vehicle
MORNING_END_H, AFTERNOON_START_H = 11.0, 13.0


@dataclass(frozen=True, slots=True, eq=False)
class StringSides:
    """One string: energy lost [kWh/year] by side of the sun, and its part of the day at one heading."""

    panel_ids: tuple[str, ...]
    lost_by_side_kwh: FloatArray  # (side,), mean of headings
    panel_lost_by_side_kwh: FloatArray  # (panel of the string, side)
    heading_deg: float
    lost_by_part_kwh: FloatArray  # morning, midday, afternoon at that heading
    could_by_part_kwh: FloatArray
    side_by_part: tuple[str, str, str]  # where the sun mostly stands then


def string_sides(
    place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear, weight: FloatArray
) -> tuple[StringSides, ...]:
    """Return the sides of every string; hours are those of the wiring's worst heading."""
    lost = node_losses(place, shadows, wiring, year)  # (panel, elevation, class, azimuth) [W]
    layout = shadows.layout
    side_of = _side_index(place.state_of.shape[2])
    by_side = np.stack([(lost * weight)[:, :, :, side_of == s].sum(axis=(1, 2, 3)) for s in range(4)], axis=1)
    worst = int(year.by_heading_kwh.argmin())
    parts = parts_of_day(place, shadows, lost, worst)
    made = []
    for controller in wiring.controllers:
        for string in controller.strings:
            spots = [layout.index(i) for i in string]
            made.append(
                StringSides(
                    panel_ids=string,
                    lost_by_side_kwh=by_side[spots].sum(axis=0),
                    panel_lost_by_side_kwh=by_side[spots],
                    heading_deg=float(place.headings_deg[worst]),
                    lost_by_part_kwh=parts.lost[spots].sum(axis=0),
                    could_by_part_kwh=parts.could[spots].sum(axis=0),
                    side_by_part=parts.sides,
                )
            )
    return tuple(made)


def node_losses(place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear) -> FloatArray:
    """Return what each panel falls short of its own bare best (panel, elevation, class, azimuth) [W]."""
    layout = shadows.layout
    plan = build_plan(wiring, layout)
    power = np.zeros((layout.n_panels, place.state_of.size))
    panel_power(
        plan, place.state_of, place.spacing, place.sunlit, place.steps, shadows.touched, shadows.even,
        shadows.curves, year.voltage_v, power,
    )  # fmt: skip
    bare = place.own_state_w[:, layout.wires.kind][place.state_of]
    return np.asarray(np.moveaxis(bare, -1, 0) - power.reshape(-1, *place.state_of.shape))


def _side_index(n_azimuth: int) -> FloatArray:
    """Return the quarter of each relative azimuth, clockwise: 0 front, 1 right, 2 rear, 3 left."""
    azimuth = 360.0 * np.arange(n_azimuth) / n_azimuth
    return np.asarray(((azimuth + 45.0) % 360.0) // 90.0)


@dataclass(frozen=True, slots=True, eq=False)
class PartsOfDay:
    """Energy [kWh/year] by (panel, part of the day) at one heading: morning, midday, afternoon."""

    lost: FloatArray
    could: FloatArray
    sides: tuple[str, str, str]


def parts_of_day(place: Place, shadows: Shadows, lost: FloatArray, heading: int) -> PartsOfDay:
    """Return energy lost and possible (panel, part of day) at one heading, from nearest nodes."""
    samples, day = place.samples, place.day
    measure = reference(place, shadows.layout)
    if place.level:
        rows = np.arange(day.n)
        turn = samples.turn - place.headings_deg[heading] / 360.0 * place.state_of.shape[2]
    else:
        rows = np.flatnonzero(samples.heading == heading)
        turn = samples.turn[rows]
    azimuth = np.round(turn).astype(np.int64) % place.state_of.shape[2]
    rise = np.minimum(np.round(samples.rise[rows]).astype(np.int64), place.n_elevation - 1)
    full = np.maximum(measure.node_w.reshape(place.state_of.shape), 1e-12)
    scale = measure.sample_w[rows] / full[rise, samples.part[rows], azimuth] * samples.weight_h[rows] / 1000.0
    hour = day.hour if place.level else np.repeat(day.hour, len(place.headings_deg))[rows]
    part = np.digitize(hour, [MORNING_END_H, AFTERNOON_START_H])
    fall = lost[:, rise, samples.part[rows], azimuth] * scale
    own = (
        place.own_state_w[place.state_of[rise, samples.part[rows], azimuth]][:, shadows.layout.wires.kind].T
        * scale
    )
    side = _side_index(place.state_of.shape[2])[azimuth].astype(np.int64)
    sides = [
        SIDES[int(np.bincount(side[part == k], scale[part == k], minlength=4).argmax())]
        if np.any(part == k)
        else ""
        for k in range(3)
    ]
    return PartsOfDay(
        np.stack([fall[:, part == k].sum(axis=1) for k in range(3)], axis=1),
        np.stack([own[:, part == k].sum(axis=1) for k in range(3)], axis=1),
        (sides[0], sides[1], sides[2]),
    )
