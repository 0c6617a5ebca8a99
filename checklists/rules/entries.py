"""Checks one recorded value before it becomes an event: kind, range, unit, format. Pure."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass, replace
from typing import Any, Final
from uuid import UUID, uuid5

import sizing
from checklists.rules.fields import (
    CAUTION,
    CHOICE,
    LINES,
    NONE,
    NUMBER,
    PHOTO,
    SERIAL,
    SERIAL_LENGTH,
    SEVERAL,
    SIGNATURE,
    TICK,
    FieldSpec,
    keys_of,
)
from checklists.rules.ink import ink_problem
from checklists.rules.reducer import NOTE, RECORD, SAFETY, UNDO, canonical
from common.units import IMPERIAL, METRIC, kind_of, typed, with_unit

#: More feet than this on one panel is a typing slip. [-]
MOST_FEET: Final = 60
NOTE_LENGTH: Final = 2000
VERBS: Final = frozenset({RECORD, UNDO, NOTE, SAFETY})
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


class EntryRefused(ValueError):
    """A value that cannot be right; says field, limit, unit and what came in."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One event as a device sends it; ``step`` is 0 for what belongs to the job as a whole."""

    id: UUID
    step: int
    verb: str = RECORD
    field: str = ""
    value: Any = None
    unit: str = ""
    photo: UUID | None = None
    undoes: UUID | None = None
    replaces: tuple[UUID, ...] = ()
    cause: str = ""
    device: str = ""
    claimed_at: dt.datetime | None = None
    design_number: int | None = None
    sequence: int | None = None  # the tablet's own count of what was recorded on it


def entry_id(submission: UUID, step: int, name: str, value: Any) -> UUID:
    """Return the id of one value of one form: the same form sent twice makes the same event."""
    return uuid5(submission, f"{step}:{name}:{canonical(value)}")


def spec_named(specs: tuple[FieldSpec, ...], name: str) -> FieldSpec | None:
    """Return the field of this name; ``foot_3`` finds the field that repeats."""
    for spec in specs:
        if spec.name == name and not spec.repeat:
            return spec
        if spec.repeat == CAUTION and name.startswith(f"{spec.name}_"):
            words = name.removeprefix(f"{spec.name}_").replace("_", " ")
            return replace(spec, name=name, label=spec.label.replace("{n}", words), repeat="")
        prefix, _, number = name.rpartition("_")
        if spec.repeat and prefix == spec.name and number.isdigit() and 1 <= int(number) <= MOST_FEET:
            return replace(spec, name=name, label=spec.label.format(n=int(number)), repeat="")
    return None


def clean_text(value: str) -> str:
    """Return text as it can be stored: no control marks, no halves of characters, no blank ends."""
    return _CONTROL.sub("", value).encode("utf-8", "replace").decode("utf-8").strip()


def checked_value(spec: FieldSpec, value: Any, unit: str = "") -> Any:
    """Return the value as it is stored; raise EntryRefused when it cannot be right."""
    if unit and unit != spec.unit:
        raise EntryRefused(f"{spec.label}: the unit is {spec.unit or 'none'}, got {unit}.")
    if spec.kind == NUMBER:
        return _number(spec, value)
    if spec.kind == TICK:
        if value is not True:
            raise EntryRefused(f"{spec.label}: a tick is true or is undone, got {_short(value)}.")
        return True
    if spec.kind == CHOICE:
        if str(value) not in dict(spec.choices):
            raise EntryRefused(f"{spec.label}: {_short(value)} is none of the choices.")
        return str(value)
    if spec.kind in {LINES, SEVERAL}:
        return _keys(spec, value)
    if spec.kind == PHOTO:
        return None
    if spec.kind == SIGNATURE:
        if problem := ink_problem(value):
            raise EntryRefused(f"{spec.label}: {problem}")
        return {"name": value["name"], "ink": value["ink"]}
    return _text(spec, value)


