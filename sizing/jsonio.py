"""Knows how questions and answers turn into plain JSON and back without loss.

A dataclass is an object with its field names, an enum its value, a tuple an array, a frozenset a sorted
array, ``None`` null. Reading names the path of what is wrong; nothing is guessed, dropped or rounded.
"""

from __future__ import annotations

import dataclasses
import json
import math
import types
from collections.abc import Mapping
from enum import StrEnum
from typing import Any, Final, NamedTuple, Union, get_args, get_origin, get_type_hints

from sizing.inputs import InputOutOfRange, SystemInput
from sizing.results import SystemResult
from sizing.validate import validate

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
    return _written_object(system)


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
    system = _read_object(SystemInput, data, "")
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
    return _written_object(result)


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
    return _read_object(SystemResult, data, "")


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


def _written_object(item: Any) -> dict[str, Any]:
    return {name: _written(getattr(item, name), hint) for name, hint in _shape(type(item)).hints.items()}


def _written(value: Any, hint: Any) -> Any:
    """A whole number in a field of fractions is written as a fraction, so that text comes back the same."""
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, tuple):
        return [_written(each, kind) for each, kind in zip(value, _kinds(hint, len(value)), strict=True)]
    if isinstance(value, frozenset):
        return sorted(_written(each, str) for each in value)
    if dataclasses.is_dataclass(value):
        return _written_object(value)
    if type(value) is int and (hint is float or float in get_args(hint)):
        return float(value)
    return value


def _kinds(hint: Any, count: int) -> tuple[Any, ...]:
    """Return the type of each element of a tuple."""
    inner = get_args(hint)
    return (inner[0],) * count if inner[-1] is Ellipsis else inner


# -- reading -------------------------------------------------------------------------------------------


class _Shape(NamedTuple):
    """The fields of a dataclass: the type of each by name, and which have no default."""

    hints: Mapping[str, Any]
    required: tuple[str, ...]


_SHAPES: Final[dict[type, _Shape]] = {}


def _shape(owner: type) -> _Shape:
    """Return the fields of a dataclass; looked up once."""
    if owner not in _SHAPES:
        hints, known = get_type_hints(owner), dataclasses.fields(owner)
        _SHAPES[owner] = _Shape({each.name: hints[each.name] for each in known}, required_names(owner))
    return _SHAPES[owner]


def required_names(owner: Any) -> tuple[str, ...]:
    """Return the fields of a dataclass that have no default."""
    return tuple(
        each.name
        for each in dataclasses.fields(owner)
        if each.default is dataclasses.MISSING and each.default_factory is dataclasses.MISSING
    )


def _read_object[Thing](owner: type[Thing], data: Any, path: str) -> Thing:
    here = path or "design"
    if not isinstance(data, Mapping):
        raise InputOutOfRange(here, f"must be an object, got {_kind(data)}")
    shape, required = _shape(owner)
    for name in data:
        if name not in shape:
            raise InputOutOfRange(_joined(path, str(name)[:60]), f"is no field of {owner.__name__}")
    for name in required:
        if name not in data:
            raise InputOutOfRange(_joined(path, name), "is required")
    return owner(**{name: _read(shape[name], value, _joined(path, name)) for name, value in data.items()})


def _read(hint: Any, data: Any, path: str) -> Any:
    if type(data) is hint:  # most values, and the quickest to tell
        return data
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        return _read_union(get_args(hint), data, path)
    if origin is tuple:
        return _read_tuple(get_args(hint), data, path)
    if origin is frozenset:
        return frozenset(_read_list(get_args(hint)[0], data, path))
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _read_object(hint, data, path)
    if issubclass(hint, StrEnum):
        return _read_enum(hint, data, path)
    return _read_plain(hint, data, path)


def _read_union(kinds: tuple[Any, ...], data: Any, path: str) -> Any:
    """``None`` or one of the kinds; where several fit (number or text) the one that keeps the value."""
    if data is None and type(None) in kinds:
        return None
    rest = [kind for kind in kinds if kind is not type(None)]
    if len(rest) == 1:
        return _read(rest[0], data, path)
    return _read(next(kind for kind in rest if isinstance(data, str) is (kind is str)), data, path)


def _read_tuple(kinds: tuple[Any, ...], data: Any, path: str) -> tuple[Any, ...]:
    if kinds[-1] is Ellipsis:
        return tuple(_read_list(kinds[0], data, path))
    if not isinstance(data, (list, tuple)) or len(data) != len(kinds):
        raise InputOutOfRange(path, f"must be an array of {len(kinds)}, got {_kind(data)}")
    return tuple(
        _read(kind, each, f"{path}[{index}]")
        for index, (kind, each) in enumerate(zip(kinds, data, strict=True))
    )


def _read_list(kind: Any, data: Any, path: str) -> list[Any]:
    if not isinstance(data, (list, tuple, frozenset)):
        raise InputOutOfRange(path, f"must be an array, got {_kind(data)}")
    return [_read(kind, each, f"{path}[{index}]") for index, each in enumerate(data)]


def _read_enum(kind: type[StrEnum], data: Any, path: str) -> StrEnum:
    known = [each.value for each in kind]
    if not isinstance(data, str) or data not in known:
        listed = ", ".join(f'"{value}"' for value in known)
        raise InputOutOfRange(path, f"must be one of {listed}, got {_short(data)}")
    return kind(data)


def _read_plain(kind: type, data: Any, path: str) -> Any:
    """A number never comes from true or text, a whole number never from a fraction."""
    if kind is float and isinstance(data, int) and not isinstance(data, bool):
        return _as_float(data, path)
    if kind is int and isinstance(data, float) and data.is_integer():
        return int(data)
    is_right = isinstance(data, kind) and (kind is bool or not isinstance(data, bool))
    if not is_right:
        raise InputOutOfRange(path, f"must be {_WORDS[kind]}, got {_short(data)}")
    return data


def _as_float(data: int, path: str) -> float:
    try:
        return float(data)
    except OverflowError:
        raise InputOutOfRange(path, "must be a number below 1e308") from None


def _joined(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


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
