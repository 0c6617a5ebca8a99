"""The shadow outline of one roof object on one plane, as a convex polygon (counter-clockwise)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import kernel

Array = npt.NDArray[Any]
MAX_VERTICES = 72  # of one outline
EPS = 1e-12


@kernel
def prism_outline(
    base: Array, k: int, n_base: int, low_m: float, high_m: float, sx: float, sy: float, out: Array
) -> int:
    """Write the shadow of upright prism ``k`` to ``out[k]``; heights over the plane, shadow shift per meter.

    The shadow is the base swept along the sun: every corner, moved by the far shift where its edge looks away
    from the sun, by the near one where it looks at it, by both where the two meet.
    """
    if high_m <= 0.0:
        return 0
    low = max(low_m, 0.0)
    near_x, near_y, far_x, far_y = sx * low, sy * low, sx * high_m, sy * high_m
    dx, dy = far_x - near_x, far_y - near_y
    n = 0
    last = n_base - 1
    was_far = (base[k, 0, 1] - base[k, last, 1]) * dx - (base[k, 0, 0] - base[k, last, 0]) * dy > 0.0
    for i in range(n_base):
        after = i + 1 if i < last else 0
        is_far = (base[k, after, 1] - base[k, i, 1]) * dx - (base[k, after, 0] - base[k, i, 0]) * dy > 0.0
        if was_far != is_far:
            first_x, first_y = (far_x, far_y) if was_far else (near_x, near_y)
            out[k, n, 0] = base[k, i, 0] + first_x
            out[k, n, 1] = base[k, i, 1] + first_y
            n += 1
        shift_x, shift_y = (far_x, far_y) if is_far else (near_x, near_y)
        out[k, n, 0] = base[k, i, 0] + shift_x
        out[k, n, 1] = base[k, i, 1] + shift_y
        n += 1
        was_far = is_far
    return n


@kernel
def dome_outline(
    size: Array,
    k: int,
    plane_z_m: float,
    sx: float,
    sy: float,
    n_points: int,
    out: Array,
) -> int:
    """Write the shadow of dome ``k``, the upper half of an ellipsoid, to ``out[k]``.

    Support points of the part above the plane, for outward directions spread evenly over the ellipse on the
    far side and over the circle on the near side. Radii are swollen so that the polygon keeps the area.
    """
    cx, cy, r_m, h_m = size[k, 0], size[k, 1], size[k, 2], size[k, 3]
    centre_m = size[k, 4] - plane_z_m
    if centre_m + h_m <= 0.0:
        return 0
    swell = math.sqrt((2.0 * math.pi / n_points) / math.sin(2.0 * math.pi / n_points))
    r, h = r_m * swell, h_m * swell
    shift = math.sqrt(sx * sx + sy * sy)
    ux, uy = (sx / shift, sy / shift) if shift > EPS else (1.0, 0.0)
    cut = max(0.0, centre_m)
    cut_r = r * math.sqrt(max(0.0, 1.0 - ((cut - centre_m) / h) ** 2))
    long_m = math.sqrt(r * r + h * h * shift * shift)
    for i in range(n_points):
        angle = 2.0 * math.pi * (i / n_points - 0.25)
        along, across = math.cos(angle), math.sin(angle)
        if along > 0.0:
            along, across = r * along, long_m * across
            norm = math.sqrt(along * along + across * across)
            along, across = along / norm, across / norm
        rise = along * shift
        root = math.sqrt(r * r + h * h * rise * rise)
        height = centre_m + h * h * rise / root
        if height >= cut:
            reach_along, reach_across = r * r * along / root + shift * height, r * r * across / root
        else:
            reach_along, reach_across = cut_r * along + shift * cut, cut_r * across
        out[k, i, 0] = cx + reach_along * ux - reach_across * uy
        out[k, i, 1] = cy + reach_along * uy + reach_across * ux
    return n_points


@kernel
def solid_outline(
    points: Array, n_points: int, edges: Array, n_edges: int, frame: Array, sun: Array, out: Array
) -> int:
    """Write the shadow of a convex solid on any plane; frame rows: origin, u, v, normal.

    Corners in front of the plane are projected along the sun; edges that pierce the plane add their piercing
    point; the convex hull of all is the shadow.
    """
    facing = frame[3, 0] * sun[0] + frame[3, 1] * sun[1] + frame[3, 2] * sun[2]
    if facing <= 1e-6:
        return 0
    cloud = np.empty((n_points + n_edges, 2))
    heights = np.empty(n_points)
    n = 0
    for i in range(n_points):
        heights[i] = 0.0
        for axis in range(3):
            heights[i] += frame[3, axis] * (points[i, axis] - frame[0, axis])
        if heights[i] >= 0.0:
            u, v = 0.0, 0.0
            for axis in range(3):
                place = points[i, axis] - sun[axis] * heights[i] / facing - frame[0, axis]
                u += frame[1, axis] * place
                v += frame[2, axis] * place
            cloud[n, 0], cloud[n, 1] = u, v
            n += 1
    for i in range(n_edges):
        a, b = edges[i, 0], edges[i, 1]
        if (heights[a] > 0.0) != (heights[b] > 0.0):
            t = heights[a] / (heights[a] - heights[b])
            u, v = 0.0, 0.0
            for axis in range(3):
                place = points[a, axis] + t * (points[b, axis] - points[a, axis]) - frame[0, axis]
                u += frame[1, axis] * place
                v += frame[2, axis] * place
            cloud[n, 0], cloud[n, 1] = u, v
            n += 1
    if n < 3:
        return 0
    return hull(cloud[:n], out)


@kernel
def hull(cloud: Array, out: Array) -> int:
    """Write the convex hull, counter-clockwise, by wrapping; thin clouds give fewer than 3 corners."""
    n, start = cloud.shape[0], 0
    for i in range(1, n):
        if cloud[i, 0] < cloud[start, 0] or (
            cloud[i, 0] == cloud[start, 0] and cloud[i, 1] < cloud[start, 1]
        ):
            start = i
    count = 0
    here = start
    while count < out.shape[0]:
        out[count, 0], out[count, 1] = cloud[here, 0], cloud[here, 1]
        count += 1
        best = -1
        for i in range(n):
            dx, dy = cloud[i, 0] - cloud[here, 0], cloud[i, 1] - cloud[here, 1]
            if dx * dx + dy * dy < 1e-18:
                continue
            if best < 0:
                best = i
                continue
            bx, by = cloud[best, 0] - cloud[here, 0], cloud[best, 1] - cloud[here, 1]
            turn = bx * dy - by * dx
            if turn < -1e-15 or (abs(turn) <= 1e-15 and dx * dx + dy * dy > bx * bx + by * by):
                best = i
        if best < 0:
            break
        back_x, back_y = cloud[best, 0] - out[0, 0], cloud[best, 1] - out[0, 1]
        if back_x * back_x + back_y * back_y < 1e-18:
            break
        here = best
    return count
