"""Draws the panels of a roof, and the order in which each string joins them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from jobs.roof.layout import Box, PanelShape
from jobs.roof.order import string_legs
from jobs.roof.plan_canvas import Canvas
from jobs.roof.plan_key import SMALL, wide
from jobs.roof.plan_marks import GLASS, INK, PAPER, number, string_style, tag


def panel_marks(canvas: Canvas, panel: PanelShape) -> Iterable[str]:
    colour, pattern = string_style(panel.string)
    yield f'<g class="plan-panel" data-panel="{panel.number}">'
    yield canvas.rect(panel.box, fill=GLASS)
    yield _cells(canvas, panel)
    yield canvas.rect(
        panel.box,
        stroke=colour,
        stroke_width=number(3.6 * canvas.line),
        **({"stroke_dasharray": pattern} if pattern else {}),
    )
    for x, y in panel.feet:
        yield canvas.rect(Box(x - 32, y - 32, x + 32, y + 32), fill=INK, class_="plan-foot")
    if panel.box_at:
        x, y = panel.box_at
        side = Box(x - 45, y - 45, x + 45, y + 45)
        yield canvas.rect(
            side, fill=PAPER, stroke=INK, stroke_width=number(1.4 * canvas.line), class_="plan-box"
        )
    yield from _panel_label(canvas, panel, colour)
    yield "</g>"


def _panel_label(canvas: Canvas, panel: PanelShape, colour: str) -> Iterable[str]:
    """Write the number and, where the panel has room for it, the string; the key has every string."""
    (x, y), text = panel.box.middle, canvas.text
    (half, high), wired = _label_half(canvas, panel), _wired(panel)
    label = Box(x - half, y - high, x + half, y + high)
    yield canvas.rect(label, fill=PAPER, rx=number(0.2 * text), fill_opacity="0.92")
    drop = 0.45 * text if high < text else -0.15 * text
    yield canvas.word(x, y - drop, str(panel.number), 1.3, font_weight="700", fill=colour)
    if high > text:
        yield canvas.word(x, y - 0.95 * text, wired, SMALL, fill=colour)


def _label_half(canvas: Canvas, panel: PanelShape) -> tuple[float, float]:
    """Return half the length and height of the label on the middle of a panel [mm]."""
    half, text = wide(canvas.text, _wired(panel)) / 2 + 0.1 * canvas.text, canvas.text
    if half <= 0.46 * panel.box.length and 1.3 * text <= 0.46 * panel.box.width:
        return half, 1.3 * text
    digits = 0.45 * text * len(str(panel.number)) + 0.2 * text
    return min(digits, 0.46 * panel.box.length), min(0.75 * text, 0.46 * panel.box.width)


def string_order(canvas: Canvas) -> Iterable[str]:
    """Draw the order of every string: a line in its color and pattern from panel to panel."""
    half = {panel.number: _label_half(canvas, panel) for panel in canvas.layout.panels}
    legs = list(string_legs(canvas.layout.panels, half))
    if not legs:
        return
    yield '<g class="plan-order">'
    for leg in legs:
        colour, pattern = string_style(leg.string)
        style: dict[str, Any] = {"stroke": colour, "stroke_width": number(2.6 * canvas.line)}
        if pattern:
            style["stroke_dasharray"] = pattern
        yield canvas.draw_line(*leg.start, *leg.end, stroke=PAPER, stroke_width=number(5.2 * canvas.line))
        yield canvas.draw_line(*leg.start, *leg.end, **style)
        yield tag("path", d=_arrow_head(canvas, leg.start, leg.end), fill=colour, stroke=PAPER)
    yield "</g>"


def _arrow_head(canvas: Canvas, start: tuple[float, float], end: tuple[float, float]) -> str:
    """Return the path of an arrow head that ends a line given in roof coordinates."""
    long, wide = 0.62 * canvas.text, 0.3 * canvas.text
    reach = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / reach, (end[1] - start[1]) / reach
    x, y = end[0] - long * ux, end[1] - long * uy
    corners = (end, (x - wide * uy, y + wide * ux), (x + wide * uy, y - wide * ux))
    return "M" + "L".join(f"{number(a)} {number(canvas.y(b))}" for a, b in corners) + "z"


def _cells(canvas: Canvas, panel: PanelShape) -> str:
    """Return the lines between cells, which show which way the cell strings run."""
    box, moves = panel.box, []
    for step in range(1, panel.cells_along):
        x = box.x0 + box.length * step / panel.cells_along
        moves.append(f"M{number(x)} {number(canvas.y(box.y0))}V{number(canvas.y(box.y1))}")
    for step in range(1, panel.cells_across):
        y = box.y0 + box.width * step / panel.cells_across
        moves.append(f"M{number(box.x0)} {number(canvas.y(y))}H{number(box.x1)}")
    return tag("path", d="".join(moves) or "M0 0", stroke="#b9c6d1", stroke_width=number(0.8 * canvas.line))


def _wired(panel: PanelShape) -> str:
    return f"string {panel.string}" if panel.string else "no string"
