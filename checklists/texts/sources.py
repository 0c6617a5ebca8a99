"""Every text of the step lists and the sheet, in the language they are written in."""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from checklists.plan.templates import templates
from checklists.plan.traits import not_here_fields, reasons

_SHEET: Final = Path(__file__).parent.parent / "data" / "sheet_texts.json"
#: Keys of a step, a field or a line of a reading card that hold words.
_SAYS: Final = ("title", "instruction", "label", "fail_says", "none_says", "undecided", "says")
_PAIRS: Final = ("choices", "lines")


@functools.cache
def step_texts(version: str) -> tuple[tuple[str, str], ...]:
    """Return the texts of a version in the order of the work, each once, with the letter of its phase.

    Safety lines and what is alike on every step stand under no letter.
    """
    data = templates(version)
    found: dict[str, str] = {}
    for line in safety_texts(version):
        found.setdefault(line, "")
    for row in data["phases"]:
        found.setdefault(row["title"], row["letter"])
    for row in data["steps"]:
        for text in _of(row):
            found.setdefault(text, row["code"][0])
    for text in _of({"fields": not_here_fields(reasons())}):
        found.setdefault(text, "")
    return tuple(found.items())


def safety_texts(version: str) -> list[str]:
    """Return every safety line of a version."""
    found: list[str] = []
    for each in templates(version)["safety"].values():
        found += [each] if isinstance(each, str) else each
    return found


@functools.cache
def sheet_lines() -> tuple[str, ...]:
    """Return the lines of the care page and its like."""
    texts: Mapping[str, list[str]] = json.loads(_SHEET.read_text(encoding="utf-8"))
    return tuple(line for group in texts.values() for line in group)


def _of(row: Mapping[str, Any]) -> Iterator[str]:
    """Yield the texts of a step, field or card and of what stands inside it."""
    yield from (row[key] for key in _SAYS if row.get(key))
    for key in _PAIRS:
        yield from (text for _, text in row.get(key, ()))
    for inside in (*row.get("fields", ()), *row.get("card", ())):
        yield from _of(inside)
