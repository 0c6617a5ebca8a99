"""``python -m sizing schema``: the JSON Schema of a design or of a result, made from the classes."""

from __future__ import annotations

import dataclasses
import json
import sys
import types
from collections.abc import Sequence
from enum import StrEnum
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

from sizing.core.inputs import SystemInput
from sizing.core.results import ENGINE_VERSION, SystemResult
from sizing.files.jsonio import required_names
from sizing.files.validate import CHOICES, MAX_ROWS, MAX_TEXT, RANGES, Range
from sizing.tables import TABLES_DIR

#: The schema of a design as it is kept beside the tables, for those who do not run Python.
STORED: Final = TABLES_DIR / "design.schema.json"
DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_PLAIN: Final = {float: "number", int: "integer", str: "string", bool: "boolean"}
_ROOTS: Final = {"design": SystemInput, "result": SystemResult}


def run(argv: Sequence[str]) -> int:
    """Print one schema; ``design`` where none is named."""
    names = list(argv) or ["design"]
    if len(names) != 1 or names[0] not in _ROOTS:
        print("error: schema takes design or result", file=sys.stderr)
        return 2
    print(json.dumps(schema(names[0]), indent=1, ensure_ascii=False))
    return 0


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of ``"design"`` or ``"result"``."""
    root = _ROOTS[what]
    parts: dict[str, Any] = {}
    _add(root, parts)
    return {
        "$schema": DIALECT,
        "title": f"{what} of the sizing engine",
        "version": ENGINE_VERSION,
        "$ref": f"#/$defs/{root.__name__}",
        "$defs": dict(sorted(parts.items())),
    }


def _add(owner: Any, parts: dict[str, Any]) -> None:
    if owner.__name__ in parts:
        return
    parts[owner.__name__] = {}  # claims the name before the fields ask for it again
    hints = get_type_hints(owner)
    defaults = {each.name: each.default for each in dataclasses.fields(owner)}
    properties = {
        name: _with_default(_field(owner, name, hint, parts), defaults[name]) for name, hint in hints.items()
    }
    parts[owner.__name__] = {
        "description": _first_paragraph(owner),
        "type": "object",
        "additionalProperties": False,
        "required": list(required_names(owner)),
        "properties": properties,
    }


def _first_paragraph(owner: type) -> str:
    return " ".join((owner.__doc__ or "").split("\n\n")[0].split())


def _with_default(found: dict[str, Any], default: Any) -> dict[str, Any]:
    if isinstance(default, StrEnum):
        return {**found, "default": default.value}
    if isinstance(default, (str, int, float, bool)):
        return {**found, "default": default}
    return found


def _field(owner: type, name: str, hint: Any, parts: dict[str, Any]) -> dict[str, Any]:
    allowed: Range | None = RANGES.get(owner, {}).get(name)
    choices = CHOICES.get((owner, name))
    return _typed(hint, parts, allowed, choices)


def _typed(
    hint: Any, parts: dict[str, Any], allowed: Range | None, choices: tuple[Any, ...] | None
) -> dict[str, Any]:
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_typed(each, parts, allowed, choices) for each in inner]}
    if origin is tuple and inner[-1] is not Ellipsis:
        return {"type": "array", "prefixItems": [_typed(each, parts, allowed, None) for each in inner]}
    if origin in (tuple, frozenset):
        items = _typed(inner[0], parts, allowed, choices)
        return {"type": "array", "maxItems": MAX_ROWS, "items": items}
    if hint is type(None):
        return {"type": "null"}
    if dataclasses.is_dataclass(hint):
        _add(hint, parts)
        return {"$ref": f"#/$defs/{hint.__name__}"}  # type: ignore[union-attr]
    if issubclass(hint, StrEnum):
        return {"enum": [each.value for each in hint]}
    return _plain(hint, allowed, choices)


def _plain(kind: type, allowed: Range | None, choices: tuple[Any, ...] | None) -> dict[str, Any]:
    found: dict[str, Any] = {"type": _PLAIN[kind]}
    if choices is not None:
        return {**found, "enum": list(choices)}
    if kind is str:
        return {**found, "maxLength": MAX_TEXT}
    if allowed is None or kind is bool:
        return found
    lower = "exclusiveMinimum" if allowed.is_above else "minimum"
    found |= {lower: allowed.low, "maximum": allowed.high}
    return {**found, "description": f"[{allowed.unit}]"} if allowed.unit else found
