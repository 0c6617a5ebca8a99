"""Changes the panels of a draft design."""

from __future__ import annotations

from collections.abc import Sequence

import sizing
from common.told import in_english
from jobs.design.panel_places import panel_places, refuse_beside
from jobs.design.revision import Change, DesignRefused, design_change
from jobs.design.rows import Row, set_fields, write_rows
from jobs.models import (
    Design,
    DesignPanel,
    Part,
    SizingRun,
)
from jobs.roof.bounds import Spot, off_by, roof_size
from jobs.roof.feet import feet_needed


@in_english
def panels_change(
    *, design: Design, rows: Sequence[Row], basis: Row | None = None, change: Change
) -> SizingRun | None:
    """Set the panels of the roof; ``basis`` may set is_glued and feet_on_rafter with them.

    Raise DesignRefused where one would lie wholly beside the roof.
    """

    def apply(locked: Design) -> str:
        before = panel_places(locked)
        set_fields(locked, basis or {}, {"is_glued", "feet_on_rafter", "fastener_tested_n"})
        gone = {row["id"] for row in rows if row.get("DELETE")}
        numbers = set(locked.panels.exclude(pk__in=gone).values_list("number", flat=True))
        written = write_rows(locked, DesignPanel, rows, lambda panel: _number(panel, numbers))
        refuse_beside(locked, before)
        return f"{written} panels"

    return design_change(design, change, "panels changed", apply)


@in_english
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
    """Add ``count`` equal panels in a row, forward from a corner or leftward across the roof.

    Raise DesignRefused for a row that runs off the roof, saying how many panels of it would lie on the roof.
    """
    sheet = getattr(part, "panel_sheet", None)
    if sheet is None:
        raise DesignRefused(f"“{part.name}” has no data sheet in the catalog: its size is not known.")
    length, width = sheet.length_m, sheet.width_m
    if is_turned:
        length, width = width, length
    along, across = (length + gap_m, 0.0) if is_along else (0.0, width + gap_m)
    corners = [(x_m + along * place, y_m + across * place) for place in range(count)]
    size = (length * 1000, width * 1000)
    _refuse_long_row(design, [Spot(0, (x * 1000, y * 1000), size) for x, y in corners])
    feet = feet_needed(sheet.length_m, sheet.width_m)
    rows = [
        {
            "id": None,
            "part": part,
            "x_m": round(x, 4),
            "y_m": round(y, 4),
            "is_turned": is_turned,
            "feet": feet,
        }
        for x, y in corners
    ]
    return panels_change(design=design, rows=rows, change=change)


def _refuse_long_row(design: Design, row: Sequence[Spot]) -> None:
    """Refuse a row that ends beside the roof, saying how far it reaches and how many lie on the roof."""
    roof = roof_size(design.job.survey)
    on_roof = [spot for spot in row if not off_by(spot, roof)]
    if not on_roof or len(on_roof) == len(row) or row[-1].size is None:
        return  # a corner beside the roof is told by the rule for every panel
    axis = 0 if row[-1].corner[0] != row[0].corner[0] else 1
    reach, limit = row[-1].corner[axis] + row[-1].size[axis], roof[axis]
    edge = "of any vehicle" if limit is None else f"of this roof, {_long(limit)}"
    raise DesignRefused(
        f"How many: a row of {len(row)} panels from this corner reaches {_long(reach)}, "
        f"beyond the end {edge}; {len(on_roof)} of them touch the roof. Nothing was placed."
    )


def _long(length_mm: float) -> str:
    return sizing.show_both(length_mm / 1000, "m", 2)


def _number(panel: DesignPanel, taken: set[int]) -> None:
    """Give a new panel the lowest free number."""
    if panel.pk is None:
        panel.number = next(number for number in range(1, len(taken) + 2) if number not in taken)
        taken.add(panel.number)
