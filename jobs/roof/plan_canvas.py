"""The paper a roof plan is drawn on: sizes, simple marks in roof coordinates, places for labels."""

from __future__ import annotations

from typing import Any

from common import units as trade
from jobs.roof.layout import Box, Layout
from jobs.roof.plan_key import Entry
from jobs.roof.plan_marks import INK, SOFT, number, tag


class Canvas:
    """The paper of one drawing: sizes that follow the length of the roof, simple marks, places for labels.

    Marks are placed in roof coordinates [mm]: x from the rear, y from the right edge. ``for_key`` holds what
    found no place on the roof.
    """

    def __init__(self, layout: Layout, units: str) -> None:
        self.layout, self.units = layout, units
        roof = layout.roof
        radius = roof.edge_radius
        self.text = max(90.0, (roof.length + 2 * radius) / 42)
        self.line = max(4.0, roof.length / 1400)
        self.left, self.right = radius + 7.4 * self.text, radius + 4.6 * self.text
        self.above = radius + 1.8 * self.text
        self.taken = [panel.box for panel in layout.panels] + [thing.box for thing in layout.obstacles]
        self.taken += [mark] if (mark := self.gland_area()) else []
        self.for_key: list[Entry] = []

    def gland_area(self) -> Box | None:
        """Return what the mark of the entry gland covers."""
        if self.layout.gland is None:
            return None
        x, y = self.layout.gland
        return Box(x, y, x, y).grown(0.55 * self.text)

    def length(self, value_mm: float) -> str:
        """Return a length of the roof in the shop's units."""
        return trade.show(value_mm / 1000, "m", self.units)

    def short(self, value_mm: float) -> str:
        """Return a small length in the shop's units."""
        return trade.show(value_mm, "mm", self.units)

    def y(self, y: float) -> float:
        """Return the drawing's y: the left side of the vehicle is up."""
        return self.layout.roof.width - y

    def rect(self, area: Box, **attributes: Any) -> str:
        """Return a rectangle."""
        return tag(
            "rect",
            x=number(area.x0),
            y=number(self.y(area.y1)),
            width=number(max(area.length, 0.0)),
            height=number(max(area.width, 0.0)),
            **attributes,
        )

    def outline(self, area: Box, is_round: bool, **attributes: Any) -> str:
        """Return a rectangle, or the ellipse inside it."""
        if not is_round:
            return self.rect(area, **attributes)
        x, y = area.middle
        return tag(
            "ellipse",
            cx=number(x),
            cy=number(self.y(y)),
            rx=number(area.length / 2),
            ry=number(area.width / 2),
            **attributes,
        )

    def draw_line(self, x0: float, y0: float, x1: float, y1: float, **attributes: Any) -> str:
        """Return a line given in roof coordinates."""
        style = {"stroke": SOFT, "stroke_width": number(self.line)} | attributes
        ends = {"x1": x0, "y1": self.y(y0), "x2": x1, "y2": self.y(y1)}
        return tag("line", **{name: number(at) for name, at in ends.items()}, **style)

    def word(self, x: float, y: float, text: str, size: float = 1.0, **attributes: Any) -> str:
        """Return a text whose place is given in roof coordinates."""
        style = {"fill": INK, "font_size": number(self.text * size), "text_anchor": "middle"} | attributes
        return tag("text", text, x=number(x), y=number(self.y(y)), **style)

    def free_place(self, area: Box, wide_mm: float, high: float) -> Box | None:
        """Return a place for a label beside ``area`` that nothing else has taken; then it is taken."""
        (x, y), gap = area.middle, 0.15 * self.text
        corners = [
            (x - wide_mm / 2, area.y1 + gap),
            (x - wide_mm / 2, area.y0 - high - gap),
            (area.x1 + gap, y - high / 2),
            (area.x0 - wide_mm - gap, y - high / 2),
            (area.x0, area.y1 + gap + high),
            (area.x0, area.y0 - 2 * high - gap),
        ]
        length, width = self.layout.roof.length, self.layout.roof.width
        boxes = [
            Box(left, low, left + wide_mm, low + high)
            for left, low in ((max(0.0, min(left, length - wide_mm)), low) for left, low in corners)
        ]
        for box in boxes:
            is_inside = box.y0 >= 0 and box.y1 <= width and box.x0 >= 0
            if is_inside and not any(_touch(box, other) for other in self.taken):
                self.taken.append(box)
                return box
        return None


def _touch(one: Box, other: Box) -> bool:
    return one.x0 < other.x1 and other.x0 < one.x1 and one.y0 < other.y1 and other.y0 < one.y1
