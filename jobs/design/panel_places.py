"""Holds the panels of a design to where panels may be stored, whichever page changed them."""

from __future__ import annotations

from jobs.design.revision import DesignRefused
from jobs.models import Design
from jobs.roof.bounds import Spot, refusal_of, roof_size, spot_of


def panel_places(design: Design) -> dict[int, Spot]:
    """Return where the stored panels of a design lie, by their numbers."""
    panels = design.panels.select_related("part__panel_sheet")
    return {panel.number: spot_of(panel) for panel in panels}


def refuse_beside(design: Design, before: dict[int, Spot]) -> None:
    """Raise DesignRefused where a panel was put wholly beside the roof or beyond any vehicle.

    ``before`` is what ``panel_places`` said before the change: what lay badly and was left, or moved nearer,
    is judged by the layout checks and not refused.
    """
    after = panel_places(design)
    words = refusal_of(after.values(), before, roof_size(design.job.survey))
    if words:
        raise DesignRefused(words)
