"""Keeps a design for the length of a drag: the page asks many times a second, the records rest.

What is kept is a copy of a few seconds, bound to the state of the revision; every drop reads anew. Nothing
that is stored ever comes from it, and who may see the design is asked every time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.core.cache import caches
from django.db.models import QuerySet

from jobs.engine.state import DesignState, design_state
from jobs.engine.stored import design_in_full
from jobs.models import Design
from jobs.parts.panel_model import PanelModel, panel_models
from jobs.workspace.state import panel_parts

#: A copy is used for so long at most: survey and catalog may have moved on. [s]
KEPT_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class Dragged:
    """A design as plain data, and the panels it may carry by the key of their part."""

    design: DesignState
    models: dict[int, PanelModel]


def dragged_design(designs: QuerySet[Design], pk: int, *, is_fresh: bool) -> Dragged:
    """Return a design to try layouts on; raise Design.DoesNotExist. ``is_fresh`` reads the records anew."""
    key = f"drag:{pk}:{designs.values_list('edit_count', flat=True).get(pk=pk)}"
    kept = None if is_fresh else caches["local"].get(key)
    if isinstance(kept, Dragged):
        return kept
    read = read_design(design_in_full(pk))
    caches["local"].set(key, read, KEPT_S)
    return read


def read_design(design: Design) -> Dragged:
    """Return a design that was read in full as plain data, and the panels it may carry."""
    parts = panel_parts(design.job.shop, (panel.part for panel in design.panels.all()))
    return Dragged(design_state(design), panel_models(parts.values()))
