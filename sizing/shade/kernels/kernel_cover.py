"""The shaded share of every cell for one direction of the sun: scan lines through convex outlines."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sizing.shade.kernels.jit import ZERO, kernel
from sizing.shade.kernels.kernel_outline import MAX_VERTICES, dome_outline, prism_outline, solid_outline

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
    cells: Array  # (panels, 2) cells along u and v
    first: Array  # (panels + 1,) first cell of each panel


class Work(NamedTuple):
    """Scratch space of one thread."""

    poly: Array  # (objects, MAX_VERTICES, 2)
    n_poly: Array
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
    for p in range(grids.cells.shape[0]):
        longest = max(longest, (grids.cells[p, 0] + 1) * grids.cells[p, 1])
    return Work(
        np.empty((n, MAX_VERTICES, 2)),
        np.zeros(n, np.int64),
        np.empty((MAX_TERMS, MAX_VERTICES, 2)),
        np.zeros(MAX_TERMS, np.int64),
        np.zeros(MAX_TERMS),
        np.empty((MAX_VERTICES, 2)),
        np.zeros(longest),
    )


@kernel
def flat_outline(
    kind: Array, size: Array, base: Array, n_base: Array, k: int, z: float, sx: float, sy: float, out: Array
) -> int:
    """Write the outline of object ``k`` on a flat plane at height z; return its corners."""
    if kind[k] == PRISM:
        return prism_outline(base, k, n_base[k], size[k, 4] - z, size[k, 5] - z, sx, sy, out)
    return dome_outline(size, k, z, sx, sy, n_base[k], out)


@kernel
def outline_box(out: Array, k: int, n: int, box: Array, plane: int) -> None:
    """Write the bounding box of an outline; an empty outline touches nothing."""
    left, right, low, high = 1e30, -1e30, 1e30, -1e30
    for i in range(n):
        left, right = min(left, out[k, i, 0]), max(right, out[k, i, 0])
        low, high = min(low, out[k, i, 1]), max(high, out[k, i, 1])
    box[plane, k, 0], box[plane, k, 1], box[plane, k, 2], box[plane, k, 3] = left, right, low, high


@kernel
def outline(shades: Shades, k: int, frame: Array, plane: int, is_flat: bool, sun: Array, out: Array) -> int:
    """Write the outline of object ``k`` on any plane; return its corners, 0 where it casts none."""
    if is_flat and shades.kind[k] != PLATE:
        sx, sy = -sun[0] / sun[2], -sun[1] / sun[2]
        n = flat_outline(
            shades.kind, shades.size, shades.base, shades.n_base, k, frame[plane, 0, 2], sx, sy, out
        )
    else:
        n = solid_outline(
            shades.points[k],
            shades.n_points[k],
            shades.edges[k],
            shades.n_edges[k],
            frame[plane],
            sun,
            out[k],
        )
    return n if n >= 3 else 0


@kernel
def add_edge(acc: Array, nu: int, xa: float, ya: float, xb: float, yb: float, row: int) -> None:
    """Add what lies to the right of one edge piece inside one row of cells; x in cells, acc is differenced.

    An edge that runs down has the inside on its right and adds; one that runs up takes away.
    """
    fall = ya - yb
    left, right = (xa, xb) if xa < xb else (xb, xa)
    base = row * (nu + 1)
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
def add_polygon(
    terms: Array, t: int, n: int, u0: float, v0: float, du: float, dv: float, nu: int, nv: int, acc: Array
) -> None:
    """Add the exact covered area of convex polygon ``t`` to differenced cell rows; du, dv cells per meter."""
    last = n - 1
    x0, y0 = (terms[t, last, 0] - u0) * du, (terms[t, last, 1] - v0) * dv
    for a in range(n):
        x1, y1 = (terms[t, a, 0] - u0) * du, (terms[t, a, 1] - v0) * dv
        low, high = (y0, y1) if y0 < y1 else (y1, y0)
        low, high = max(low, 0.0), min(high, float(nv))
        if high > low and (x0 < nu or x1 < nu):
            slope = (x1 - x0) / (y1 - y0)
            for row in range(int(low), min(int(high), nv - 1) + 1):
                bottom, top = max(low, float(row)), min(high, row + 1.0)
                if top <= bottom:
                    continue
                x_bottom, x_top = x0 + (bottom - y0) * slope, x0 + (top - y0) * slope
                if y1 < y0:
                    add_edge(acc, nu, x_top, top, x_bottom, bottom, row)
                else:
                    add_edge(acc, nu, x_bottom, bottom, x_top, top, row)
        x0, y0 = x1, y1


@kernel
def sum_rows(acc: Array, nu: int, nv: int, first: int, sign: float, share: Array) -> None:
    """Add the summed rows to the cells' shares and clear them."""
    for row in range(nv):
        total = 0.0
        base, cell = row * (nu + 1), first + row * nu
        for i in range(nu):
            total += acc[base + i]
            share[cell + i] += sign * total
            acc[base + i] = 0.0
        acc[base + nu] = 0.0


