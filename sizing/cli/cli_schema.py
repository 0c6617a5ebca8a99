"""Prints the JSON Schema of a design or of a result, made from the classes: ``python -m sizing schema``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sizing.core.printing import print_json, refuse
from sizing.core.results import ENGINE_VERSION
from sizing.files.jsonio import RESULT
from sizing.files.validate import DESIGN
from sizing.tables import TABLES_DIR

#: The schema of a design as it is kept beside the tables, for those who do not run Python.
STORED: Final = TABLES_DIR / "design.schema.json"
DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_FORMS: Final = {"design": DESIGN, "result": RESULT}


def run(argv: Sequence[str]) -> int:
    """Print one schema; ``design`` where none is named."""
    names = list(argv) or ["design"]
    if len(names) != 1 or names[0] not in _FORMS:
        return refuse("schema takes design or result")
    print_json(schema(names[0]))
    return 0


def schema(what: str) -> dict[str, Any]:
    """Return the JSON Schema of ``"design"`` or ``"result"``."""
    from pydantic.json_schema import GenerateJsonSchema

    class Plain(GenerateJsonSchema):
        """Leaves out titles that repeat the name of a field; says that no other member is known."""

        def field_title_should_be_set(self, schema: Any) -> bool:
            return False

        def dataclass_schema(self, schema: Any) -> dict[str, Any]:
            made = super().dataclass_schema(schema)
            words = " ".join(made.get("description", "").split())
            return {"required": [], **made, "description": words, "additionalProperties": False}

    roots, parts = Plain().generate_definitions([(what, "validation", _FORMS[what].core_schema)])
    return {
        "$schema": DIALECT,
        "title": f"{what} of the sizing engine",
        "version": ENGINE_VERSION,
        **roots[what, "validation"],
        "$defs": dict(sorted(parts.items())),
    }
