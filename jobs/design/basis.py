"""Changes what a whole revision rests on: option, rule set, gear mass, note."""

from __future__ import annotations

from common.told import in_english
from jobs.design.revision import Change, design_change
from jobs.design.rows import Row, set_fields
from jobs.models import (
    Design,
    SizingRun,
)


@in_english
def basis_change(*, design: Design, basis: Row, change: Change) -> SizingRun | None:
    """Set what the whole revision rests on: option, rule set, gear mass, note."""

    def apply(locked: Design) -> str:
        set_fields(locked, basis, {"option", "rule_set", "gear_mass_kg", "note"})
        return str(locked)

    return design_change(design, change, "design basis changed", apply)