@kernel
def copy_polygon(source: Array, k: int, n: int, out: Array, t: int) -> None:
    """Copy the corners of one polygon to another place."""
    for i in range(n):
        out[t, i, 0], out[t, i, 1] = source[k, i, 0], source[k, i, 1]


@kernel
def clip_convex(
    terms: Array, subject: int, n_subject: int, poly: Array, k: int, n_cutter: int, out: int, spare: Array
) -> int:
    """Write what ``terms[subject]`` and ``poly[k]``, convex and counter-clockwise, share to ``terms[out]``.

    References: Sutherland and Hodgman, Reentrant polygon clipping (1974).
    """
    n = n_subject
    copy_polygon(terms, subject, n, terms, out)
    ax, ay = poly[k, n_cutter - 1, 0], poly[k, n_cutter - 1, 1]
    for b in range(n_cutter):
        bx, by = poly[k, b, 0], poly[k, b, 1]
        ex, ey = bx - ax, by - ay
        if ex * ex + ey * ey > 1e-24:
            m = 0
            x0, y0 = terms[out, n - 1, 0], terms[out, n - 1, 1]
            here = ex * (y0 - ay) - ey * (x0 - ax)
            for i in range(n):
                x1, y1 = terms[out, i, 0], terms[out, i, 1]
                there = ex * (y1 - ay) - ey * (x1 - ax)
                if (here >= 0.0) != (there >= 0.0) and m < spare.shape[0]:
                    t = here / (here - there)
                    spare[m, 0], spare[m, 1] = x0 + t * (x1 - x0), y0 + t * (y1 - y0)
                    m += 1
                if there >= 0.0 and m < spare.shape[0]:
                    spare[m, 0], spare[m, 1] = x1, y1
                    m += 1
                x0, y0, here = x1, y1, there
            n = m
            if n < 3:
                return 0
            for i in range(n):
                terms[out, i, 0], terms[out, i, 1] = spare[i, 0], spare[i, 1]
        ax, ay = bx, by
    return n


@kernel
def add_terms(
    poly: Array,
    k: int,
    n_corners: int,
    n_terms: int,
    terms: Array,
    term_corners: Array,
    signs: Array,
    spare: Array,
) -> int:
    """Add shadow ``k`` and its overlaps with the shadows before it; return the number of terms.

    The union of shadows: each one, less what two have in common, plus what three have in common ...
    """
    n_old = n_terms
    if n_terms >= MAX_TERMS:
        return n_terms
    copy_polygon(poly, k, n_corners, terms, n_terms)
    term_corners[n_terms], signs[n_terms] = n_corners, 1.0
    n_terms += 1
    for t in range(n_old):
        if n_terms >= MAX_TERMS:
            break
        n = clip_convex(terms, t, term_corners[t], poly, k, n_corners, n_terms, spare)
        if n >= 3:
            term_corners[n_terms], signs[n_terms] = n, -signs[t]
            n_terms += 1
    return n_terms


