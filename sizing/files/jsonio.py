"""How questions and answers turn into plain JSON and back without loss.

A dataclass is an object with its field names, an enum its value, a tuple an array, a frozenset a sorted
array, ``None`` null. Reading names the path of what is wrong; nothing is guessed, dropped or rounded.
"""

from __future__ import annotations

import dataclasses
import json
import math
import types
from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum
from functools import cache
from itertools import repeat
from typing import Any, Final, Union, cast, get_args, get_origin, get_type_hints

from sizing.core.inputs import InputOutOfRange, SystemInput
from sizing.core.results import SystemResult
from sizing.files.validate import validate

MAX_JSON_BYTES: Final = 5_000_000
_WORDS: Final = {float: "a number", int: "a whole number", str: "text", bool: "true or false"}


def input_to_dict(system: SystemInput) -> dict[str, Any]:
    """Return a design as plain JSON values.

    Parameters
    ----------
    system : SystemInput
        One design. [-]

    Returns
    -------
    dict
        Only dict, list, str, int, float, bool and None. [-]

    Raises
    ------
    Nothing; every SystemInput can be written.

    References
    ----------
    .. [1] RFC 8259, the JSON data interchange format.
    """
    return _object_writer(SystemInput)(system)


def input_from_dict(data: Mapping[str, Any]) -> SystemInput:
    """Return the design written in plain JSON values, checked.

    Parameters
    ----------
    data : mapping
        As written by :func:`input_to_dict`; fields with a default may be left out. [-]

    Returns
    -------
    SystemInput
        The design; writing it again gives the same values. [-]

    Raises
    ------
    InputOutOfRange
        If a field is missing, unknown, of the wrong type or out of range; the message names its path.

    References
    ----------
    .. [1] RFC 8259, the JSON data interchange format.
    """
    system = _read_object(SystemInput, data)
    validate(system)
    return system


def result_to_dict(result: SystemResult) -> dict[str, Any]:
    """Return an answer as plain JSON values.

    Parameters
    ----------
    result : SystemResult
        The answer of :func:`sizing.size_system`. [-]

    Returns
    -------
    dict
        Only dict, list, str, int, float, bool and None. [-]

    Raises
    ------
    Nothing; every SystemResult can be written.

    References
    ----------
    .. [1] RFC 8259, the JSON data interchange format.
    """
    return _object_writer(SystemResult)(result)


def result_from_dict(data: Mapping[str, Any]) -> SystemResult:
    """Return the answer written in plain JSON values, equal to the one that was written.

    Parameters
    ----------
    data : mapping
        As written by :func:`result_to_dict`. [-]

    Returns
    -------
    SystemResult
        The stored answer. [-]

    Raises
    ------
    InputOutOfRange
        If a field is missing, unknown or of the wrong type; the message names its path.

    References
    ----------
    .. [1] RFC 8259, the JSON data interchange format.
    """
    return _read_object(SystemResult, data)


