"""Draws the roof as built, or reads the drawing stored at the last change of a value."""

from __future__ import annotations

from typing import Any

import sizing
from checklists.models import Checklist
from jobs.engine.stored import design_in_full
from jobs.engine.system import built_input
from jobs.roof.frozen import roof_from_json
from jobs.roof.layout import design_layout
from jobs.roof.measures import roof_measures
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state


def roof_plan(checklist: Checklist) -> str:
    """Return the roof as built as SVG text; drawn anew where the shop has changed its units since."""
    units = checklist.job.shop.units
    return checklist.plan_svg if checklist.plan_units == units else drawn(checklist, units)


def drawn(checklist: Checklist, units: str) -> str:
    """Draw the roof as accepted with what was built; as planned where that cannot be worked out together."""
    return plan_svg(
        roof_state(design_in_full(checklist.design_id)),
        shop_units=units,
        built=_built(checklist),
        roof=roof_from_json(checklist.facts.get("roof_as_surveyed")),
    )


def roof_measured(checklist: Checklist) -> dict[str, Any] | None:
    """Return what is measured out on this roof, as data; None while it is not measured."""
    layout = design_layout(
        roof_state(design_in_full(checklist.design_id)),
        _built(checklist),
        roof_from_json(checklist.facts.get("roof_as_surveyed")),
    )
    return None if layout is None else roof_measures(layout, checklist.job.shop.units)


def _built(checklist: Checklist) -> sizing.SystemInput | None:
    values = {} if checklist.as_built_problem else checklist.as_built
    return built_input(checklist.run, values) if values else None
