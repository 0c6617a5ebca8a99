"""How numbers, counts and lists are said in the sentences of the engine."""

from __future__ import annotations

import math
from collections.abc import Iterable


def show(value: float | None, unit: str = "", digits: int = 2) -> str:
    """Return a number in words for sentences and substituted formulas: ``1,250 W``; unknown is a dash."""
    if value is None or not math.isfinite(value):
        return "–"
    number = f"{value:,.{digits}f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    if number == "-0":
        number = "0"
    return f"{number}%" if unit == "%" else f"{number} {unit}".rstrip()


def in_a_row(words: Iterable[str]) -> str:
    """Return words as they are said: ``C2, C3 and C11``; each once."""
    found = list(dict.fromkeys(words))
    return " and ".join([", ".join(found[:-1]), found[-1]]) if len(found) > 1 else "".join(found)


def show_count(count: int, thing: str, things: str = "") -> str:
    """Return so many things in words: ``1 screw``, ``2 screws``; ``things`` where an s does not do."""
    return f"{count:,} {thing if count == 1 else things or thing + 's'}"


def show_percent(fraction: float | None) -> str:
    """Return a fraction as a percent with two decimals: ``2.27%``."""
    return show(None if fraction is None else fraction * 100, "%", 2)
