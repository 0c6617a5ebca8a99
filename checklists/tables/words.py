"""Turns the engine's sentences into templates: words with places for numbers the tables hold. Pure."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sizing

#: A number; one with a stroke only as a part of an inch, for 1/0 AWG is a name.
_NUMBER: Final = re.compile(
    r"-?(?:(?:\d[\d,]* )?\d/\d(?= in›)|(?<!\d/)(?:\d{1,3}(?:,\d{3})+(?!\d)|\d+)(?![\d,]*/\d)(?:\.\d+)?)"
)
#: The customary side of a mark begins (see ``sizing.pair``).
_SIDE: Final = re.compile(r"‹[^‹|›]*\|")
#: How a number may be written: digits, and whether zeros at the end go (1) or it is said in eighths (2).
_FORMS: Final = ((2, 1), (1, 1), (0, 0), (3, 1), (1, 0))
_EIGHTHS: Final = ((8, 2),)
_METRIC: Final = ((1.0, 0.0),)
_SCALES: Final = (1.0, 100.0, 1000.0, 0.001, -1.0)
#: Sentences for more settings than this are said in general words instead. [-]
MOST_SENTENCES: Final = 60


#: What a customary unit may be made of: its sizes and zeros, by its name.
_CUSTOMARY: Final[dict[str, tuple[tuple[float, float], ...]]] = {}
for _name, _size, _zero in sizing.unit_sizes().values():
    _CUSTOMARY[_name] = (*_CUSTOMARY.get(_name, ()), (_size, _zero))


@dataclass(frozen=True, slots=True)
class _Fit:
    """One way to say a number: name·scale/size + zero, in a form."""

    name: str
    scale: float
    digits: int
    trims: int
    size: float = 1.0
    zero: float = 0.0

    def says(self, numbers: Mapping[str, float], token: str) -> bool:
        """Return whether these numbers are said like this."""
        return self.name in numbers and self.written(numbers[self.name]) == token

    def written(self, number: float) -> str:
        """Return a number said this way."""
        amount = number * self.scale / self.size + self.zero
        return (
            sizing.show_inches(amount).removesuffix(" in")
            if self.trims == 2
            else written(amount, self.digits, trims=self.trims == 1)
        )

    @property
    def slot(self) -> str:
        """Return the place in a template where a number is said like this."""
        own = f"{self.name};{self.scale:g};{self.digits};{self.trims}"
        more = "" if (self.size, self.zero) == (1.0, 0.0) else f";{self.size!r};{self.zero:g}"
        return f"{{{own}{more}}}"

    @property
    def plainness(self) -> tuple[int, float, int, int, str]:
        """Return what the plainest way has least of."""
        form = (self.digits, self.trims)
        place = _FORMS.index(form) if form in _FORMS else 0
        return _SCALES.index(self.scale), self.size, place, len(self.name), self.name


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence as heard: the setting of the switches, the verdict, the numbers known there."""

    switches: tuple[int, ...]
    verdict: str
    text: str
    numbers: Mapping[str, float]


def in_general(check: sizing.Check) -> str:
    """Return the words any check has that brings none of its own."""
    if check.verdict is sizing.Verdict.NOT_ENOUGH_DATA:
        return f"{check.title}: not enough data."
    at_least = check.bounds is not None and check.bounds.at_least
    sense = "needs at least" if at_least else "limit"
    return f"{check.title}: {_any(check.value, check.unit)}, {sense} {_any(check.limit, check.unit)}."


def is_tight(check: sizing.Check) -> bool:
    """Return whether a check stands exactly at its limit without room; the reader says so by itself."""
    bounds = check.bounds
    is_judged = bounds is not None and bounds.at_limit is not sizing.Verdict.PASS
    return is_judged and sizing.is_at(check.value, check.limit)


def _any(value: float | None, unit: str) -> str:
    if unit == "fraction" and value is not None:
        return f"{written(value * 100, 2, trims=True)}%"
    return sizing.show_both(value, unit, 2)


def written(value: float, digits: int, *, trims: bool) -> str:
    """Return a number as the engine prints it."""
    text = f"{value:,.{digits}f}"
    if trims and "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def templates_of(heard: Iterable[Sentence], axes: Sequence[int]) -> dict[str, Any]:
    """Return per verdict how a check is put into words: pieces and numbers, by at most two switches.

    A verdict whose sentences depend on more than that is left out: it is said in general words.
    """
    by_verdict: dict[str, list[Sentence]] = {}
    for one in heard:
        by_verdict.setdefault(one.verdict, []).append(one)
    out: dict[str, Any] = {}
    for verdict, found in by_verdict.items():
        table = _table(found, axes)
        if table is not None:
            out[verdict] = table
    return out


def _table(found: list[Sentence], axes: Sequence[int]) -> dict[str, Any] | None:
    slotted = _slotted(found)
    for count in range(3):
        for dims in itertools.combinations(axes, count):
            cells: dict[tuple[int, ...], str] = {}
            for one, template in zip(found, slotted, strict=True):
                cell = tuple(one.switches[axis] for axis in dims)
                if cells.setdefault(cell, template) != template:
                    break
            else:
                if len(cells) > MOST_SENTENCES:
                    return None
                return {"dims": list(dims), "by": {",".join(map(str, c)): text for c, text in cells.items()}}
    return None


def _slotted(found: list[Sentence]) -> list[str]:
    """Return the sentences with ``{name;scale;digits;trims}`` for each number that one name explains.

    In the customary side of a mark the size and the zero of its unit follow.
    """
    split = [_NUMBER.split(one.text) for one in found]
    tokens = [_NUMBER.findall(one.text) for one in found]
    places: dict[tuple[tuple[str, ...], int], set[_Fit]] = {}
    for one, words, numbers in zip(found, split, tokens, strict=True):
        for place, (token, unit) in enumerate(zip(numbers, _units(one.text), strict=True)):
            where = (tuple(words), place)
            if where not in places:
                places[where] = _fits(one.numbers, token, unit)
            else:
                places[where] = {fit for fit in places[where] if fit.says(one.numbers, token)}
    out = []
    for words, numbers in zip(split, tokens, strict=True):
        text = words[0].replace("{", "(")
        for place, token in enumerate(numbers):
            fits = places[tuple(words), place]
            text += min(fits, key=lambda fit: fit.plainness).slot if fits else token
            text += words[place + 1].replace("{", "(")
        out.append(text)
    return out


def _units(text: str) -> list[str]:
    """Return of each number its customary unit; none where it is not in the customary side of a mark."""
    starts = [match.end() for match in _SIDE.finditer(text)]
    out = []
    for number in _NUMBER.finditer(text):
        begun = [end for end in starts if end <= number.start()]
        closed = text.find("›", begun[-1]) if begun else -1
        is_inside = closed >= number.end()
        out.append(text[:closed].rpartition(" ")[2] if is_inside else "")
    return out


def _fits(numbers: Mapping[str, float], token: str, unit: str) -> set[_Fit]:
    forms = _EIGHTHS if unit == "in" else _FORMS
    found = (
        _Fit(name, scale, digits, trims, size, zero)
        for name, number in numbers.items()
        if math.isfinite(number)
        for scale in _SCALES
        for size, zero in _CUSTOMARY.get(unit, _METRIC)
        for digits, trims in forms
        if number or zero
    )
    return {fit for fit in found if fit.says(numbers, token)}
