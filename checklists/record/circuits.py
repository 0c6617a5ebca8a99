"""Reads the circuit schedule as built: the sized row, what was planned, the drop measured under sun."""

from __future__ import annotations

from typing import Any

import sizing
from checklists.plan.roles import Role
from checklists.record.read import Work
from jobs.engine.stored import result_of

#: What a row is compared by, with the words for it.
_COMPARED = (("run_len_m", "length"), ("size", "size"), ("fuse_a", "fuse"))


#: Lengths that a page prints alike are alike: half of a tenth of a foot, as expected lengths are shown. [m]
_SAME_LENGTH_M = 0.016


def circuit_rows(work: Work) -> list[dict[str, Any]]:
    """Return each circuit as built with the names of what differs from the plan."""
    planned = {row.id: row for row in result_of(work.checklist.run).circuits}
    rows = []
    for row in work.result.circuits:
        before = planned.get(row.id)
        changed = [
            words
            for name, words in _COMPARED
            if before is not None and _differs(getattr(before, name), getattr(row, name), name)
        ]
        rows.append(
            {
                "row": row,
                "planned": before,
                "changed": changed,
                "measured_v": _measured_drop(work, row.id),
                "reported": _is_reported(work, row.id),
            }
        )
    return rows


def _differs(planned: Any, built: Any, name: str) -> bool:
    """Return whether a value is another one than planned, beyond the digits it was shown with."""
    if name == "run_len_m" and None not in (planned, built):
        return abs(float(planned) - float(built)) > _SAME_LENGTH_M
    return bool(planned != built)


def _is_reported(work: Work, circuit: str) -> bool:
    """Return whether somebody measured this run; a row nobody measured still prints the plan."""
    return f"circuit:{circuit}.run_len_m" in work.checklist.as_built


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
