"""Knows the shaded share of every cell for one direction of the sun: scan lines through convex outlines."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.jit import kernel
from sizing.shade.kernel_outline import MAX_VERTICES, dome_outline, prism_outline, solid_outline

Array = npt.NDArray[Any]
PRISM, DOME, PLATE = 0, 1, 2
MAX_TERMS = 48  # shadows and their overlaps on one panel at one moment; more are left out


class Shades(NamedTuple):
    """Everything that throws shadows, as arrays over objects."""

    kind: Array  # (n,) PRISM, DOME or PLATE
    owner: Array  # (n,) index of the panel a plate belongs to, else -1
    size: Array  # (n, 6) cx, cy, r, h, z_low, z_high
    base: Array  # (n, v, 2) corners of a prism's base
    n_base: Array  # (n,)
    points: Array  # (n, p, 3) corners of the solid
    n_points: Array  # (n,)
    edges: Array  # (n, e, 2)
    n_edges: Array  # (n,)


class Grids(NamedTuple):
    """Planes and the cell grids that lie in them, as arrays over planes and panels."""

    frame: Array  # (planes, 4, 3) origin, u, v, normal
    is_flat: Array  # (planes,)
    plane: Array  # (panels,) plane of each panel
    corner: Array  # (panels, 2) smallest corner of the cell area in plane coordinates
    pitch: Array  # (panels, 2) size of a cell along u and v
    count: Array  # (panels, 2) cells along u and v
    first: Array  # (panels + 1,) first cell of each panel


class Work(NamedTuple):
    """Scratch space of one thread."""

    poly: Array  # (objects, MAX_VERTICES, 2)
    n_poly: Array
    box: Array  # (objects, 4)
    terms: Array  # (MAX_TERMS, MAX_VERTICES, 2)
    n_terms: Array
    signs: Array
    spare: Array  # (MAX_VERTICES, 2)
    acc: Array  # differenced rows of the panel with the most cells


@kernel
def cover_work(shades: Shades, grids: Grids) -> Work:
    """Return scratch space for this scene."""
    n = shades.kind.shape[0]
    longest = 1
    for p in range(grids.count.shape[0]):
        longest = max(longest, (grids.count[p, 0] + 1) * grids.count[p, 1])
    return Work(
        np.empty((n, MAX_VERTICES, 2)),
        np.zeros(n, np.int64),
        np.empty((n, 4)),
        np.empty((MAX_TERMS, MAX_VERTICES, 2)),
        np.zeros(MAX_TERMS, np.int64),
        np.zeros(MAX_TERMS),
        np.empty((MAX_VERTICES, 2)),
        np.zeros(longest),
    )


@kernel
def outlines(
    shades: Shades, frame: Array, is_flat: bool, sun: Array, out: Array, n_out: Array, box: Array
) -> None:
    """Write outline, corner count and bounding box of every object on one plane."""
    for k in range(shades.kind.shape[0]):
        flat_kind = is_flat and shades.kind[k] != PLATE
        if flat_kind:
            z = frame[0, 2]
            sx, sy = -sun[0] / sun[2], -sun[1] / sun[2]
            if shades.kind[k] == PRISM:
                n = prism_outline(
                    shades.base[k],
                    shades.n_base[k],
                    shades.size[k, 4] - z,
                    shades.size[k, 5] - z,
                    sx,
                    sy,
                    out[k],
                )
            else:
                n = dome_outline(
                    shades.size[k, 0],
                    shades.size[k, 1],
                    shades.size[k, 2],
                    shades.size[k, 3],
                    shades.size[k, 4] - z,
                    sx,
                    sy,
                    shades.n_base[k],
                    out[k],
                )
        else:
            n = solid_outline(
                shades.points[k], shades.n_points[k], shades.edges[k], shades.n_edges[k], frame, sun, out[k]
            )
        n_out[k] = n if n >= 3 else 0
        box[k, 0], box[k, 1], box[k, 2], box[k, 3] = 1e30, -1e30, 1e30, -1e30
        for i in range(n):
            box[k, 0] = min(box[k, 0], out[k, i, 0])
            box[k, 1] = max(box[k, 1], out[k, i, 0])
            box[k, 2] = min(box[k, 2], out[k, i, 1])
            box[k, 3] = max(box[k, 3], out[k, i, 1])


@kernel
def add_edge(acc: Array, start: int, nu: int, xa: float, ya: float, xb: float, yb: float, row: int) -> None:
    """Add what lies to the right of one edge piece inside one row of cells; x in cells, acc is differenced.

    An edge that runs down has the inside on its right and adds; one that runs up takes away.
    """
    fall = ya - yb
    left, right = (xa, xb) if xa < xb else (xb, xa)
    base = start + row * (nu + 1)
    if right <= 0.0:
        acc[base] += fall
        return
    if left >= nu:
        return
    per_x = fall / (right - left) if right > left else 0.0
    if left < 0.0:
        acc[base] += -left * per_x
        left = 0.0
    end = min(right, float(nu))
    i = int(left)
    if end <= i + 1.0:
        part = fall if right == end and left == min(xa, xb) else (end - left) * per_x
        middle = 0.5 * (left + end) - i
        acc[base + i] += part * (1.0 - middle)
        acc[base + i + 1] += part * middle
        return
    while left < end:
        to = min(i + 1.0, end)
        part = (to - left) * per_x
        middle = 0.5 * (left + to) - i
        acc[base + i] += part * (1.0 - middle)
        acc[base + i + 1] += part * middle
        left = to
        i += 1


@kernel
def add_polygon(poly: Array, n: int, grids: Grids, p: int, acc: Array) -> None:
    """Add the exact covered area of a convex polygon to the panel's differenced cell rows."""
    du, dv = 1.0 / grids.pitch[p, 0], 1.0 / grids.pitch[p, 1]
    u0, v0 = grids.corner[p, 0], grids.corner[p, 1]
    nu, nv = grids.count[p, 0], grids.count[p, 1]
    for a in range(n):
        b = a + 1 if a + 1 < n else 0
        x0, y0 = (poly[a, 0] - u0) * du, (poly[a, 1] - v0) * dv
        x1, y1 = (poly[b, 0] - u0) * du, (poly[b, 1] - v0) * dv
        low, high = (y0, y1) if y0 < y1 else (y1, y0)
        low, high = max(low, 0.0), min(high, float(nv))
        if high <= low:
            continue
        slope = (x1 - x0) / (y1 - y0)
        first, last = int(low), min(int(high), nv - 1)
        for row in range(first, last + 1):
            bottom, top = max(low, float(row)), min(high, row + 1.0)
            if top <= bottom:
                continue
            x_bottom, x_top = x0 + (bottom - y0) * slope, x0 + (top - y0) * slope
            if y1 < y0:
                add_edge(acc, 0, nu, x_top, top, x_bottom, bottom, row)
            else:
                add_edge(acc, 0, nu, x_bottom, bottom, x_top, top, row)


