"""Changes the panels of a draft design."""

from __future__ import annotations

from collections.abc import Sequence

from jobs.design.revision import Change, DesignRefused, design_change
from jobs.design.rows import Row, set_fields, write_rows
from jobs.models import (
    Design,
    DesignPanel,
    Part,
    SizingRun,
)
from jobs.roof.feet import feet_needed


def panels_change(
    *, design: Design, rows: Sequence[Row], basis: Row | None = None, change: Change
) -> SizingRun | None:
    """Set the panels of the roof; ``basis`` may set is_glued and feet_on_rafter with them."""

    def apply(locked: Design) -> str:
        set_fields(locked, basis or {}, {"is_glued", "feet_on_rafter", "fastener_tested_n"})
        gone = {row["id"] for row in rows if row.get("DELETE")}
        numbers = set(locked.panels.exclude(pk__in=gone).values_list("number", flat=True))
        written = write_rows(locked, DesignPanel, rows, lambda panel: _number(panel, numbers))
        return f"{written} panels"

    return design_change(design, change, "panels changed", apply)


def panels_place_row(
    *,
    design: Design,
    part: Part,
    count: int,
    x_m: float,
    y_m: float,
    gap_m: float,
    is_turned: bool,
    is_along: bool,
    change: Change,
) -> SizingRun | None:
    """Add ``count`` equal panels in a row, forward from a corner or leftward across the roof."""
    sheet = getattr(part, "panel_sheet", None)
    if sheet is None:
        raise DesignRefused(f"“{part.name}” has no data sheet in the catalogue: its size is not known.")
    length, width = sheet.length_m, sheet.width_m
    if is_turned:
        length, width = width, length
    step = (length if is_along else width) + gap_m
    rows = [
        {
            "id": None,
            "part": part,
            "x_m": round(x_m + (step * place if is_along else 0.0), 4),
            "y_m": round(y_m + (0.0 if is_along else step * place), 4),
            "is_turned": is_turned,
            "feet": feet_needed(sheet.length_m, sheet.width_m),
        }
        for place in range(count)
    ]
    return panels_change(design=design, rows=rows, change=change)


def _number(panel: DesignPanel, taken: set[int]) -> None:
    """Give a new panel the lowest free number."""
    if panel.pk is None:
        panel.number = next(number for number in range(1, len(taken) + 2) if number not in taken)
        taken.add(panel.number)
