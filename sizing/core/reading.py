"""Reads JSON into the engine's types; names path, limit, unit and value of what is wrong.

pydantic does the reading: types, defaults and the limits of :mod:`sizing.core.limits` come from the
dataclasses themselves. Here is only what it leaves open: that numbers never come from text, words for each
fault, and JSON text that is read without losing anything.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sizing.core.limits import Count, InputOutOfRange, shown

if TYPE_CHECKING:
    from pydantic_core import CoreSchema, ErrorDetails, SchemaValidator

MAX_JSON_BYTES: Final = 5_000_000
MOST_NAMES: Final = 2000  # of an object whose members may have any name

#: What is said of a fault, by pydantic's name of it; what was given is said after it.
_WORDS: Final = {
    "string_type": "must be text",
    "string_too_short": "must not be empty",
    "bool_type": "must be true or false",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "dataclass_type": "must be an object",
    "dict_type": "must be an object",
    "tuple_type": "must be an array",
    "list_type": "must be an array",
    "frozen_set_type": "must be an array",
}


class Form[Thing]:
    """How one type is read. ``name`` is what a fault of the whole is called by.

    ``most_text`` and ``most_rows`` bound every text and every list. Where ``null_is_absent`` a member that is
    null counts as left out.
    """

    def __init__(
        self,
        owner: type[Thing],
        name: str,
        *,
        refusal: type[InputOutOfRange] = InputOutOfRange,
        most_text: int = MAX_JSON_BYTES,
        most_rows: int | None = None,
        null_is_absent: bool = False,
    ) -> None:
        self._owner, self._name, self._refusal = owner, name, refusal
        self.most_text, self.most_rows, self.null_is_absent = most_text, most_rows, null_is_absent

    def read(self, data: Any, *, at: str = "") -> Thing:
        """Return the thing in plain JSON values, or check one built in Python; raise the form's refusal.

        ``at`` is the path that the thing stands at.
        """
        from pydantic_core import ValidationError

        try:
            found: Thing = self._validator.validate_python(data)
        except ValidationError as fault:
            path, message = _told(fault.errors(include_url=False)[0])
        else:
            return found
        raise self._refusal(below(at, path) or self._name, message)

    @cached_property
    def core_schema(self) -> CoreSchema:
        """How pydantic reads the type, by the rules of this form."""
        from pydantic import TypeAdapter

        made: CoreSchema = _Tuning(self).tuned(TypeAdapter(self._owner).core_schema)
        return made

    @cached_property
    def _validator(self) -> SchemaValidator:
        from pydantic_core import SchemaValidator

        return SchemaValidator(self.core_schema)


# -- words -----------------------------------------------------------------------------------------------


def _told(fault: ErrorDetails) -> tuple[str, str]:
    """Return path and sentence of a fault; a check of our own names its path below the place it stands at."""
    path = _joined(fault["loc"])
    own = fault.get("ctx", {}).get("error")
    if isinstance(own, InputOutOfRange):
        return below(path, own.path), own.message
    return path, _sentence(fault)


def _sentence(fault: ErrorDetails) -> str:
    kind, given = fault["type"], fault["input"]
    if kind == "missing":
        return "is missing"
    if kind == "string_unicode":
        return f"holds half of a character pair, which is no text: {json.dumps(given)[:60]}"
    if kind == "string_too_long":
        return f"must be at most {fault['ctx']['max_length']} characters, got {len(given)}"
    if kind == "too_long":
        return f"must be at most {fault['ctx']['max_length']} entries, got {len(given)}"
    return f"{_WORDS.get(kind, fault['msg'])}, got {shown(given)}"


def below(path: str, inner: str) -> str:
    """Return a path within what stands at a path."""
    return f"{path}.{inner}" if path and inner and not inner.startswith("[") else path + inner


def _joined(steps: tuple[int | str, ...]) -> str:
    """Return steps as a path: ``panels[0].panel.voc_v``."""
    path = ""
    for step in steps:
        if step != "[key]":  # what is wrong with a name is told at the name
            path += f"[{step}]" if isinstance(step, int) else f".{step[:60]}"
    return path.removeprefix(".")


# -- what pydantic is told beyond the types ---------------------------------------------------------------


class _Tuning:
    """Walks the schema pydantic made of a type and makes each kind of part as strict as a form wants it."""

    def __init__(self, form: Form[Any]) -> None:
        self._form = form
        self._enums: dict[str, Any] = {}

    def tuned(self, part: Any) -> Any:
        """Return a part with all parts in it tuned."""
        if isinstance(part, list):
            return [self.tuned(each) for each in part]
        if not isinstance(part, dict):
            return part
        if part.get("type") == "definitions":
            enums = {each["ref"]: each for each in part["definitions"] if each["type"] == "enum"}
            self._enums |= enums
            part = {**part, "definitions": [each for each in part["definitions"] if each["ref"] not in enums]}
        made = {name: self.tuned(each) for name, each in part.items()}
        change: Callable[[Any], Any] | None = getattr(self, f"_{made.get('type')}".replace("-", "_"), None)
        return change(made) if change else made

    def _float(self, part: Any) -> Any:
        return {**part, "strict": True}

    _bool = _float

    def _int(self, part: Any) -> Any:
        return _before(_whole, {**part, "strict": True})

    def _str(self, part: Any) -> Any:
        """pydantic looks for halves of character pairs only in a text whose length it must know."""
        return {"max_length": self._form.most_text, **part, "strict": True}

    def _tuple(self, part: Any) -> Any:
        if "variadic_item_index" in part:
            return self._frozenset(part)
        return _before(partial(_so_many, len(part["items_schema"])), part)

    def _frozenset(self, part: Any) -> Any:
        """Only the first fault is told: a million of them would be gathered in vain."""
        most = self._form.most_rows
        return {**part, "fail_fast": True} | ({} if most is None else {"max_length": most})

    def _dict(self, part: Any) -> Any:
        return _before(Count(0, MOST_NAMES, "names").counted, part)

    def _definition_ref(self, part: Any) -> Any:
        """Enums are written out where they stand: a schema is read without jumping about."""
        return self.tuned(self._enums[part["schema_ref"]]) if part["schema_ref"] in self._enums else part

    def _enum(self, part: Any) -> Any:
        part = {name: each for name, each in part.items() if name != "ref"}
        listed = ", ".join(f'"{each.value}"' for each in part["members"])
        return _worded(f"must be one of {listed}", part)

    def _union(self, part: Any) -> Any:
        return _worded("must be a number or text", part)

    def _dataclass(self, part: Any) -> Any:
        names = dict.fromkeys(each.get("validation_alias", each["name"]) for each in part["schema"]["fields"])
        config = {**part.get("config", {}), "validate_by_name": True, "validate_by_alias": True}
        part = {**part, "revalidate_instances": "always", "config": config}
        return _before(partial(_members, names, self._form.null_is_absent), part)


def _before(check: Callable[[Any], Any], part: Any) -> Any:
    from pydantic_core import core_schema

    ref = part.pop("ref", None)
    return core_schema.no_info_before_validator_function(check, part, ref=ref)


def _worded(words: str, part: Any) -> Any:
    from pydantic_core import core_schema

    return core_schema.custom_error_schema(part, custom_error_type="words", custom_error_message=words)


def _members(names: dict[str, None], null_is_absent: bool, data: Any) -> Any:
    """Refuse an object with a member nobody would read: a slip of the pen must not count for nothing."""
    if not isinstance(data, Mapping):
        return data
    for name in data:
        if name not in names:
            raise InputOutOfRange(str(name)[:60], f"is not known; known are {', '.join(names)}")
    if null_is_absent:
        return {name: value for name, value in data.items() if value is not None}
    return data if isinstance(data, dict) else dict(data)


def _so_many(count: int, data: Any) -> Any:
    if not isinstance(data, (list, tuple)) or len(data) != count:
        raise InputOutOfRange("", f"must be an array of {count}, got {shown(data)}")
    return data


def _whole(data: Any) -> Any:
    """A whole number may be written as 6.0."""
    return int(data) if isinstance(data, float) and data.is_integer() else data


# -- JSON text -------------------------------------------------------------------------------------------


def read_file(path: str | Path) -> bytes:
    """Return the bytes of a file; raise InputOutOfRange with the reason where it cannot be read."""
    try:
        with Path(path).open("rb") as handle:
            return handle.read(MAX_JSON_BYTES + 1)
    except IsADirectoryError:
        raise InputOutOfRange("file", f'"{path}" is a folder, not a file') from None
    except FileNotFoundError:
        raise InputOutOfRange("file", f'there is no file "{path}"') from None
    except OSError as fault:
        raise InputOutOfRange("file", f"cannot be read: {fault.strerror or 'unknown fault'}") from None
    except ValueError as fault:  # a name no file can have
        raise InputOutOfRange("file", f"cannot be read: {fault}") from None


def loads(text: str | bytes) -> Any:
    """Return parsed JSON; anything that is not JSON of a sane size raises InputOutOfRange in one sentence."""
    if len(text) > MAX_JSON_BYTES:
        raise InputOutOfRange("file", f"must be at most {MAX_JSON_BYTES} bytes, got {len(text)}")
    try:
        return json.loads(text, **_HOOKS)
    except InputOutOfRange as refusal:
        raise InputOutOfRange("file", refusal.message + _place_of_fault(text)) from None
    except UnicodeDecodeError:
        raise InputOutOfRange("file", "must be JSON text in UTF-8") from None
    except json.JSONDecodeError as fault:
        place = f"line {fault.lineno}, column {fault.colno}"
        raise InputOutOfRange("file", f"is not JSON: {fault.msg} at {place}") from None
    except RecursionError:
        raise InputOutOfRange("file", "is nested too deeply") from None


def _place_of_fault(text: str | bytes) -> str:
    """Return at which path a hook refuses what stands there, empty where that is the whole or not known."""
    spoilt = object()

    def or_spoilt(hook: Callable[[Any], Any]) -> Callable[[Any], Any]:
        def read(part: Any) -> Any:
            try:
                return hook(part)
            except InputOutOfRange:
                return spoilt

        return read

    hooks: dict[str, Any] = {name: or_spoilt(hook) for name, hook in _HOOKS.items()}
    try:
        rest = [("", json.loads(text, **hooks))]
    except (ValueError, RecursionError):  # there is more wrong with it
        return ""
    while rest:
        path, part = rest.pop()
        if part is spoilt:
            return path and f", at {path[:200]}"
        if isinstance(part, dict):
            rest += [(below(path, name[:60]), each) for name, each in part.items()]
        elif isinstance(part, list):
            rest += [(f"{path}[{place}]", each) for place, each in enumerate(part)]
    return ""


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


#: How the parser is made to refuse what it would otherwise pass or lose.
_HOOKS: Final[dict[str, Any]] = {
    "parse_constant": _no_constant,
    "parse_float": _finite,
    "parse_int": _sane_int,
    "object_pairs_hook": _each_once,
}
