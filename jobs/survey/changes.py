"""What one saving of a survey page changes: the form says it, the service does it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class RowChanges:
    """What happens to the rows of one list: these are written, those go."""

    write: tuple[tuple[Any, dict[str, Any]], ...] = ()  # (key, columns)
    remove: tuple[Any, ...] = ()


@dataclass(frozen=True)
class PartChanges:
    """What one saving of a page changes; only what the person touched is named."""

    survey: dict[str, Any] = field(default_factory=dict)
    vehicle: dict[str, Any] = field(default_factory=dict)
    rows: dict[str, RowChanges] = field(default_factory=dict)
    guesses: dict[str, bool] = field(default_factory=dict)  # word: marked or not
    absent: dict[str, bool] = field(default_factory=dict)  # kind: looked for and not there
    flags: dict[str, str] = field(default_factory=dict)  # fact: what was confirmed; empty text takes it away
    labels: tuple[str, ...] = ()  # for the log
