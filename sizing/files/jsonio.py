"""Turns designs and results into plain JSON values and back without loss.

A dataclass is an object with its field names, an enum its value, a tuple an array, a frozenset a sorted
array, ``None`` null. Reading names the path of what is wrong; nothing is guessed, dropped or rounded.
"""

from __future__ import annotations

import dataclasses
import types
from collections.abc import Callable, Mapping
from enum import StrEnum
from functools import cache
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

from sizing.core.inputs import SystemInput
from sizing.core.reading import Form
from sizing.core.results import SystemResult
from sizing.files.validate import DESIGN, check_links

#: How a stored answer is read.
RESULT: Final = Form(SystemResult, "result")


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
    system = DESIGN.read(data)
    check_links(system)
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
    return RESULT.read(data)


# -- writing -------------------------------------------------------------------------------------------


def _as_it_is(value: Any) -> Any:
    return value


@cache
def _object_writer(owner: Any) -> Callable[[Any], dict[str, Any]]:
    """Writers are put together once for each type."""
    hints = get_type_hints(owner)
    writers = tuple((each.name, _writer(hints[each.name])) for each in dataclasses.fields(owner))
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
