"""The pull list for the office: what is loaded, what is missing, and a shortage that was settled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from checklists.models import Checklist
from checklists.record.events import Recorded, RecordRefused, events_record
from checklists.record.loads import Missing, job_loads
from checklists.record.pull import GROUPS, PullLine, pull_list
from checklists.rules.entries import Entry
from checklists.rules.job_entries import SETTLED_LENGTH
from checklists.rules.loads import SHORT
from checklists.rules.reducer import FieldState
from common.told import in_english


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One line of the pull list as it stands."""

    line: PullLine
    state: FieldState | None

    @property
    def is_loaded(self) -> bool:
        """Return whether all of it is loaded."""
        loaded = self.state.value if self.state else None
        return loaded is not None and loaded >= self.line.quantity - 1e-6


def loads_page(checklist: Checklist) -> dict[str, Any]:
    """Return what the page of the pull list prints."""
    lines, loads = pull_list(checklist), job_loads(checklist)
    rows = [LoadRow(line, loads.loaded.get(line.key)) for line in lines]
    by_key = {line.key: line for line in lines}
    return {
        "groups": [(words, [row for row in rows if row.line.group == name]) for name, words in GROUPS],
        "done": sum(row.is_loaded for row in rows),
        "total": len(rows),
        "missing": [Missing(one, by_key.get(one.key)) for one in loads.open_shortages],
    }


@in_english
def shortage_settle(
    *, checklist: Checklist, key: str, note: str, submission: UUID, actor: User, at: datetime
) -> Recorded:
    """Settle a shortage, saying how; the same form twice is once."""
    found = next((one for one in job_loads(checklist).open_shortages if one.key == key), None)
    if len(note.strip()) < SETTLED_LENGTH:
        raise RecordRefused("Please say how it was settled.")
    entry = Entry(
        id=submission, step=0, verb=SHORT, field=key, value={"missing": 0, "note": note.strip()},
        replaces=found.ids if found else (), claimed_at=at,
    )  # fmt: skip
    return events_record(checklist=checklist, entries=[entry], actor=actor, at=at)
