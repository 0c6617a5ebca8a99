"""Finds what looks like a payment card's number in words, so that none is ever stored."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

#: Digits as people group them.
_RUN: Final = re.compile(r"\d+(?:[ \-.]\d+)*")
#: How the digits of a card are grouped on it.
_GROUPED: Final = ((4, 4, 4, 4), (4, 6, 5), (4, 4, 4, 4, 3))


def holds_card_number(text: str) -> bool:
    """Return whether 13 to 19 digits that stand together pass the check of ISO/IEC 7812-1, annex B (Luhn).

    The standard's numbers have 8 to 19 digits; cards in use have 13 at least.
    """
    return any(
        13 <= len(digits) <= 19 and _passes(digits)
        for run in _RUN.findall(text)
        for digits in _candidates(re.split(r"[ \-.]", run))
    )


def _candidates(groups: list[str]) -> Iterator[str]:
    """Yield a run of digits in one, each group, and groups that follow one another as on a card."""
    yield "".join(groups)
    yield from groups
    for lengths in _GROUPED:
        for first in range(len(groups) - len(lengths) + 1):
            several = groups[first : first + len(lengths)]
            if tuple(map(len, several)) == lengths:
                yield "".join(several)


def _passes(digits: str) -> bool:
    total = 0
    for place, digit in enumerate(reversed(digits)):
        value = int(digit) * (2 if place % 2 else 1)
        total += value - 9 if value > 9 else value
    return total % 10 == 0 and set(digits) != {"0"}