def _keys(spec: FieldSpec, value: Any) -> str:
    """Return what is ticked of a list: keys in the order of the list, each once."""
    if spec.kind == SEVERAL and value == NONE:
        return NONE
    if not isinstance(value, str) or not value:
        raise EntryRefused(f"{spec.label}: nothing was ticked; undo it to take a value back.")
    words = dict(spec.lines or spec.choices)
    ticked = keys_of(value)
    unknown = next((key for key in ticked if key not in words), None)
    if unknown is not None:
        raise EntryRefused(f"{spec.label}: {_short(unknown)} is not on the list.")
    if ticked != [key for key in words if key in ticked]:
        raise EntryRefused(f"{spec.label}: each line once, in the order of the list.")
    first = next((key for key in words if key not in ticked), None)
    if spec.ordered and first is not None and ticked != list(words)[: len(ticked)]:
        raise EntryRefused(f"{spec.label}: “{words[first]}” comes first.")
    return value


def _number(spec: FieldSpec, value: Any) -> float | int:
    if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
        raise EntryRefused(f"{spec.label}: a number is needed, got {_short(value)}.")
    if spec.whole and value != int(value):
        raise EntryRefused(f"{spec.label}: a whole number is needed, got {value:g}.")
    too_low = spec.min is not None and value < spec.min
    too_high = spec.max is not None and value > spec.max
    if too_low or too_high:
        raise EntryRefused(f"{spec.label} must be {_limits(spec, value)}.")
    return int(value) if spec.whole else float(value)


def _is_finite(value: float) -> bool:
    """Return whether a number is one that can be stored; JSON allows whole numbers without end."""
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _short(value: Any) -> str:
    """Return what came in, short enough to print in a sentence."""
    return repr(value)[:60]


def _limits(spec: FieldSpec, value: float) -> str:
    """Return limits and what came in for either kind of shop: ``‹0 to 254 mm, got 300|0 to 10 in, …›``."""
    si, us = (_limits_in(spec, value, units) for units in (METRIC, IMPERIAL))
    return si if si == us else sizing.pair(si, us)


def _limits_in(spec: FieldSpec, value: float, units: str) -> str:
    """Return limits and what came in as one kind of shop writes them."""
    shown = kind_of(spec.unit).display(units)
    label = "" if shown.style == "feet" else shown.label  # 12' 6" says its units itself
    low, high, got = (_plain(one, spec.unit, units, label) for one in (spec.min, spec.max, value))
    return f"{with_unit(f'{low} to {high}', label)}, got {got}"


def _plain(value: float | None, unit: str, units: str, label: str) -> str:
    """Return an amount without its unit, fine enough to be typed again."""
    if value is None:
        return "…"
    written = f"{value:g}" if kind_of(unit).display(units).unit == kind_of(unit).si_unit else ""
    return written or typed(value, unit, units).removesuffix(label).strip()


def _text(spec: FieldSpec, value: Any) -> str:
    if not isinstance(value, str):
        raise EntryRefused(f"{spec.label}: text is needed, got {_short(value)}.")
    text = clean_text(value)
    most = min(spec.max_length, SERIAL_LENGTH) if spec.kind == SERIAL else spec.max_length
    if not text:
        raise EntryRefused(f"{spec.label}: nothing was written; undo it to take a value back.")
    if len(text) > most:
        raise EntryRefused(f"{spec.label}: at most {most} characters, got {len(text)}.")
    if spec.format in {"date", "month"}:
        return _date(spec, text)
    return text


def _date(spec: FieldSpec, text: str) -> str:
    shape = "%Y-%m-%d" if spec.format == "date" else "%Y-%m"
    words = "a date like 2027-03-31" if spec.format == "date" else "a month like 2027-03"
    try:
        found = dt.datetime.strptime(text, shape).date()  # noqa: DTZ007 - a day has no zone
    except ValueError:
        raise EntryRefused(f"{spec.label}: {words} is needed, got “{text}”.") from None
    if not 1990 <= found.year <= 2100:
        raise EntryRefused(f"{spec.label}: the year must be 1990 to 2100, got {found.year}.")
    return found.strftime(shape)
