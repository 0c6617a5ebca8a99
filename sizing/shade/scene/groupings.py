"""How panels can be grouped into strings: set partitions within limits, neighbors by swapping."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import comb, factorial
from typing import Annotated

from sizing.core.limits import Range

Grouping = tuple[tuple[int, ...], ...]  # strings of panel places, in order of their first panel


@dataclass(frozen=True, slots=True)
class StringLimits:
    """What the string plan allows: panels in series, strings in parallel, strings of one length only."""

    series_min: Annotated[int, Range(1, 60)] = 1
    series_max: Annotated[int, Range(1, 60)] = 60
    strings_max: Annotated[int, Range(1, 60)] = 60
    equal_lengths: bool = True


def groupings(n_panels: int, limits: StringLimits) -> Iterator[Grouping]:
    """Yield every way to split panels 0..n-1 into strings within the limits, each once."""
    if limits.equal_lengths:
        for length in range(1, n_panels + 1):
            fits = n_panels % length == 0 and limits.series_min <= length <= limits.series_max
            if fits and n_panels // length <= limits.strings_max:
                yield from _equal(tuple(range(n_panels)), length)
    else:
        yield from _any(tuple(range(n_panels)), limits, limits.strings_max)


def count_groupings(n_panels: int, limits: StringLimits) -> int:
    """Return how many groupings there are, without listing them."""
    if not limits.equal_lengths:
        return _count_any(n_panels, limits)
    total = 0
    for length in range(1, n_panels + 1):
        strings, rest = divmod(n_panels, length)
        if rest == 0 and limits.series_min <= length <= limits.series_max and strings <= limits.strings_max:
            total += factorial(n_panels) // (factorial(length) ** strings * factorial(strings))
    return total


def swaps(grouping: Grouping) -> list[Grouping]:
    """Return every grouping that differs by two panels changing places between strings."""
    made = []
    for (i, one), (j, two) in combinations(enumerate(grouping), 2):
        if len(one) == len(two) == 1:
            continue
        for a in one:
            for b in two:
                changed = list(grouping)
                changed[i] = tuple(sorted(set(one) - {a} | {b}))
                changed[j] = tuple(sorted(set(two) - {b} | {a}))
                made.append(tidy(changed))
    return sorted(set(made) - {tidy(grouping)})


def tidy(strings: list[tuple[int, ...]] | Grouping) -> Grouping:
    """Return a grouping in its one standard order."""
    return tuple(sorted(tuple(sorted(string)) for string in strings))


def shape_words(grouping: Grouping) -> str:
    """Return the trade's short form: 4s2p, or 3s+1s for unequal strings."""
    lengths = sorted((len(string) for string in grouping), reverse=True)
    if len(set(lengths)) == 1:
        return f"{lengths[0]}s{len(lengths)}p" if len(lengths) > 1 else f"{lengths[0]}s"
    return "+".join(f"{length}s" for length in lengths)


def _equal(panels: tuple[int, ...], length: int) -> Iterator[Grouping]:
    if not panels:
        yield ()
        return
    first, rest = panels[0], panels[1:]
    for others in combinations(rest, length - 1):
        left = tuple(p for p in rest if p not in others)
        for tail in _equal(left, length):
            yield ((first, *others), *tail)


def _any(panels: tuple[int, ...], limits: StringLimits, strings_left: int) -> Iterator[Grouping]:
    if not panels:
        yield ()
        return
    if strings_left == 0:
        return
    first, rest = panels[0], panels[1:]
    for length in range(limits.series_min, min(limits.series_max, len(panels)) + 1):
        for others in combinations(rest, length - 1):
            left = tuple(p for p in rest if p not in others)
            for tail in _any(left, limits, strings_left - 1):
                yield ((first, *others), *tail)


def _count_any(n_panels: int, limits: StringLimits) -> int:
    counts = {(0, left): 1 for left in range(limits.strings_max + 1)}

    def count(n: int, left: int) -> int:
        if (n, left) not in counts:
            top = min(limits.series_max, n)
            counts[n, left] = (
                sum(comb(n - 1, k - 1) * count(n - k, left - 1) for k in range(limits.series_min, top + 1))
                if left > 0
                else 0
            )
        return counts[n, left]

    return count(n_panels, min(limits.strings_max, n_panels))
