"""The limits that stand beside the fields of a type, found for tests that draw values or count fields."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Iterator
from typing import Any

from sizing.core.limits import OneOf, Range


def limits_of(owner: type) -> dict[str, Range | OneOf]:
    """Return the first limit beside each field of a dataclass that has one."""
    hints = typing.get_type_hints(owner, include_extras=True)
    found = {each.name: next(_marks(hints[each.name]), None) for each in dataclasses.fields(owner)}
    return {name: mark for name, mark in found.items() if mark is not None}


def _marks(hint: Any) -> Iterator[Range | OneOf]:
    for part in (*typing.get_args(hint), *getattr(hint, "__metadata__", ())):
        if isinstance(part, (Range, OneOf)):
            yield part
        else:
            yield from _marks(part)
