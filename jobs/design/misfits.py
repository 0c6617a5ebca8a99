"""Says in plain sentences what of another vehicle's design does not fit this one; without costs."""

from __future__ import annotations

from typing import Any, Final

import sizing
from jobs.models import Design, ExistingItem, Part
from jobs.roof.checks import layout_findings
from jobs.roof.layout import design_layout
from jobs.roof.read import roof_state

#: More sentences on the roof than this say the same thing: the panels have to be placed anew.
MOST_OF_THE_ROOF: Final = 8


def layout_words(design: Design) -> list[str]:
    """Return what blocks or cautions the panels where they came to lie on this roof."""
    if not design.panels.all():
        return []
    layout = design_layout(roof_state(design))
    if layout is None:
        return ["The roof of this vehicle is not measured: whether the panels fit on it is not known yet."]
    worst_first = (sizing.Verdict.BLOCK, sizing.Verdict.CAUTION)
    found = [finding.check for finding in layout_findings(layout) if finding.check.verdict in worst_first]
    found.sort(key=lambda check: worst_first.index(check.verdict))
    words = [check.sentence for check in found]
    if len(words) > MOST_OF_THE_ROOF:
        more = len(words) - MOST_OF_THE_ROOF
        words = [*words[:MOST_OF_THE_ROOF], f"There are {more} more like these: place the panels anew."]
    return words


def vehicle_words(like: Design, design: Design) -> list[str]:
    """Return what the two vehicles have not in common: volts, shore service."""
    words = []
    then, now = like.job.survey.v_nominal_v, design.job.survey.v_nominal_v
    if then != now:
        words.append(
            f"The other vehicle has {then} V, this one {now} V: choose batteries, inverter, controllers"
            " and chargers anew."
        )
    theirs, ours = _shore_a(like), _shore_a(design)
    if theirs is not None and theirs != ours and hasattr(like, "inverter"):
        here = "none that was surveyed" if ours is None else f"{ours:g} A"
        words.append(
            f"The other vehicle has shore service of {theirs:g} A, this one {here}: check what the inverter"
            " may take in."
        )
    return words


def parts_words(like: Design) -> list[str]:
    """Return which parts the shop does not carry any more."""
    gone = sorted({part.name for part in parts_of(like) if not part.is_active})
    return [f"{name} is no longer in the catalog's list: choose another part." for name in gone]


def parts_of(design: Design) -> list[Part]:
    """Return the parts of a design read in full, one for each place they have in it."""
    rows: list[Any] = [*design.panels.all(), *design.controllers.all(), *design.sources.all()]
    rows += [row for name in ("bank", "inverter") if (row := getattr(design, name, None)) is not None]
    return [row.part for row in rows if row.part is not None]


def _shore_a(design: Design) -> float | None:
    """Return the amps of the surveyed shore service; None where there is none or nobody read it."""
    found = design.job.survey.existing_items.all()
    amps = [item.rating_a for item in found if item.kind == ExistingItem.Kind.SHORE and item.rating_a]
    return max(amps, default=None)
