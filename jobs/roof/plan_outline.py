"""Draws the roof itself: outline, rafters, walkways, dimensions, direction of travel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from jobs.roof.layout import Box
from jobs.roof.paths import way_points
from jobs.roof.plan_canvas import Canvas
from jobs.roof.plan_key import SMALL
from jobs.roof.plan_marks import INK, SOFT, number, tag

ROOF: Final = "#f4f1ea"


def roof_outline(canvas: Canvas) -> Iterable[str]:
    roof, line = canvas.layout.roof, canvas.line
    yield canvas.rect(
        roof.box.grown(roof.edge_radius),
        rx=number(max(roof.edge_radius, 40.0)),
        fill=ROOF,
        stroke=INK,
        stroke_width=number(2.2 * line),
        class_="plan-roof",
    )
    if roof.edge_radius:
        yield canvas.rect(roof.box, stroke=SOFT, stroke_width=number(line), stroke_dasharray="60 40")
    if roof.edge_clearance or roof.front_clearance:
        clear, front = roof.edge_clearance, roof.front_clearance
        inner = Box(clear, clear, roof.length - front, roof.width - clear)
        yield canvas.rect(inner, stroke="#a9a396", stroke_width=number(line), stroke_dasharray="14 26")


def rafters(canvas: Canvas) -> Iterable[str]:
    for x in canvas.layout.roof.rafters:
        yield canvas.draw_line(
            x, 0, x, canvas.layout.roof.width, stroke="#cfc7b8", stroke_width=number(1.4 * canvas.line)
        )


def ways(canvas: Canvas) -> Iterable[str]:
    """Draw where a person walks: a broad pale band along the way that keeps widest."""
    for points in way_points(canvas.layout):
        path = " ".join(f"{number(x)},{number(canvas.y(y))}" for x, y in points)
        yield tag(
            "polyline",
            points=path,
            stroke="#d9e4d2",
            stroke_width=number(canvas.layout.roof.walkway_width * 0.55),
            stroke_linejoin="round",
            stroke_linecap="round",
            class_="plan-way",
        )


def dimensions(canvas: Canvas) -> Iterable[str]:
    """Draw length and width outside the roof, and where panels begin, where there is room for it."""
    roof, text = canvas.layout.roof, canvas.text
    low = -roof.edge_radius - 2.7 * text
    yield from _ticks(canvas, sorted({panel.box.x0 for panel in canvas.layout.panels}))
    yield canvas.draw_line(0, low, roof.length, low)
    for x in (0.0, roof.length):
        yield canvas.draw_line(x, low - 0.4 * text, x, low + 0.4 * text)
    yield canvas.word(roof.length / 2, low - 1.05 * text, canvas.length(roof.length))
    side = -roof.edge_radius - 5.6 * text
    yield canvas.draw_line(side, 0, side, roof.width)
    for y in (0.0, roof.width):
        yield canvas.draw_line(side - 0.4 * text, y, side + 0.4 * text, y)
    middle = f"rotate(-90 {number(side - 0.5 * text)} {number(canvas.y(roof.width / 2))})"
    yield canvas.word(side - 0.5 * text, roof.width / 2, canvas.length(roof.width), transform=middle)
    yield from _side_ticks(canvas, sorted({panel.box.y0 for panel in canvas.layout.panels}))


def _ticks(canvas: Canvas, places: list[float]) -> Iterable[str]:
    roof, text, last = canvas.layout.roof, canvas.text, float("-inf")
    low = -roof.edge_radius
    for x in places:
        yield canvas.draw_line(x, low - 0.1 * text, x, low - 0.6 * text, stroke=INK)
        if x - last >= 4.6 * text:
            yield canvas.word(x, low - 1.5 * text, canvas.length(x), SMALL, fill=SOFT)
            last = x


def _side_ticks(canvas: Canvas, places: list[float]) -> Iterable[str]:
    text, last = canvas.text, float("-inf")
    edge = -canvas.layout.roof.edge_radius
    for y in places:
        yield canvas.draw_line(edge - 0.1 * text, y, edge - 0.6 * text, y, stroke=INK)
        if y - last >= 1.1 * text:
            yield canvas.word(
                edge - 0.8 * text, y - 0.25 * text, canvas.length(y), SMALL, fill=SOFT, text_anchor="end"
            )
            last = y


def front(canvas: Canvas) -> Iterable[str]:
    """Draw the direction of travel."""
    roof, text = canvas.layout.roof, canvas.text
    x, y = roof.length + roof.edge_radius + 0.7 * text, roof.width / 2
    tip = x + 3.4 * text
    yield canvas.draw_line(x, y, tip - text, y, stroke=INK, stroke_width=number(3 * canvas.line))
    back, half = number(-1.2 * text), number(-0.6 * text)
    head = f"M{number(tip)} {number(canvas.y(y))}l{back} {half}v{number(1.2 * text)}z"
    yield tag("path", d=head, fill=INK)
    yield canvas.word((x + tip) / 2, y + 0.7 * text, "Front", 1.0, font_weight="700")
    yield canvas.word(
        roof.length / 2, roof.width + roof.edge_radius + 0.5 * text, "left side", SMALL, fill=SOFT
    )