@kernel
def sum_rows(acc: Array, grids: Grids, p: int, sign: float, share: Array) -> None:
    """Add the summed rows to the cells' shares and clear them."""
    nu, nv, first = grids.count[p, 0], grids.count[p, 1], grids.first[p]
    for row in range(nv):
        total = 0.0
        base = row * (nu + 1)
        for i in range(nu):
            total += acc[base + i]
            share[first + row * nu + i] += sign * total
            acc[base + i] = 0.0
        acc[base + nu] = 0.0


@kernel
def clip_convex(subject: Array, n_subject: int, cutter: Array, n_cutter: int, out: Array, spare: Array) -> int:
    """Write the common part of two convex counter-clockwise polygons; return its number of corners.

    References: Sutherland and Hodgman, Reentrant polygon clipping (1974).
    """
    n = n_subject
    for i in range(n):
        out[i, 0], out[i, 1] = subject[i, 0], subject[i, 1]
    for a in range(n_cutter):
        b = a + 1 if a + 1 < n_cutter else 0
        ex, ey = cutter[b, 0] - cutter[a, 0], cutter[b, 1] - cutter[a, 1]
        if ex * ex + ey * ey < 1e-24:
            continue
        m = 0
        for i in range(n):
            j = i + 1 if i + 1 < n else 0
            here = ex * (out[i, 1] - cutter[a, 1]) - ey * (out[i, 0] - cutter[a, 0])
            there = ex * (out[j, 1] - cutter[a, 1]) - ey * (out[j, 0] - cutter[a, 0])
            if here >= 0.0 and m < spare.shape[0]:
                spare[m, 0], spare[m, 1] = out[i, 0], out[i, 1]
                m += 1
            if (here >= 0.0) != (there >= 0.0) and m < spare.shape[0]:
                t = here / (here - there)
                spare[m, 0] = out[i, 0] + t * (out[j, 0] - out[i, 0])
                spare[m, 1] = out[i, 1] + t * (out[j, 1] - out[i, 1])
                m += 1
        n = m
        for i in range(n):
            out[i, 0], out[i, 1] = spare[i, 0], spare[i, 1]
        if n < 3:
            return 0
    return n


