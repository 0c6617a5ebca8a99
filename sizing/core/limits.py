"""Limits written beside the field of a type: range and unit of a number, choices, length of a list.

``run_len_m: Annotated[float, Range(0.0, 100.0, "m")]`` is the one place where such a limit stands. The reader
of JSON (:mod:`sizing.core.reading`), the check of a question built in Python and the JSON Schema all take it
from there. The ``__get_pydantic_…`` methods are how pydantic asks a mark beside a field what it means.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue
    from pydantic_core import CoreSchema

#: Nothing measured on a vehicle is smaller than this unless it is nothing; saturation currents are. [any]
SMALLEST: Final = 1e-9


class InputOutOfRange(ValueError):
    """A question that cannot be asked: names the field (a JSON path), the limit, the unit and the value."""

    def __init__(self, path: str, message: str) -> None:
        self.path, self.message = _printable(path), _printable(message)
        super().__init__(f"{self.path}: {self.message}")


@dataclass(frozen=True, slots=True)
class Range:
    """What a number may be. ``is_above`` keeps the lower end out (above 0, not 0 or more).

    What is not 0 must be at least ``smallest``.
    """

    low: float
    high: float
    unit: str = ""
    is_above: bool = False
    smallest: float = 0.0

    def words(self) -> str:
        """Return the range as it is said: ``above 0 and up to 100 m``."""
        if self.is_above:
            return f"above {self.low:g} and up to {self.high:g} {self.unit}".rstrip()
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def holds(self, value: float) -> bool:
        """Return whether a finite number lies within."""
        return (self.low < value if self.is_above else self.low <= value) and value <= self.high

    def number(self, value: Any) -> float:
        """Return a value as a number within; never from true or text."""
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise InputOutOfRange("", f"must be a number, {self.words()}, got {shown(value)}")
        return float(self._within(value))

    def whole(self, value: Any) -> int:
        """Return a value as a whole number within; never from true, text or a fraction."""
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            raise InputOutOfRange("", f"must be a whole number, {self.words()}, got {shown(value)}")
        return int(self._within(value))

    def _within(self, value: float) -> float:
        if isinstance(value, float) and not math.isfinite(value):
            raise InputOutOfRange("", f"must be a finite number ({self.words()}), got {value}")
        if 0 < abs(value) < self.smallest:
            raise InputOutOfRange("", f"must be 0 or at least {self.smallest:g}, got {value:g}")
        if not self.holds(value):
            raise InputOutOfRange("", f"must be {self.words()}, got {shown(value)}")
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        from pydantic_core import core_schema

        read = self.whole if source is int else self.number
        return core_schema.no_info_plain_validator_function(read, json_schema_input_schema=handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        lower = "exclusiveMinimum" if self.is_above else "minimum"
        found = {**handler(schema), lower: self.low, "maximum": self.high}
        return {**found, "description": f"[{self.unit}]"} if self.unit else found


@dataclass(frozen=True, slots=True)
class OneOf:
    """The few numbers or words a field may hold."""

    choices: tuple[Any, ...]
    unit: str = ""

    def choice(self, value: Any) -> Any:
        """Return the choice that a value is equal to."""
        if isinstance(value, bool) or value not in self.choices:
            listed = ", ".join(f'"{each}"' if isinstance(each, str) else f"{each:g}" for each in self.choices)
            raise InputOutOfRange(
                "", f"must be one of {listed} {self.unit}".rstrip() + f", got {shown(value)}"
            )
        return self.choices[self.choices.index(value)]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.no_info_plain_validator_function(
            self.choice, json_schema_input_schema=handler(source)
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"type": handler(schema)["type"], "enum": list(self.choices)}


@dataclass(frozen=True, slots=True)
class Count:
    """How many entries a list may have."""

    least: int
    most: int
    what: str = "entries"

    def words(self) -> str:
        """Return the count as it is said: ``1 to 72 headings``."""
        if self.least == self.most:
            return f"{self.most} {self.what}"
        return (
            f"{self.least} to {self.most} {self.what}" if self.least else f"at most {self.most} {self.what}"
        )

    def counted(self, values: Any) -> Any:
        """Return a list that has not too few nor too many entries; what has none is left to its type."""
        is_counted = isinstance(values, (list, tuple, frozenset, Mapping))
        if is_counted and not self.least <= len(values) <= self.most:
            raise InputOutOfRange("", f"must hold {self.words()}, got {len(values)}")
        return values

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        from pydantic_core import core_schema

        return core_schema.no_info_before_validator_function(self.counted, handler(source))


def _printable(text: str) -> str:
    """Return text without halves of character pairs, which JSON can hold and no file or screen can."""
    return text.encode(errors="backslashreplace").decode()


def shown(value: Any) -> str:
    """Return a value of JSON in at most 60 characters, as it would be typed in a file."""
    if isinstance(value, Mapping):
        return "an object"
    if isinstance(value, (list, tuple)):
        return f"an array of {len(value)}"
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a number of more than 30 digits"  # printing millions of digits would be refused
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}…"