@kernel
def cover_sun(
    shades: Shades,
    grids: Grids,
    sun: Array,
    wanted: Array,
    row: int,
    share: Array,
    touched: Array,
    boxes: Array,
    is_boxed: bool,
    work: Work,
) -> None:
    """Write the shaded share ``share[row]`` of the wanted panels' cells for one unit vector toward the sun.

    ``boxes`` (plane, object, 4) holds the outlines' bounding boxes: kept for the next time, and trusted where
    ``is_boxed``, so that only outlines that touch a panel are drawn.
    """
    plane_of, corner, pitch, cells_of, first_of, owner = (
        grids.plane, grids.corner, grids.pitch, grids.cells, grids.first, shades.owner,
    )  # fmt: skip
    poly, n_poly, terms, corners, signs, spare, acc = (
        work.poly, work.n_poly, work.terms, work.n_terms, work.signs, work.spare, work.acc,
    )  # fmt: skip
    n_objects, open_plane = owner.shape[0], -1
    cells = share[row]
    for p in range(plane_of.shape[0]):
        if not wanted[p]:
            continue
        first, last, plane = first_of[p], first_of[p + 1], plane_of[p]
        cells[first:last] = 0.0
        touched[row, p] = False
        if plane != open_plane:
            open_plane = plane
            n_poly[:] = -1
            if not is_boxed:
                draw_outlines(shades, grids, plane, sun, boxes, work)
        u0, v0, du, dv = corner[p, 0], corner[p, 1], pitch[p, 0], pitch[p, 1]
        nu, nv = cells_of[p, 0], cells_of[p, 1]
        u1, v1 = u0 + nu * du, v0 + nv * dv
        n_terms = ZERO
        for k in range(n_objects):
            is_beside = boxes[plane, k, 0] >= u1 or boxes[plane, k, 1] <= u0 or owner[k] == p
            if is_beside or boxes[plane, k, 2] >= v1 or boxes[plane, k, 3] <= v0:
                continue
            if n_poly[k] < 0:
                n_poly[k] = outline(shades, k, grids.frame, plane, grids.is_flat[plane], sun, poly)
            if n_poly[k] >= 3:
                n_terms = add_terms(poly, k, n_poly[k], n_terms, terms, corners, signs, spare)
        for t in range(n_terms):
            add_polygon(terms, t, corners[t], u0, v0, 1.0 / du, 1.0 / dv, nu, nv, acc)
            sum_rows(acc, nu, nv, first, signs[t], cells)
        if n_terms > 0:
            touched[row, p] = settle(cells, first, last)


@kernel
def draw_outlines(shades: Shades, grids: Grids, plane: int, sun: Array, boxes: Array, work: Work) -> None:
    """Write the outlines of all objects on one plane and their boxes."""
    kind, size, base, n_base, poly, n_poly = (
        shades.kind, shades.size, shades.base, shades.n_base, work.poly, work.n_poly,
    )  # fmt: skip
    frame, is_flat = grids.frame, grids.is_flat[plane]
    z = frame[plane, 0, 2]
    sx, sy = (-sun[0] / sun[2], -sun[1] / sun[2]) if is_flat else (0.0, 0.0)
    for k in range(kind.shape[0]):
        if is_flat and kind[k] != PLATE:
            n = flat_outline(kind, size, base, n_base, k, z, sx, sy, poly)
        else:
            n = outline(shades, k, frame, plane, is_flat, sun, poly)
        n_poly[k] = n if n >= 3 else 0
        outline_box(poly, k, n_poly[k], boxes, plane)


@kernel
def settle(cells: Array, first: int, last: int) -> bool:
    """Hold shares between 0 and 1; return whether any cell is covered."""
    is_touched = False
    for c in range(first, last):
        cells[c] = min(1.0, max(0.0, cells[c]))
        is_touched = is_touched or cells[c] > 1e-6
    return is_touched