@kernel
def cover_panel(
    poly: Array, n_poly: Array, box: Array, owner: Array, grids: Grids, p: int, share: Array, work: Work
) -> bool:
    """Write the shaded share of the panel's cells; return whether any shadow touches them.

    The union of shadows is theirs one by one, less what two have in common, plus what three have in common ...
    """
    u0, v0 = grids.corner[p, 0], grids.corner[p, 1]
    u1 = u0 + grids.count[p, 0] * grids.pitch[p, 0]
    v1 = v0 + grids.count[p, 1] * grids.pitch[p, 1]
    first, last = grids.first[p], grids.first[p + 1]
    for c in range(first, last):
        share[c] = 0.0
    n_terms = 0
    for k in range(n_poly.shape[0]):
        is_away = box[k, 0] >= u1 or box[k, 1] <= u0 or box[k, 2] >= v1 or box[k, 3] <= v0
        if n_poly[k] == 0 or owner[k] == p or is_away:
            continue
        n_old = n_terms
        if n_terms < MAX_TERMS:
            for i in range(n_poly[k]):
                work.terms[n_terms, i, 0], work.terms[n_terms, i, 1] = poly[k, i, 0], poly[k, i, 1]
            work.n_terms[n_terms], work.signs[n_terms] = n_poly[k], 1.0
            n_terms += 1
        for t in range(n_old):
            if n_terms >= MAX_TERMS:
                break
            n = clip_convex(
                work.terms[t], work.n_terms[t], poly[k], n_poly[k], work.terms[n_terms], work.spare
            )
            if n >= 3:
                work.n_terms[n_terms], work.signs[n_terms] = n, -work.signs[t]
                n_terms += 1
    for t in range(n_terms):
        add_polygon(work.terms[t], work.n_terms[t], grids, p, work.acc)
        sum_rows(work.acc, grids, p, work.signs[t], share)
    is_touched = False
    for c in range(first, last):
        share[c] = min(1.0, max(0.0, share[c]))
        is_touched = is_touched or share[c] > 1e-6
    return is_touched


@kernel
def cover_sun(
    shades: Shades, grids: Grids, sun: Array, wanted: Array, share: Array, touched: Array, work: Work
) -> None:
    """Write the shaded share of all cells of the wanted panels for one unit vector towards the sun."""
    for plane in range(grids.frame.shape[0]):
        is_open = False
        for p in range(grids.plane.shape[0]):
            if grids.plane[p] == plane and wanted[p]:
                if not is_open:
                    outlines(
                        shades, grids.frame[plane], grids.is_flat[plane], sun, work.poly, work.n_poly, work.box
                    )
                    is_open = True
                touched[p] = cover_panel(
                    work.poly, work.n_poly, work.box, shades.owner, grids, p, share, work
                )
