"""Knows how designs are made at random: each class from its declared ranges, now and then nonsense."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from enum import StrEnum
from typing import Any

from hypothesis import strategies as st

from sizing.inputs import (
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
from sizing.validate import CHOICES, RANGES

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
NONSENSE = [math.nan, math.inf, -math.inf, -1.0, 0.0, 1e308, 5e-324]


def number(owner: type, name: str, *, whole: bool) -> st.SearchStrategy[Any]:
    """Return numbers of a field: within its range, at its ends, rarely nonsense."""
    choices = CHOICES.get((owner, name))
    if choices is not None:
        return st.sampled_from(choices)
    allowed = RANGES[owner][name]
    ends = [allowed.low, allowed.high]
    if whole:
        inside = st.integers(int(allowed.low), min(int(allowed.high), int(allowed.low) + 12))
        return seldom(10, st.sampled_from([int(end) for end in ends]), inside)
    low = max(allowed.low, 1e-4) if allowed.is_above else allowed.low
    inside = st.floats(low, allowed.high).map(lambda drawn: max(low, round(drawn, 6)))
    if owner is SingleDiode:
        inside = st.floats(allowed.low, allowed.high, allow_subnormal=False)
    usual = inside if allowed.is_above else seldom(10, st.sampled_from(ends), inside)
    return seldom(300, st.sampled_from(NONSENSE), usual)


def seldom(
    one_in: int, rare: st.SearchStrategy[Any], usual: st.SearchStrategy[Any]
) -> st.SearchStrategy[Any]:
    """Return the rare value once in so many draws."""
    return st.integers(0, one_in - 1).flatmap(lambda dice: rare if dice == one_in // 2 else usual)


def field(owner: type, name: str, hint: Any) -> st.SearchStrategy[Any]:
    """Return values of one field by its type."""
    inner = typing.get_args(hint)
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        plain = next(kind for kind in inner if kind is not type(None))
        return st.one_of(st.none(), field(owner, name, plain))
    if typing.get_origin(hint) in (tuple, frozenset):
        return many(owner, name, hint)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return st.sampled_from(list(hint))
    if dataclasses.is_dataclass(hint):
        return record(typing.cast(type, hint))
    if hint is bool:
        return st.booleans()
    if hint in (int, float):
        return number(owner, name, whole=hint is int)
    choices = CHOICES.get((owner, name))
    return st.sampled_from(choices) if choices else st.sampled_from(["", "a", "tpo", "epdm", "#14", "?"])


def many(owner: type, name: str, hint: Any) -> st.SearchStrategy[Any]:
    """Return short tuples of a list field, or a frozenset; parts of a fixed tuple each by their own type."""
    inner = typing.get_args(hint)
    if typing.get_origin(hint) is frozenset:
        return st.frozensets(st.sampled_from(["panels", "bank", "loads", "site.tmin_storage"]))
    if inner[-1] is not Ellipsis:
        return st.tuples(*(field(owner, name, kind) for kind in inner))
    return st.lists(field(owner, name, inner[0]), max_size=2).map(tuple)


def record(owner: type, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Return instances of a dataclass, every field drawn from its range unless given."""
    hints = typing.get_type_hints(owner)
    names = [each.name for each in dataclasses.fields(owner)]
    drawn = {name: given[name] if name in given else field(owner, name, hints[name]) for name in names}
    return st.builds(owner, **drawn)


def months() -> st.SearchStrategy[tuple[int, ...]]:
    """Return some months of a year."""
    return st.lists(st.integers(1, 12), max_size=4, unique=True).map(tuple)


def panels() -> st.SearchStrategy[PanelSpec]:
    """Return data sheets that mostly do not contradict themselves."""
    return st.builds(
        lambda spec, v, i: dataclasses.replace(spec, vmp_v=spec.voc_v * v, imp_a=spec.isc_a * i),
        record(PanelSpec),
        st.floats(0.6, 0.99),
        st.floats(0.7, 1.0),
    )


@st.composite
def systems(draw: st.DrawFn) -> SystemInput:
    """Return a whole design at random; ids mostly point at something."""
    spec = draw(panels())
    count = draw(st.integers(0, 6))
    placed = tuple(
        draw(record(PlacedPanel, id=st.just(f"p{n}"), panel=st.just(spec), string_id=st.none()))
        for n in range(count)
    )
    controllers = tuple(
        draw(record(ControllerInput, id=st.just(name))) for name in "AB"[: draw(st.integers(0, 2))]
    )
    names = [each.id for each in placed]
    strings: list[StringInput] = []
    while names and controllers:
        take = draw(st.integers(1, len(names)))
        owner = draw(st.sampled_from([each.id for each in controllers]))
        chosen, names = tuple(names[:take]), names[take:]
        strings.append(
            draw(
                record(
                    StringInput,
                    id=st.just(f"S{len(strings)}"),
                    controller_id=st.just(owner),
                    panel_ids=st.just(chosen),
                )
            )
        )
    sources = tuple(
        draw(record(ChargeSourceInput, id=st.just(f"c{n}"), excluded_with=st.just(())))
        for n in range(draw(st.integers(0, 2)))
    )
    serves = ["", "bank", "load", "inverter", *(f"controller:{each.id}" for each in controllers)]
    serves += [f"string:{each.id}" for each in strings] + [f"source:{each.id}" for each in sources]
    circuits = tuple(
        draw(
            record(
                CircuitInput,
                id=st.just(f"X{n}"),
                serves=st.sampled_from(serves),
                size=st.one_of(st.none(), st.sampled_from(SIZES)),
                ocpd=st.one_of(st.none(), record(OcpdInput, family=st.sampled_from(FAMILIES))),
            )
        )
        for n in range(draw(st.integers(0, 5)))
    )
    return draw(
        record(
            SystemInput,
            panels=st.just(placed),
            strings=st.just(tuple(strings)),
            controllers=st.just(controllers),
            sources=st.just(sources),
            circuits=st.just(circuits),
            loads=st.lists(record(LoadRow), max_size=3).map(tuple),
            legs=st.lists(record(TravelLeg, months=months()), max_size=2).map(tuple),
            plugs=st.lists(
                record(PlugInput, controller_id=st.sampled_from([each.id for each in controllers] or ["Z"])),
                max_size=1,
            ).map(tuple),
            bank=st.one_of(st.none(), record(BankInput, in_series=st.just(1))),
            inverter=st.one_of(st.none(), record(InverterInput)),
            roof=st.one_of(st.none(), record(RoofInput)),
            weight=st.one_of(st.none(), record(WeightInput)),
        )
    )
