"""Turns the engine's sentences into templates: words with places for numbers the tables hold. Pure."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sizing

_NUMBER: Final = re.compile(r"-?(?:\d{1,3}(?:,\d{3})+(?!\d)|\d+)(?:\.\d+)?")
#: How a number may be written: digits, whether zeros at the end go.
_FORMS: Final = ((2, True), (1, True), (0, False), (3, True), (1, False))
_SCALES: Final = (1.0, 100.0, 1000.0, 0.001, -1.0)
#: Sentences for more settings than this are said in general words instead. [-]
MOST_SENTENCES: Final = 60


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
    if value is None:
        return "–" if unit == "fraction" else f"– {unit}".rstrip()
    if unit == "fraction":
        return f"{written(value * 100, 2, trims=True)}%"
    return f"{written(value, 2, trims=True)} {unit}".rstrip()


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
    """Return the sentences with ``{name:scale:digits:trims}`` for each number that one name explains."""
    split = [_NUMBER.split(one.text) for one in found]
    tokens = [_NUMBER.findall(one.text) for one in found]
    places: dict[tuple[tuple[str, ...], int], set[tuple[str, float, int, bool]]] = {}
    for one, words, numbers in zip(found, split, tokens, strict=True):
        for place, token in enumerate(numbers):
            where = (tuple(words), place)
            if where not in places:
                places[where] = _fits(one.numbers, token)
            else:
                places[where] = {fit for fit in places[where] if _says(one.numbers, fit, token)}
    out = []
    for words, numbers in zip(split, tokens, strict=True):
        text = words[0].replace("{", "(")
        for place, token in enumerate(numbers):
            fits = places[tuple(words), place]
            text += _slot(min(fits, key=_plainest)) if fits else token
            text += words[place + 1].replace("{", "(")
        out.append(text)
    return out


def _says(numbers: Mapping[str, float], fit: tuple[str, float, int, bool], token: str) -> bool:
    name, scale, digits, trims = fit
    return name in numbers and written(numbers[name] * scale, digits, trims=trims) == token


def _fits(numbers: Mapping[str, float], token: str) -> set[tuple[str, float, int, bool]]:
    return {
        (name, scale, digits, trims)
        for name, number in numbers.items()
        if number and math.isfinite(number)
        for scale in _SCALES
        for digits, trims in _FORMS
        if written(number * scale, digits, trims=trims) == token
    }


def _plainest(fit: tuple[str, float, int, bool]) -> tuple[int, int, int, str]:
    name, scale, digits, trims = fit
    return _SCALES.index(scale), _FORMS.index((digits, trims)), len(name), name


def _slot(fit: tuple[str, float, int, bool]) -> str:
    name, scale, digits, trims = fit
    return f"{{{name};{scale:g};{digits};{int(trims)}}}"
