"""How a roof is drawn to scale: one SVG text for screen, quote and job sheet.

The view box is in millimeters, the front of the vehicle to the right. Only presentation attributes are
used, so that the same text looks the same under a strict content policy and in a PDF.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

import sizing
from jobs.roof.layout import Layout, design_layout, survey_layout
from jobs.roof.plan_canvas import Canvas
from jobs.roof.plan_key import (
    ROW,
    in_rows,
    key_entries,
    key_marks,
)
from jobs.roof.plan_obstacles import gland_marks, obstacle_marks
from jobs.roof.plan_outline import dimensions, front, rafters, roof_outline, ways
from jobs.roof.plan_panels import panel_marks, string_order
from jobs.roof.plan_wires import wire_marks, wire_words
from jobs.roof.state import RoofState, SurveyedRoof


def plan_svg(
    state: RoofState,
    *,
    shop_units: str,
    built: sizing.SystemInput | None = None,
    roof: Layout | None = None,
) -> str:
    """Return the roof plan of a design; empty text while the roof is not measured.

    ``built`` and ``roof`` as :func:`design_layout` takes them.
    """
    layout = design_layout(state, built, roof)
    if layout is None:
        return ""
    name = f"plan-{state.design_id}{'-built' if built else ''}"
    return _svg(Canvas(layout, shop_units), name)


def survey_plan_svg(surveyed: SurveyedRoof, *, shop_units: str) -> str:
    """Return the roof as surveyed, without panels; empty text while it is not measured."""
    layout = survey_layout(surveyed)
    return "" if layout is None else _svg(Canvas(layout, shop_units), f"survey-{surveyed.survey_id}")


def _svg(canvas: Canvas, name: str) -> str:
    """Return the drawing as text."""
    roof, length = canvas.layout.roof, canvas.length
    width = canvas.left + roof.length + canvas.right
    things = [part for thing in canvas.layout.obstacles for part in obstacle_marks(canvas, thing)]
    gland = list(gland_marks(canvas))  # before the key, which takes what found no place
    room = roof.length + canvas.right - 0.5 * canvas.text
    rows = in_rows([*key_entries(canvas.layout, length), *canvas.for_key], room, canvas.text)
    key = roof.edge_radius + 5.6 * canvas.text  # from the right edge down to the first row
    height = canvas.above + roof.width + key + (ROW * len(rows) - 0.4) * canvas.text
    view = f"{-canvas.left:.0f} {-canvas.above:.0f} {width:.0f} {height:.0f}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="roof-plan" viewBox="{view}" role="img"'
        f' aria-labelledby="{name}-title {name}-desc"'
        ' font-family="\'Source Sans 3\', sans-serif" fill="none">',
        f'<title id="{name}-title">{escape(_title(canvas))}</title>',
        f'<desc id="{name}-desc">{escape(_description(canvas))}</desc>',
        *roof_outline(canvas),
        *rafters(canvas),
        *ways(canvas),
        *things,
        *(part for panel in canvas.layout.panels for part in panel_marks(canvas, panel)),
        *string_order(canvas),
        *wire_marks(canvas.layout, canvas.text, canvas.line),
        *gland,
        *dimensions(canvas),
        *front(canvas),
        *key_marks(rows, roof.width + key, canvas.text, canvas.line),
        "</svg>",
    ]
    return "\n".join(parts)


def _title(canvas: Canvas) -> str:
    roof = canvas.layout.roof
    kind = "Roof plan" if canvas.layout.panels else "Roof as surveyed"
    return f"{kind}, {canvas.length(roof.length)} by {canvas.length(roof.width)}, front to the right"


def _description(canvas: Canvas) -> str:
    """Return the plan in words, for a person who does not see it."""
    said = ["Distances from the rear edge and from the right edge of the flat roof."]
    for panel in canvas.layout.panels:
        wired = f"string {panel.string}, place {panel.place}" if panel.string else "not in a string"
        said.append(
            f"Panel {panel.number}, {panel.name}, {wired}: {canvas.length(panel.box.x0)} from the rear, "
            f"{canvas.length(panel.box.y0)} from the right, {panel.feet_count} feet."
        )
    for thing in canvas.layout.obstacles:
        gone = ", to be removed" if thing.will_be_removed else ""
        rear, right = canvas.length(thing.box.x0), canvas.length(thing.box.y0)
        high = canvas.short(thing.height)
        said.append(f"{thing.name}, {high} high{gone}: {rear} from the rear, {right} from the right.")
    if canvas.layout.gland:
        x, y = canvas.layout.gland
        said.append(f"Entry gland {canvas.length(x)} from the rear, {canvas.length(y)} from the right.")
    said += wire_words(canvas.layout.wires, canvas.length)
    return " ".join(said)
