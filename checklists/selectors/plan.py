"""Knows where the drawing of the roof as built comes from: stored at the last change of a value."""

from __future__ import annotations

from checklists.models import Checklist
from jobs.roof_plan import plan_svg
from jobs.selectors.design import design_in_full


def roof_plan(checklist: Checklist) -> str:
    """Return the roof as built as SVG text; drawn anew where the shop has changed its units since."""
    units = checklist.job.shop.units
    if checklist.plan_units == units:
        return checklist.plan_svg
    built = None if checklist.as_built_problem else checklist.as_built
    return plan_svg(design_in_full(checklist.design_id), shop_units=units, as_built=built or None)
