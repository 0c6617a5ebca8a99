"""Shapes what the roof workspace shows: the layout a page may change, and the live answer to one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import sizing
from common import units as trade
from jobs.engine.state import DesignState
from jobs.engine.system import system_input
from jobs.models import Part, Shop
from jobs.parts.panel_model import PanelModel
from jobs.roof.checks import layout_findings
from jobs.roof.feet import feet_needed
from jobs.roof.layout import ON_RAFTER_MM, Layout, design_layout, survey_layout
from jobs.roof.state import RoofState
from jobs.shop.refusals import Refusal
from jobs.workspace.obstacle_text import obstacle_differences
from jobs.workspace.obstacles import gland_state, obstacles_json
from jobs.workspace.wire_path import bends_state, path_state
from jobs.workspace.wire_text import wire_rows

V = sizing.Verdict
_WORST_FIRST = (V.BLOCK, V.NOT_ENOUGH_DATA, V.CAUTION, V.PASS)


def panel_parts(shop: Shop, used: Iterable[Part] = ()) -> dict[int, Part]:
    """Return the panels a roof may carry: the shop's with a data sheet, and those already on it."""
    active = Part.objects.of_shop(shop).filter(kind=Part.Kind.PANEL, is_active=True)
    known = {part.pk: part for part in active.select_related("panel_sheet")}
    known |= {part.pk: part for part in used}
    return {pk: part for pk, part in known.items() if getattr(part, "panel_sheet", None) is not None}


def layout_state(roof: RoofState) -> dict[str, Any]:
    """Return panels, strings, wire and obstacles in the shape the workspace sends back."""
    panels = [
        {
            "number": panel.number,
            "part": panel.model.part_id,
            "x_mm": _mm(panel.x_m),
            "y_mm": _mm(panel.y_m),
            "turned": panel.is_turned,
            "height_mm": _mm(panel.height_above_roof_m),
            "feet": panel.feet,
            "fasteners": panel.fasteners_per_foot,
            **({"box_far": True} if panel.box_is_far else {}),
        }
        for panel in roof.panels
    ]
    return {
        "panels": panels,
        "strings": _strings_state(roof),
        "obstacles": obstacles_json(roof.surveyed),
        "path": {**path_state(roof), "gland": gland_state(roof.surveyed)},
    }


def _strings_state(roof: RoofState) -> list[dict[str, Any]]:
    rows = [
        {
            "panels": [panel.number for panel in roof.panels_of(string.number)],
            "controller": string.controller,
            "fuse_a": string.fuse_a,
            **({"lead": bends_state(string.lead_bends_m)} if string.lead_bends_m else {}),
        }
        for string in roof.strings
    ]
    return [row for row in rows if row["panels"]]


def roof_facts(roof: RoofState, models: Iterable[PanelModel]) -> dict[str, Any]:
    """Return what does not move while panels are laid: roof, catalog, controllers."""
    layout = survey_layout(roof.surveyed)
    return {
        "roof": None if layout is None else _roof(layout),
        "parts": [_part(model) for model in models],
        "controllers": [one.label for one in roof.controllers],
    }


def _roof(layout: Layout) -> dict[str, Any]:
    roof = layout.roof
    return {
        "length": roof.length,
        "width": roof.width,
        "edge": roof.edge_clearance,
        "walkway": roof.walkway_width,
        "front": roof.front_clearance,
        "rafters": list(roof.rafters),
    }


def _part(model: PanelModel) -> dict[str, Any]:
    sheet = model.sheet
    return {
        "id": model.part_id,
        "name": model.name,
        "length_mm": _mm(sheet.length_m),
        "width_mm": _mm(sheet.width_m),
        "box": sheet.box_place,
        "feet": feet_needed(sheet.length_m, sheet.width_m),
    }


def _mm(value_m: float) -> float:
    return round(value_m * 1000, 1)


