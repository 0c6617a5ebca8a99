"""Knows how designs are made at random: each class from its declared ranges, now and then nonsense.

Hypothesis draws one string of bytes and a plain reader turns it into a design: some thousand fields drawn
one by one took twenty times as long as all sums on them. Bytes of zero read as the first and smallest of
everything, so what fails still shrinks to a plain design.
"""

from __future__ import annotations

import dataclasses
import functools
import math
import types
import typing
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import Any

from hypothesis import strategies as st

from sizing.core.inputs import (
    BankInput,
    ChargeSourceInput,
    CircuitInput,
    ControllerInput,
    InverterInput,
    LoadRow,
    OcpdInput,
    PanelSpec,
    PlacedPanel,
    PlugInput,
    RoofInput,
    SingleDiode,
    StringInput,
    SystemInput,
    TravelLeg,
    WeightInput,
)
from sizing.core.limits import OneOf, Range
from tests.limits import limits_of

SIZES = [
    "18 AWG",
    "14 AWG",
    "10 AWG",
    "8 AWG",
    "2/0 AWG",
    "4/0 AWG",
    "500 kcmil",
    "1.5 mm²",
    "16 mm²",
    "6 SAE",
]
FAMILIES = ["", "class T", "strip", "blade", "gPV", "post", "?"]
TEXTS = ["", "a", "tpo", "epdm", "#14", "?"]
GUESSES = ["panels", "bank", "loads", "site.tmin_storage"]
NONSENSE = [math.nan, math.inf, -math.inf, -1.0, 0.0, 1e308, 5e-324]
MOST_PANEL_W = 2000.0
BYTES = 320  # of one design; read again, stirred, where a design needs more


class Dice:
    """A string of bytes read as choices and numbers.

    One design in four is wild: here and there a number is nonsense or a name points at nothing.
    """

    def __init__(self, raw: bytes) -> None:
        self._raw, self._at, self._stir = raw, 0, 1
        self.is_wild = self.once_in(4)

    def whole(self, low: int, high: int) -> int:
        """Return a whole number from ``low`` to ``high``."""
        return low + self._read(1 if high - low < 64 else 4) % (high - low + 1)

    def pick(self, among: Sequence[Any]) -> Any:
        """Return one of the sequence."""
        return among[self.whole(0, len(among) - 1)]

    def once_in(self, many: int) -> bool:
        """Return true once in so many throws, never for bytes of zero."""
        return self.whole(0, many - 1) == many // 2

    def real(self, low: float, high: float) -> float:
        """Return a number within: anywhere, of any magnitude, or a round one."""
        way, share = self.whole(0, 3), self._read(4) / 0xFFFFFFFF
        if way == 1:
            return min(high, low + (high - low) * 10 ** (-9.0 * share))
        if way == 2:
            return min(high, max(low, float(round(low + (high - low) * share))))
        return min(high, low + (high - low) * share)

    def _read(self, count: int) -> int:
        if self._at + count > len(self._raw):
            self._at, self._stir = 0, self._stir + 2
        taken = self._raw[self._at : self._at + count]
        self._at += count
        return int.from_bytes(taken, "little") * self._stir % 256**count


def number(dice: Dice, owner: type, name: str, *, whole: bool) -> Any:
    """Return a number of a field: within its range, at its ends, rarely nonsense."""
    allowed = _limits(owner)[name]
    if isinstance(allowed, OneOf):
        return dice.pick(allowed.choices)
    is_end = dice.once_in(10)
    if whole:
        ends = int(allowed.low), int(allowed.high)
        return dice.pick(ends) if is_end else dice.whole(ends[0], min(ends[1], ends[0] + 12))
    if dice.is_wild and dice.once_in(100):
        return dice.pick(NONSENSE)
    if is_end and not allowed.is_above:
        return dice.pick([allowed.low, allowed.high])
    if owner is SingleDiode:
        return dice.real(allowed.low, allowed.high)
    low = max(allowed.low, 1e-4) if allowed.is_above else allowed.low
    return max(low, round(dice.real(low, allowed.high), 6))


def field(dice: Dice, owner: type, name: str, hint: Any) -> Any:
    """Return a value of one field by its type."""
    kind, inner = _kind(hint)
    if kind == "maybe":
        return field(dice, owner, name, inner) if dice.whole(0, 1) else None
    if kind == "names":
        return frozenset(each for each in GUESSES if dice.whole(0, 1))
    if kind == "parts":
        return tuple(field(dice, owner, name, each) for each in inner)
    if kind == "list":
        return tuple(field(dice, owner, name, inner) for _ in range(dice.whole(0, 2)))
    if kind == "choice":
        return dice.pick(inner)
    if kind == "record":
        return record(dice, inner)
    if kind == "number":
        return number(dice, owner, name, whole=inner is int)
    few = _limits(owner).get(name)
    return dice.pick(few.choices if isinstance(few, OneOf) else TEXTS)


@functools.cache
def _kind(hint: Any) -> tuple[str, Any]:
    """Return what a type hint asks for, and of what."""
    inner = typing.get_args(hint)
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return "maybe", next(each for each in inner if each is not type(None))
    if typing.get_origin(hint) is frozenset:
        return "names", None
    if typing.get_origin(hint) is tuple:
        return ("list", inner[0]) if inner[-1] is Ellipsis else ("parts", inner)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return "choice", list(hint)
    if dataclasses.is_dataclass(hint):
        return "record", hint
    if hint is bool:
        return "choice", [False, True]
    return ("number", hint) if hint in (int, float) else ("text", None)


@functools.cache
def _limits(owner: type) -> dict[str, Range | OneOf]:
    """Return the limits beside the fields of a dataclass."""
    return limits_of(owner)