def loads(text: str | bytes) -> Any:
    """Return parsed JSON; anything that is not JSON of a sane size raises InputOutOfRange in one sentence."""
    if len(text) > MAX_JSON_BYTES:
        raise InputOutOfRange("file", f"must be at most {MAX_JSON_BYTES} bytes, got {len(text)}")
    try:
        return json.loads(
            text,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_sane_int,
            object_pairs_hook=_each_once,
        )
    except UnicodeDecodeError:
        raise InputOutOfRange("file", "must be JSON text in UTF-8") from None
    except json.JSONDecodeError as fault:
        place = f"line {fault.lineno}, column {fault.colno}"
        raise InputOutOfRange("file", f"is not JSON: {fault.msg} at {place}") from None
    except RecursionError:
        raise InputOutOfRange("file", "is nested too deeply") from None


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A name written twice would lose what was typed first."""
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise InputOutOfRange("file", f'names "{twice[:60]}" twice in one object')
    return found


def _no_constant(name: str) -> float:
    raise InputOutOfRange("file", f"must hold finite numbers, got {name}")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise InputOutOfRange("file", f"must hold finite numbers, got {text[:40]}")
    return number


def _sane_int(text: str) -> int:
    if len(text) > 30:
        raise InputOutOfRange("file", f"must hold numbers of at most 30 digits, got {len(text)} digits")
    return int(text)


# -- writing -------------------------------------------------------------------------------------------
#
# Readers and writers are put together once for each type: a stored answer of some thousand values is read
# on nearly every page.


def _as_it_is(value: Any) -> Any:
    return value


@cache
def _object_writer(owner: Any) -> Callable[[Any], dict[str, Any]]:
    writers = tuple((name, _writer(hint)) for name, hint in _shape(owner))
    return lambda item: {name: write(getattr(item, name)) for name, write in writers}


@cache
def _writer(hint: Any) -> Callable[[Any], Any]:
    """A whole number in a field of fractions is written as a fraction, so that text comes back the same."""
    inner = get_args(hint)
    if get_origin(hint) in (Union, types.UnionType):
        return _union_writer(inner)
    if get_origin(hint) is tuple:
        return _tuple_writer(inner)
    if get_origin(hint) is frozenset:
        return sorted
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _object_writer(hint)
    if issubclass(hint, StrEnum):
        return lambda value: value.value
    if hint is float:
        return lambda value: float(value) if type(value) is int else value
    return _as_it_is


def _union_writer(kinds: tuple[Any, ...]) -> Callable[[Any], Any]:
    writers = [_writer(kind) for kind in kinds if kind not in (str, type(None))]
    if not writers:
        return _as_it_is
    write = writers[0]
    return lambda value: value if value is None or type(value) is str else write(value)


def _tuple_writer(kinds: tuple[Any, ...]) -> Callable[[Any], list[Any]]:
    writers = [_writer(kind) for kind in kinds if kind is not Ellipsis]
    if kinds[-1] is Ellipsis:
        write = writers[0]
        return lambda values: [write(each) for each in values]
    return lambda values: [write(each) for write, each in zip(writers, values, strict=True)]


# -- reading -------------------------------------------------------------------------------------------


def _shape(owner: type) -> tuple[tuple[str, Any], ...]:
    """Return name and type of each field of a dataclass."""
    hints = get_type_hints(owner)
    return tuple((each.name, hints[each.name]) for each in dataclasses.fields(owner))


def required_names(owner: Any) -> tuple[str, ...]:
    """Return the fields of a dataclass that have no default."""
    return tuple(
        each.name
        for each in dataclasses.fields(owner)
        if each.default is dataclasses.MISSING and each.default_factory is dataclasses.MISSING
    )


def _read_object[Thing](owner: type[Thing], data: Any) -> Thing:
    """Return a whole design or answer; a reader names the path below itself, so the rest is put before it."""
    try:
        found: Thing = _object_reader(cast(Any, owner))(data)
    except InputOutOfRange as refusal:
        raise InputOutOfRange(refusal.path or "design", refusal.message) from None
    return found


def _below(name: str, refusal: InputOutOfRange) -> InputOutOfRange:
    """Return a refusal seen from one level up."""
    dot = "." if refusal.path and not refusal.path.startswith("[") else ""
    return InputOutOfRange(f"{name}{dot}{refusal.path}", refusal.message)


@cache
def _object_reader(owner: Any) -> Callable[[Any], Any]:
    readers = {name: _reader(hint) for name, hint in _shape(owner)}
    required = required_names(owner)

    def read(data: Any) -> Any:
        if not isinstance(data, Mapping):
            raise InputOutOfRange("", f"must be an object, got {_kind(data)}")
        for name in data:
            if name not in readers:
                raise InputOutOfRange(str(name)[:60], f"is no field of {owner.__name__}")
        for name in required:
            if name not in data:
                raise InputOutOfRange(name, "is required")
        found = {}
        for name, value in data.items():
            try:
                found[name] = readers[name](value)
            except InputOutOfRange as refusal:
                raise _below(name, refusal) from None
        return owner(**found)

    return read


@cache
def _reader(hint: Any) -> Callable[[Any], Any]:
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return _union_reader(inner)
    if origin is tuple:
        return _list_reader(inner[0], tuple) if inner[-1] is Ellipsis else _tuple_reader(inner)
    if origin is frozenset:
        return _list_reader(inner[0], frozenset)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _object_reader(hint)
    return _enum_reader(hint) if issubclass(hint, StrEnum) else _plain_reader(hint)


def _union_reader(kinds: tuple[Any, ...]) -> Callable[[Any], Any]:
    """``None`` or one of the kinds; where several fit (number or text) the one that keeps the value."""
    is_optional = type(None) in kinds
    rest = [(kind is str, _reader(kind)) for kind in kinds if kind is not type(None)]
    only = rest[0][1] if len(rest) == 1 else None

    def read(data: Any) -> Any:
        if data is None and is_optional:
            return None
        if only is not None:
            return only(data)
        is_text = isinstance(data, str)
        return next(reader for takes_text, reader in rest if takes_text is is_text)(data)

    return read


def _tuple_reader(kinds: tuple[Any, ...]) -> Callable[[Any], tuple[Any, ...]]:
    readers = [_reader(kind) for kind in kinds]

    def read(data: Any) -> tuple[Any, ...]:
        if not isinstance(data, (list, tuple)) or len(data) != len(readers):
            raise InputOutOfRange("", f"must be an array of {len(readers)}, got {_kind(data)}")
        return tuple(_each(readers, data))

    return read


def _list_reader(kind: Any, gather: Callable[[Iterable[Any]], Any]) -> Callable[[Any], Any]:
    reader = _reader(kind)

    def read(data: Any) -> Any:
        if not isinstance(data, (list, tuple, frozenset)):
            raise InputOutOfRange("", f"must be an array, got {_kind(data)}")
        return gather(_each(repeat(reader), data))

    return read


def _each(readers: Iterable[Callable[[Any], Any]], data: Iterable[Any]) -> list[Any]:
    found: list[Any] = []
    for reader, value in zip(readers, data, strict=False):
        try:
            found.append(reader(value))
        except InputOutOfRange as refusal:
            raise _below(f"[{len(found)}]", refusal) from None
    return found


def _enum_reader(kind: type[StrEnum]) -> Callable[[Any], StrEnum]:
    known = {each.value: each for each in kind}
    listed = ", ".join(f'"{value}"' for value in known)

    def read(data: Any) -> StrEnum:
        if not isinstance(data, str) or data not in known:
            raise InputOutOfRange("", f"must be one of {listed}, got {_short(data)}")
        return known[data]

    return read


def _plain_reader(kind: type) -> Callable[[Any], Any]:
    """A number never comes from true or text, a whole number never from a fraction."""

    def read(data: Any) -> Any:
        if type(data) is kind:
            return data
        if kind is float and isinstance(data, int) and not isinstance(data, bool):
            return _as_float(data)
        if kind is int and isinstance(data, float) and data.is_integer():
            return int(data)
        if isinstance(data, kind) and not isinstance(data, bool):
            return data
        raise InputOutOfRange("", f"must be {_WORDS[kind]}, got {_short(data)}")

    return read


def _as_float(data: int) -> float:
    try:
        return float(data)
    except OverflowError:
        raise InputOutOfRange("", "must be a number below 1e308") from None


def _kind(data: Any) -> str:
    if isinstance(data, Mapping):
        return "an object"
    if isinstance(data, (list, tuple)):
        return f"an array of {len(data)}"
    return _short(data)


def _short(data: Any) -> str:
    if data is None or isinstance(data, bool):
        return json.dumps(data)
    if isinstance(data, int) and abs(data) >= 10**30:
        return "a number of more than 30 digits"  # printing millions of digits would be refused
    text = f'"{data}"' if isinstance(data, str) else str(data)
    return text if len(text) <= 60 else f"{text[:57]}…"