def live_answer(design: DesignState) -> dict[str, Any]:
    """Return what a layout held in memory means: rules, feet, holes and the string plan's verdicts."""
    layout = design_layout(design.roof)
    if layout is None:
        return {"rules": [], "feet": [], "strings": None}
    rules = [finding for finding in layout_findings(layout) if finding.check.verdict != V.PASS]
    rules.sort(key=lambda finding: _WORST_FIRST.index(finding.check.verdict))
    return {
        "rules": [{**_worded(finding.check), "panels": list(finding.panels)} for finding in rules],
        "feet": _feet(layout),
        "feet_on_rafter": layout.feet_near_rafters,
        "feet_count": sum(panel.feet_count for panel in layout.panels),
        **_sized(design),
    }


def _feet(layout: Layout) -> list[list[float]]:
    """Return each drawn foot: panel, x, y [mm], and 1 where it stands on a rafter."""
    return [
        [panel.number, round(x, 1), round(y, 1), _stands(x, layout.roof.rafters)]
        for panel in layout.panels
        for x, y in panel.feet
    ]


def _stands(x: float, rafters: Iterable[float]) -> int:
    return int(any(abs(x - rafter) <= ON_RAFTER_MM for rafter in rafters))


def _sized(design: DesignState) -> dict[str, Any]:
    """Return what the sizing face says of strings, roof and weight; the reason where it cannot be asked."""
    try:
        result = sizing.size_system(system_input(design.roof, design.system))
    except (Refusal, sizing.InputOutOfRange) as problem:
        return {"strings": None, "unsized": str(problem)}
    wired = [check for check in result.checks if _is_about_strings(check)]
    roof = [
        check for check in result.checks if check.subject in {"roof", "weight"} and check.verdict != V.PASS
    ]
    worst = min((check.verdict for check in wired), key=_WORST_FIRST.index, default=None)
    return {
        "strings": None
        if worst is None
        else {
            "verdict": str(worst),
            "count": len(wired),
            "said": [_worded(check) for check in _sorted(wired) if check.verdict != V.PASS],
        },
        "roof": [_worded(check) for check in _sorted(roof)],
        "wires": wire_rows(design, result),
        "unsized": "",
    }


def _is_about_strings(check: sizing.Check) -> bool:
    return check.subject.startswith(("string:", "controller:"))


def _sorted(checks: Iterable[sizing.Check]) -> list[sizing.Check]:
    return sorted(checks, key=lambda check: _WORST_FIRST.index(check.verdict))


def _worded(check: sizing.Check) -> dict[str, Any]:
    return {
        "key": check.key,
        "subject": check.subject,
        "verdict": str(check.verdict),
        "title": check.title,
        "sentence": check.sentence,
    }


def differences(mine: Mapping[str, Any], theirs: Mapping[str, Any], units: str) -> list[str]:
    """Return in plain sentences where a stored layout differs from the one that was sent."""
    my = {row["number"]: row for row in mine["panels"]}
    sentences = []
    for row in theirs["panels"]:
        own = my.pop(row["number"], None)
        if own is None:
            sentences.append(f"Panel {row['number']} is on their roof, not on yours.")
            continue
        if (row["x_mm"], row["y_mm"], row["turned"]) != (own["x_mm"], own["y_mm"], own["turned"]):
            sentences.append(
                f"Panel {row['number']}: theirs {_place(row, units)}; yours {_place(own, units)}."
            )
        elif row != own:
            sentences.append(f"Panel {row['number']} differs in its part, height or feet.")
    sentences += [f"Panel {number} is on your roof, not on theirs." for number in my]
    if theirs["strings"] != mine.get("strings", []):
        sentences.append("The strings are wired differently.")
    sentences += obstacle_differences(mine, theirs, units)
    if "path" in mine and mine["path"] != theirs["path"]:
        sentences.append("The wire path or the gland is in a different place.")
    return sentences


def _place(row: Mapping[str, Any], units: str) -> str:
    rear, right = (trade.show(row[axis] / 1000, "m", units) for axis in ("x_mm", "y_mm"))
    return f"{rear} from the rear, {right} from the right{', turned' if row['turned'] else ''}"
