"""Draws the roof as built, or reads the drawing stored at the last change of a value."""

from __future__ import annotations

from checklists.models import Checklist
from jobs.engine.stored import design_in_full
from jobs.engine.system import built_input
from jobs.roof.frozen import roof_from_json
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state


def roof_plan(checklist: Checklist) -> str:
    """Return the roof as built as SVG text; drawn anew where the shop has changed its units since."""
    units = checklist.job.shop.units
    return checklist.plan_svg if checklist.plan_units == units else drawn(checklist, units)


def drawn(checklist: Checklist, units: str) -> str:
    """Draw the roof as accepted with what was built; as planned where that cannot be worked out together."""
    values = {} if checklist.as_built_problem else checklist.as_built
    return plan_svg(
        roof_state(design_in_full(checklist.design_id)),
        shop_units=units,
        built=built_input(checklist.run, values) if values else None,
        roof=roof_from_json(checklist.facts.get("roof_as_surveyed")),
    )
