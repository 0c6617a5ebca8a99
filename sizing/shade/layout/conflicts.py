"""Which places overlap, which can always be replaced by another, and the largest sets that all overlap."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sizing.shade.layout.candidates import Candidates
from sizing.shade.layout.places import IntArray

Bits = npt.NDArray[np.uint8]
#: A place is compared with those of its size up to this share of it away: chains of them reach further. [-]
NEAR = 0.25
#: Rows of the table of overlaps made at once: the memory it takes while it is made.
ROWS = 256


def overlap(found: Candidates, a: int, b: int) -> bool:
    """Return whether two places cannot both be used."""
    low, high = found.step[a], found.step[a] + found.size[a]
    other_low, other_high = found.step[b], found.step[b] + found.size[b]
    return bool(np.all(low < other_high) and np.all(other_low < high))


def undominated(found: Candidates) -> IntArray:
    """Return the candidates that no other one of their size can always replace; those drawn all stay.

    A near place of the same size replaces another where it is worth at least as much and overlaps nothing
    that the other does not: whatever stands beside the one may stand beside the other. Such places are
    dropped one after the other, the least worthy first, until none is left.
    """
    alive = np.ones(len(found.step), np.bool_)
    clash = _clashes(found)
    near = _near(found)
    living = np.packbits(alive)
    order = [int(i) for i in np.argsort(found.worth_kwh, kind="stable") if len(near[i])]
    order = [i for i in order if not found.is_drawn[i]]
    changed = True
    while changed:
        changed = False
        for i in order:
            others = near[i][alive[near[i]]] if alive[i] else near[i][:0]
            if len(others) and not (clash[others] & living & ~clash[i]).any(axis=1).all():
                alive[i], changed = False, True
                living[i >> 3] &= 0xFF ^ (0x80 >> (i & 7))
    return np.flatnonzero(alive)


def _clashes(found: Candidates) -> Bits:
    """Return for each place a row of bits, one for each place it overlaps, itself among them."""
    low, high = found.step, found.step + found.size
    rows = []
    for start in range(0, len(low), ROWS):
        some = slice(start, start + ROWS)
        along = (low[some, None, 0] < high[None, :, 0]) & (low[None, :, 0] < high[some, None, 0])
        across = (low[some, None, 1] < high[None, :, 1]) & (low[None, :, 1] < high[some, None, 1])
        rows.append(np.packbits(along & across, axis=1))
    return np.concatenate(rows)


def _near(found: Candidates) -> list[IntArray]:
    """Return for each place those of its type and turn close by that are worth at least as much."""
    near: list[IntArray] = [np.zeros(0, np.int64)] * len(found.step)
    kind = found.type_index * 2 + (found.rot_deg != 0)
    for one in np.unique(kind):
        alike = np.flatnonzero(kind == one)
        alike = alike[np.argsort(found.step[alike, 0], kind="stable")]
        step, worth = found.step[alike], found.worth_kwh[alike]
        reach = np.maximum((found.size[alike] * NEAR).min(axis=0), 1)
        ends = np.searchsorted(step[:, 0], [step[:, 0] - reach[0], step[:, 0] + reach[0] + 1])
        for i, (start, end) in enumerate(ends.T.tolist()):
            beside = (np.abs(step[start:end, 1] - step[i, 1]) <= reach[1]) & (worth[start:end] >= worth[i])
            beside[i - start] = False
            near[alike[i]] = alike[start:end][beside]
    return near


def cliques(found: Candidates) -> list[IntArray]:
    """Return the largest sets of places that all cover one point; every overlap is in one of them."""
    low, high = found.step, found.step + found.size
    seen: dict[bytes, IntArray] = {}
    for in_x in _together(low[:, 0], high[:, 0]):
        for in_y in _together(low[in_x, 1], high[in_x, 1]):
            members = in_x[in_y]
            if len(members) > 1:
                seen[members.tobytes()] = members
    return list(seen.values())


def _together(low: IntArray, high: IntArray) -> list[IntArray]:
    """Return the largest sets of intervals that share a point: none of them lies in another."""
    starts, ends = np.unique(low), np.unique(high)
    # A set is largest at a start after which an interval ends before the next one begins.
    after = np.searchsorted(ends, starts, side="right")
    following = np.append(starts[1:], np.iinfo(np.int64).max)
    largest = starts[ends[np.minimum(after, len(ends) - 1)] <= following]
    return [np.flatnonzero((low <= x) & (high > x)) for x in largest]
