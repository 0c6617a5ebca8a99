"""The light and heat on each kind of panel: beam, sky, ground, temperature, by sample and heading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sizing.shade.engine.geometry import Layout
from sizing.shade.scene.scene import FloatArray, SceneInput
from sizing.shade.sky.sky_formulas import reflection
from sizing.shade.sky.sun import Daylight

FLAT = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class States:
    """Usable light [W/m²] and cell temperature [°C] (state, kind)."""

    beam_w_m2: FloatArray
    diffuse_w_m2: FloatArray
    extra_w_m2: FloatArray
    temp_cell_c: FloatArray


def vehicle_axes(pitch_deg: float, roll_deg: float) -> FloatArray:
    """Return the vehicle's axes as columns in a level frame of the same heading; nose up, right side down."""
    p, r = math.radians(pitch_deg), math.radians(roll_deg)
    pitch = np.array([[math.cos(p), 0.0, -math.sin(p)], [0.0, 1.0, 0.0], [math.sin(p), 0.0, math.cos(p)]])
    roll = np.array([[1.0, 0.0, 0.0], [0.0, math.cos(r), -math.sin(r)], [0.0, math.sin(r), math.cos(r)]])
    return np.asarray(pitch @ roll)


def sun_vectors(azimuth_deg: FloatArray, elevation_deg: FloatArray, axes: FloatArray) -> FloatArray:
    """Return unit vectors toward the sun in the vehicle frame; azimuth relative to the nose, clockwise."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.stack([np.cos(e) * np.cos(a), -np.cos(e) * np.sin(a), np.sin(e)], axis=-1)
    return np.asarray(level @ axes)


def is_level(scene: SceneInput, layout: Layout) -> bool:
    """Return whether light on every panel is the same for every heading."""
    return layout.is_all_flat and scene.pitch_deg == 0.0 and scene.roll_deg == 0.0


def sky_open(scene: SceneInput, layout: Layout) -> FloatArray:
    """Return the share of the sky each kind of panel would see on a bare roof."""
    up = vehicle_axes(scene.pitch_deg, scene.roll_deg).T @ FLAT
    return np.asarray((1.0 + layout.kind_normal @ up) / 2.0)


def kind_states(scene: SceneInput, layout: Layout, day: Daylight, sun: FloatArray) -> States:
    """Return the states of samples whose sun stands at ``sun`` (n, 3) in the vehicle frame."""
    up = vehicle_axes(scene.pitch_deg, scene.roll_deg).T @ FLAT
    keep = 1.0 - scene.soiling_fraction
    columns = []
    for normal in layout.kind_normal:
        lean_cos = float(np.clip(normal @ up, -1.0, 1.0))
        lean_sin = math.sqrt(1.0 - lean_cos**2) if lean_cos < 1.0 - 1e-12 else 0.0
        cosine = np.maximum(0.0, sun @ normal)
        ground = scene.albedo_fraction * day.ghi_w_m2 * (1.0 - lean_cos) / 2.0
        band = np.maximum(0.0, day.dhi_horizon_w_m2 * lean_sin)
        poa = day.dni_w_m2 * cosine + day.dhi_w_m2 * (1.0 + lean_cos) / 2.0 + ground + band
        columns.append(
            (
                keep * day.dni_w_m2 * cosine * reflection(cosine),
                keep * day.dhi_w_m2 * day.iam_diffuse,
                keep * (ground + band) * day.iam_diffuse,
                day.temp_air_c + poa / day.u_w_m2k,
            )
        )
    beam, diffuse, extra, temp = (np.column_stack(part) for part in zip(*columns, strict=True))
    return States(beam, diffuse, extra, temp)


def repeat_day(day: Daylight, times: int) -> Daylight:
    """Return each sample repeated, for a row per heading."""

    def spread(values: FloatArray) -> FloatArray:
        return np.repeat(values, times)

    return Daylight(
        spread(day.time_utc_s),
        spread(day.weight_h),
        spread(day.azimuth_deg),
        spread(day.elevation_deg),
        spread(day.dni_w_m2),
        spread(day.dhi_w_m2),
        spread(day.dhi_horizon_w_m2),
        spread(day.ghi_w_m2),
        spread(day.temp_air_c),
        spread(day.u_w_m2k),
        day.iam_diffuse,
        spread(day.month),
        spread(day.hour),
    )


def heading_suns(scene: SceneInput, day: Daylight) -> FloatArray:
    """Return the sun in the vehicle frame (sample, heading, 3)."""
    axes = vehicle_axes(scene.pitch_deg, scene.roll_deg)
    relative = day.azimuth_deg[:, None] - np.asarray(scene.headings_deg)[None, :]
    elevation = np.broadcast_to(day.elevation_deg[:, None], relative.shape)
    return np.ascontiguousarray(sun_vectors(relative, elevation, axes))


def state_index(n_samples: int, n_headings: int, level: bool) -> npt.NDArray[np.int64]:
    """Return the state of each (sample, heading): shared by all headings on a level roof."""
    if level:
        return np.repeat(np.arange(n_samples)[:, None], n_headings, axis=1)
    return np.arange(n_samples * n_headings).reshape(n_samples, n_headings)
