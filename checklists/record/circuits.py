"""Reads the circuit schedule as built: the sized row, what was planned, the drop measured under sun."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import sizing
from checklists.plan.roles import Role
from checklists.record.read import Work
from jobs.engine.stored import result_of

#: What a row is compared by: its name, what it is called, its unit, and the recorded values that tell it.
_COMPARED = (
    ("run_len_m", "length", "m_run", ("run_len_m",)),
    ("size", "size", "", ("size",)),
    ("fuse_a", "fuse", "A", ("fuse_a", "has_no_protection")),
)
#: Lengths that a page prints alike are alike: half of a tenth of a foot, as expected lengths are shown. [m]
_SAME_LENGTH_M = 0.016


def circuit_rows(work: Work) -> list[dict[str, Any]]:
    """Return each circuit with what was recorded of it and how that differs from the plan.

    What nobody recorded stands as planned, also where the sums of another circuit moved it.
    """
    planned = {row.id: row for row in result_of(work.checklist.run).circuits}
    rows = []
    for row in work.result.circuits:
        before = planned.get(row.id)
        differs = [] if before is None else list(_differences(work, before, row))
        rows.append(
            {
                "row": row,
                "planned": before,
                "differs": differs,
                "changed": [each["words"] for each in differs],
                "measured_v": _measured_drop(work, row.id),
                "reported": any(_is_reported(work, row.id, own) for *_, own in _COMPARED),
            }
        )
    return rows


def _differences(work: Work, before: Any, row: Any) -> Iterator[dict[str, Any]]:
    """Yield each recorded value of a circuit that is another one than planned."""
    for name, called, unit, own in _COMPARED:
        planned, built = getattr(before, name), getattr(row, name)
        if not _is_reported(work, row.id, own) or not _differs(planned, built, name):
            continue
        words = f"{called} added" if not planned else f"no {called}" if not built else called
        if name == "size":
            planned, built = before.size_words or planned, row.size_words or built
        yield {"what": called, "words": words, "unit": unit, "planned": planned, "built": built}


def _differs(planned: Any, built: Any, name: str) -> bool:
    """Return whether a value is another one than planned, beyond the digits it was shown with."""
    if name == "run_len_m" and None not in (planned, built):
        return abs(float(planned) - float(built)) > _SAME_LENGTH_M
    return bool((planned or None) != (built or None))


def _is_reported(work: Work, circuit: str, names: Iterable[str]) -> bool:
    """Return whether somebody recorded one of these values of a circuit."""
    return any(f"circuit:{circuit}.{name}" in work.checklist.as_built for name in names)


def _measured_drop(work: Work, circuit: str) -> float | None:
    """Return the drop measured on a home run under sun [V]."""
    facts = work.checklist.facts["circuit"].get(circuit, {})
    if facts.get("kind") != sizing.CircuitKind.HOME_RUN:
        return None
    serves = next((found.serves for found in work.system.circuits if found.id == circuit), "")
    for step in work.install.of_role(Role.PV_ON):
        if serves in {"", f"controller:{step.subject_name}"}:
            at = work.install.state(step)
            combiner_v, controller_v = at["combiner_v"].value, at["controller_v"].value
            if combiner_v is not None and controller_v is not None:
                return float(combiner_v) - float(controller_v)
    return None