@functools.cache
def _hints(owner: type) -> dict[str, Any]:
    """Return the fields of a dataclass with their types."""
    hints = typing.get_type_hints(owner)
    return {each.name: hints[each.name] for each in dataclasses.fields(owner)}


def record(dice: Dice, owner: type, **given: Any) -> Any:
    """Return an instance of a dataclass, every field from its range unless given."""
    drawn = {
        name: given[name] if name in given else field(dice, owner, name, hint)
        for name, hint in _hints(owner).items()
    }
    return owner(**drawn)


def maybe(dice: Dice, owner: type, **given: Any) -> Any:
    """Return a record or nothing."""
    return record(dice, owner, **given) if dice.whole(0, 1) else None


def some(dice: Dice, most: int, make: Callable[[int], Any]) -> tuple[Any, ...]:
    """Return up to so many of what is made from a number."""
    return tuple(make(rank) for rank in range(dice.whole(0, most)))


def data_sheet(dice: Dice) -> PanelSpec:
    """Return a data sheet that mostly does not contradict itself."""
    spec = record(dice, PanelSpec)
    volts, amps, gap = dice.real(0.6, 0.99), dice.real(0.7, 1.0), dice.real(0.98, 1.02)
    vmp_v = spec.voc_v * volts
    imp_a = spec.isc_a * amps
    if vmp_v * imp_a > MOST_PANEL_W:
        imp_a = MOST_PANEL_W * dice.real(0.05, 1.0) / vmp_v
    pmp_w = min(MOST_PANEL_W, vmp_v * imp_a * gap)
    return dataclasses.replace(spec, pmp_w=pmp_w, vmp_v=vmp_v, imp_a=imp_a, isc_a=imp_a / amps)


def strings_of(dice: Dice, names: list[str], owners: list[str]) -> tuple[StringInput, ...]:
    """Return strings that use up the panels."""
    made: list[StringInput] = []
    while names and owners:
        take = dice.whole(1, len(names))
        given = {"controller_id": dice.pick(owners), "panel_ids": tuple(names[:take])}
        made.append(record(dice, StringInput, id=f"S{len(made)}", **given))
        names = names[take:]
    return tuple(made)


def circuit(dice: Dice, rank: int, serves: list[str]) -> CircuitInput:
    """Return a circuit that serves something there is."""
    size = dice.pick([None, *SIZES]) if dice.whole(0, 1) else None
    device = maybe(dice, OcpdInput, family=dice.pick(FAMILIES))
    return record(dice, CircuitInput, id=f"X{rank}", serves=dice.pick(serves), size=size, ocpd=device)


def leg(dice: Dice) -> TravelLeg:
    """Return a leg of a journey with some months of a year."""
    months = {dice.whole(1, 12) for _ in range(dice.whole(0, 4))}
    return record(dice, TravelLeg, months=tuple(sorted(months)))


def sources_of(dice: Dice) -> tuple[ChargeSourceInput, ...]:
    """Return chargers of which one may feed the other, or never run with it or with the sun."""
    count = dice.whole(0, 2)
    made = []
    for rank in range(count):
        others = [f"c{other}" for other in range(count) if other != rank] + ["Z"] * dice.is_wild
        through = dice.pick(["", *others])
        apart = tuple(name for name in ("solar", *others) if dice.whole(0, 1))
        made.append(record(dice, ChargeSourceInput, id=f"c{rank}", through=through, excluded_with=apart))
    return tuple(made)


def plugs(dice: Dice, owners: list[str]) -> tuple[PlugInput, ...]:
    """Return a plug of a controller, in a wild design of one there is not."""
    names = owners or ["Z"] * dice.is_wild
    return some(dice, min(1, len(names)), lambda _: record(dice, PlugInput, controller_id=dice.pick(names)))


def system(raw: bytes) -> SystemInput:
    """Return a whole design; ids mostly point at something."""
    dice = Dice(raw)
    spec = data_sheet(dice)
    placed = some(dice, 6, lambda rank: record(dice, PlacedPanel, id=f"p{rank}", panel=spec, string_id=None))
    controllers = some(dice, 2, lambda rank: record(dice, ControllerInput, id="AB"[rank]))
    owners = [each.id for each in controllers]
    strings = strings_of(dice, [each.id for each in placed], owners)
    sources = sources_of(dice)
    serves = ["", "bank", "load", "inverter", *(f"controller:{each}" for each in owners)]
    serves += [f"string:{each.id}" for each in strings] + [f"source:{each.id}" for each in sources]
    found = record(
        dice,
        SystemInput,
        panels=placed,
        strings=strings,
        controllers=controllers,
        sources=sources,
        circuits=some(dice, 5, lambda rank: circuit(dice, rank, serves)),
        loads=some(dice, 3, lambda _: record(dice, LoadRow)),
        legs=some(dice, 2, lambda _: leg(dice)),
        plugs=plugs(dice, owners),
        bank=maybe(dice, BankInput, in_series=1),
        inverter=maybe(dice, InverterInput),
        roof=maybe(dice, RoofInput),
        weight=maybe(dice, WeightInput),
    )
    return found if dice.is_wild else with_warmest_last(found)


def with_warmest_last(asked: SystemInput) -> SystemInput:
    """Return a design whose hottest air is no colder than its coldest."""
    known = [each for each in (asked.tmin_travel_c, asked.tmin_storage_c) if each is not None]
    return dataclasses.replace(asked, tmax_c=max(asked.tmax_c, *known)) if known else asked


def systems() -> st.SearchStrategy[SystemInput]:
    """Return designs at random."""
    return st.binary(min_size=BYTES, max_size=BYTES).map(system)
