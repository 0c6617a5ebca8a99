"""The content a customer is shown on the tablet at the hand-over, and the hash a signature is bound to.

The tablet makes the same rows from the same events (``static/js/tablet/rules/hand_over.js``). Only lists,
texts and the bits of numbers go in, so that no way of writing a number can make two hashes of one content.
Pure.
"""

from __future__ import annotations

import hashlib
import json
import struct
from collections.abc import Iterator
from typing import Any, Final

from checklists.rules.entries import spec_named
from checklists.rules.ink import is_ink
from checklists.rules.install import Install, StepInfo
from checklists.rules.reducer import Event

FORM: Final = "hand-over 1"


class UnreadableContent(ValueError):
    """What came as the content shown is not of this form."""


def recorded_rows(install: Install) -> list[list[str]]:
    """Return every value and note that stands, in order: code, title, label, value, unit, id."""
    return [row for step in install.in_scope for row in _rows(install, step)]


def _rows(install: Install, step: StepInfo) -> Iterator[list[str]]:
    state = install.state(step)
    for name in sorted(state.fields):
        spec = spec_named(step.specs, name)
        for event in state.fields[name].standing:
            label, unit = (name, "") if spec is None else (spec.label, spec.unit)
            yield [step.code, step.title, label, bits(event), unit, str(event.id)]
    for event in state.notes:
        yield [step.code, step.title, "Note", bits(event), "", str(event.id)]


def bits(event: Event) -> str:
    """Return a value as text that has one form only; a number as the sixteen digits of its double."""
    value = event.value
    if event.photo is not None:
        return "photo"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return "f:" + struct.pack(">d", float(value)).hex()
    if is_ink(value):
        return f"i:{value['name']}\n{value['ink']}"
    return "" if value is None else f"s:{value}"


def content_of(text: str) -> dict[str, Any]:
    """Return the content a tablet says it showed; raise UnreadableContent when it has another form."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise UnreadableContent("The content shown cannot be read.") from None
    if not isinstance(data, list) or len(data) != 5 or data[0] != FORM:
        raise UnreadableContent(f"The content shown must be a list that begins with “{FORM}”.")
    _, head, rows, still_open, texts = data
    is_rows = isinstance(rows, list) and all(isinstance(row, list) and len(row) == 6 for row in rows)
    if not is_rows or not all(_is_texts(part) for part in (head, still_open, texts)):
        raise UnreadableContent("The content shown holds head, rows, open things and texts, each a list.")
    return {"head": head, "rows": rows, "open": still_open, "texts": texts}


def _is_texts(part: Any) -> bool:
    return isinstance(part, list) and all(isinstance(text, str) for text in part)


def sha256_of(text: str) -> str:
    """Return the hash of the content as it was shown."""
    return hashlib.sha256(text.encode()).hexdigest()
