"""Knows how a roof is drawn to scale: one SVG text for screen, quote and job sheet.

The view box is in millimetres, the front of the vehicle to the right. Only presentation attributes are
used, so that the same text looks the same under a strict content policy and in a PDF.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, Final
from xml.sax.saxutils import escape

import sizing
from common import units as trade
from jobs.models import Design, Obstacle, Survey
from jobs.roof.layout import Box, Layout, ObstacleShape, PanelShape, design_layout, survey_layout
from jobs.roof.order import string_legs
from jobs.roof.paths import way_points
from jobs.roof.plan_key import (
    ROW,
    SMALL,
    Entry,
    gland_mark,
    in_rows,
    key_entries,
    key_marks,
    letter_mark,
    wide,
)
from jobs.roof.plan_marks import GLASS, INK, PAPER, RED, SOFT, STRINGS, string_style
from jobs.roof.plan_marks import number as _n
from jobs.roof.plan_marks import tag as _tag
from jobs.roof.plan_wires import wire_marks, wire_words

__all__ = ["STRINGS", "plan_svg", "string_style", "survey_plan_svg"]

ROOF: Final = "#f4f1ea"
#: Letters of things named in the key; l and o look like digits, controllers have the capitals.
_LETTERS: Final = "abcdefghijkmnpqrstuvwxyz"


def plan_svg(
    design: Design,
    *,
    shop_units: str,
    built: sizing.SystemInput | None = None,
    roof: Layout | None = None,
) -> str:
    """Return the roof plan of a design; empty text while the roof is not measured.

    ``built`` and ``roof`` as :func:`design_layout` takes them.
    """
    layout = design_layout(design, built, roof)
    if layout is None:
        return ""
    name = f"plan-{design.pk}{'-built' if built else ''}"
    return _Drawing(layout, shop_units, name).svg()


def survey_plan_svg(survey: Survey, *, shop_units: str) -> str:
    """Return the roof as surveyed, without panels; empty text while it is not measured."""
    layout = survey_layout(survey)
    return "" if layout is None else _Drawing(layout, shop_units, f"survey-{survey.pk}").svg()


class _Drawing:
    """One drawing: sizes of text and lines follow the length of the roof."""

    def __init__(self, layout: Layout, units: str, name: str) -> None:
        self.layout, self.units, self.name = layout, units, name
        roof = layout.roof
        radius = roof.edge_radius
        self.text = max(90.0, (roof.length + 2 * radius) / 42)
        self.line = max(4.0, roof.length / 1400)
        self.left, self.right = radius + 7.4 * self.text, radius + 4.6 * self.text
        self.above = radius + 1.8 * self.text
        self.taken = [panel.box for panel in layout.panels] + [thing.box for thing in layout.obstacles]
        self.taken += self._gland_taken()
        self.named: list[Entry] = []  # what did not fit on the roof, for the key

    # --- the whole ------------------------------------------------------------------------------------------

    def svg(self) -> str:
        """Return the drawing as text."""
        roof, length = self.layout.roof, self._length
        width = self.left + roof.length + self.right
        things = [part for thing in self.layout.obstacles for part in self._thing(thing)]
        gland = list(self._gland())
        room = roof.length + self.right - 0.5 * self.text
        rows = in_rows([*key_entries(self.layout, length), *self.named], room, self.text)
        key = roof.edge_radius + 5.6 * self.text  # from the right edge down to the first row
        height = self.above + roof.width + key + (ROW * len(rows) - 0.4) * self.text
        view = f"{-self.left:.0f} {-self.above:.0f} {width:.0f} {height:.0f}"
        parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="roof-plan" viewBox="{view}" role="img"'
            f' aria-labelledby="{self.name}-title {self.name}-desc"'
            ' font-family="\'Source Sans 3\', sans-serif" fill="none">',
            f'<title id="{self.name}-title">{escape(self._title())}</title>',
            f'<desc id="{self.name}-desc">{escape(self._description())}</desc>',
            *self._roof(),
            *self._rafters(),
            *self._ways(),
            *things,
            *(part for panel in self.layout.panels for part in self._panel(panel)),
            *self._orders(),
            *wire_marks(self.layout, self.text, self.line),
            *gland,
            *self._dimensions(),
            *self._front(),
            *key_marks(rows, roof.width + key, self.text, self.line),
            "</svg>",
        ]
        return "\n".join(parts)

    def _title(self) -> str:
        roof = self.layout.roof
        kind = "Roof plan" if self.layout.panels else "Roof as surveyed"
        return f"{kind}, {self._length(roof.length)} by {self._length(roof.width)}, front to the right"

    def _description(self) -> str:
        """Return the plan in words, for a person who does not see it."""
        said = ["Distances from the rear edge and from the right edge of the flat roof."]
        for panel in self.layout.panels:
            wired = f"string {panel.string}, place {panel.place}" if panel.string else "in no string"
            said.append(
                f"Panel {panel.number}, {panel.name}, {wired}: {self._length(panel.box.x0)} from the rear, "
                f"{self._length(panel.box.y0)} from the right, {panel.feet_count} feet."
            )
        for thing in self.layout.obstacles:
            gone = ", to be removed" if thing.will_be_removed else ""
            rear, right = self._length(thing.box.x0), self._length(thing.box.y0)
            high = self._short(thing.height)
            said.append(f"{thing.name}, {high} high{gone}: {rear} from the rear, {right} from the right.")
        if self.layout.gland:
            x, y = self.layout.gland
            said.append(f"Entry gland {self._length(x)} from the rear, {self._length(y)} from the right.")
        said += wire_words(self.layout.wires, self._length)
        return " ".join(said)

    def _length(self, value_mm: float) -> str:
        return trade.show(value_mm / 1000, "m", self.units)

    def _short(self, value_mm: float) -> str:
        return trade.show(value_mm, "mm", self.units)

    # --- marks ----------------------------------------------------------------------------------------------

    def _y(self, y: float) -> float:
        """Return the drawing's y: the left side of the vehicle is up."""
        return self.layout.roof.width - y

    def _rect(self, area: Box, **attributes: Any) -> str:
        return _tag(
            "rect",
            x=_n(area.x0),
            y=_n(self._y(area.y1)),
            width=_n(max(area.length, 0.0)),
            height=_n(max(area.width, 0.0)),
            **attributes,
        )

    def _outline(self, area: Box, is_round: bool, **attributes: Any) -> str:
        if not is_round:
            return self._rect(area, **attributes)
        x, y = area.middle
        return _tag(
            "ellipse",
            cx=_n(x),
            cy=_n(self._y(y)),
            rx=_n(area.length / 2),
            ry=_n(area.width / 2),
            **attributes,
        )

    def _line(self, x0: float, y0: float, x1: float, y1: float, **attributes: Any) -> str:
        """Return a line given in roof coordinates."""
        style = {"stroke": SOFT, "stroke_width": _n(self.line)} | attributes
        return _tag("line", x1=_n(x0), y1=_n(self._y(y0)), x2=_n(x1), y2=_n(self._y(y1)), **style)

    def _word(self, x: float, y: float, text: str, size: float = 1.0, **attributes: Any) -> str:
        """Return a text whose place is given in roof coordinates."""
        style = {"fill": INK, "font_size": _n(self.text * size), "text_anchor": "middle"} | attributes
        return _tag("text", text, x=_n(x), y=_n(self._y(y)), **style)

    # --- layers ---------------------------------------------------------------------------------------------

    def _roof(self) -> Iterable[str]:
        roof, line = self.layout.roof, self.line
        yield self._rect(
            roof.box.grown(roof.edge_radius),
            rx=_n(max(roof.edge_radius, 40.0)),
            fill=ROOF,
            stroke=INK,
            stroke_width=_n(2.2 * line),
            class_="plan-roof",
        )
        if roof.edge_radius:
            yield self._rect(roof.box, stroke=SOFT, stroke_width=_n(line), stroke_dasharray="60 40")
        if roof.edge_clearance or roof.front_clearance:
            clear, front = roof.edge_clearance, roof.front_clearance
            inner = Box(clear, clear, roof.length - front, roof.width - clear)
            yield self._rect(inner, stroke="#a9a396", stroke_width=_n(line), stroke_dasharray="14 26")

    def _rafters(self) -> Iterable[str]:
        for x in self.layout.roof.rafters:
            yield self._line(
                x, 0, x, self.layout.roof.width, stroke="#cfc7b8", stroke_width=_n(1.4 * self.line)
            )

    def _ways(self) -> Iterable[str]:
        """Draw where a person walks: a broad pale band along the way that keeps widest."""
        for points in way_points(self.layout):
            path = " ".join(f"{_n(x)},{_n(self._y(y))}" for x, y in points)
            yield _tag(
                "polyline",
                points=path,
                stroke="#d9e4d2",
                stroke_width=_n(self.layout.roof.walkway_width * 0.55),
                stroke_linejoin="round",
                stroke_linecap="round",
                class_="plan-way",
            )

    def _around(self, thing: ObstacleShape) -> Iterable[str]:
        if thing.will_be_removed:
            return
        if thing.keep_out:
            free, roof = thing.box.grown(thing.keep_out), self.layout.roof
            yield self._outline(
                free if thing.is_round else free.within(Box(0.0, 0.0, roof.length, roof.width)),
                thing.is_round,
                stroke="#8a4b1a",
                stroke_width=_n(self.line),
                stroke_dasharray="24 24",
                class_="plan-keep-out",
            )
        if thing.sweep:
            yield self._rect(
                thing.sweep,
                fill="#f0d9c4",
                stroke="#8a4b1a",
                stroke_width=_n(self.line),
                class_="plan-lid",
            )

    def _thing(self, thing: ObstacleShape) -> Iterable[str]:
        yield f'<g class="plan-thing" data-thing="{thing.mark}">'
        yield from self._around(thing)
        yield from self._obstacle(thing)
        yield "</g>"

    def _obstacle(self, thing: ObstacleShape) -> Iterable[str]:
        gone, is_seam = thing.will_be_removed, thing.kind == Obstacle.Kind.SEAM
        dashes = "40 30" if gone else "70 18 12 18" if is_seam else None
        yield self._outline(
            thing.box,
            thing.is_round,
            fill="none" if gone or is_seam else "#d8d2c6",
            stroke=SOFT if is_seam else INK,
            stroke_width=_n(1.6 * self.line),
            stroke_dasharray=dashes,
            class_="plan-seam" if is_seam else "plan-obstacle",
        )
        height = "to come off" if gone else self._short(thing.height)
        yield from self._named(thing, height)

    def _named(self, thing: ObstacleShape, height: str) -> Iterable[str]:
        """Write the name inside a thing, else beside it, else in the key under a letter."""
        x, y = thing.box.middle
        text, words = self.text, f"{thing.name}, {height}"
        if thing.box.length > wide(text, thing.name, height) and thing.box.width > 2.3 * text:
            yield self._word(x, y + 0.1 * text, thing.name, SMALL)
            yield self._word(x, y - 0.9 * text, height, SMALL, fill=SOFT)
        elif place := self._free_place(thing.box, wide(text, words), text):
            yield self._rect(place, fill=ROOF, fill_opacity="0.85")  # read across lines
            yield self._word(place.middle[0], place.y0 + 0.25 * text, words, SMALL, class_="plan-label")
        else:
            letter = _LETTERS[len(self.named) % len(_LETTERS)]
            self.named.append(Entry(f"thing:{letter}", words))
            is_small = min(thing.box.length, thing.box.width) < 1.6 * text
            beside = self._free_place(thing.box, 1.5 * text, 1.5 * text) if is_small else None
            at = beside.middle if beside else (x, y)
            yield from letter_mark(letter, at[0], self._y(at[1]), text, self.line)

    def _free_place(self, area: Box, wide_mm: float, high: float) -> Box | None:
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

    def _panel(self, panel: PanelShape) -> Iterable[str]:
        colour, pattern = string_style(panel.string)
        yield f'<g class="plan-panel" data-panel="{panel.number}">'
        yield self._rect(panel.box, fill=GLASS)
        yield self._cells(panel)
        yield self._rect(
            panel.box,
            stroke=colour,
            stroke_width=_n(3.6 * self.line),
            **({"stroke_dasharray": pattern} if pattern else {}),
        )
        for x, y in panel.feet:
            yield self._rect(Box(x - 32, y - 32, x + 32, y + 32), fill=INK, class_="plan-foot")
        if panel.box_at:
            x, y = panel.box_at
            side = Box(x - 45, y - 45, x + 45, y + 45)
            yield self._rect(
                side, fill=PAPER, stroke=INK, stroke_width=_n(1.4 * self.line), class_="plan-box"
            )
        yield from self._panel_label(panel, colour)
        yield "</g>"

    def _panel_label(self, panel: PanelShape, colour: str) -> Iterable[str]:
        """Write the number and, where the panel has room for it, the string; the key has every string."""
        (x, y), text = panel.box.middle, self.text
        (half, high), wired = self._label_half(panel), _wired(panel)
        label = Box(x - half, y - high, x + half, y + high)
        yield self._rect(label, fill=PAPER, rx=_n(0.2 * text), fill_opacity="0.92")
        drop = 0.45 * text if high < text else -0.15 * text
        yield self._word(x, y - drop, str(panel.number), 1.3, font_weight="700", fill=colour)
        if high > text:
            yield self._word(x, y - 0.95 * text, wired, SMALL, fill=colour)

    def _label_half(self, panel: PanelShape) -> tuple[float, float]:
        """Return half the length and height of the label on the middle of a panel [mm]."""
        half, text = wide(self.text, _wired(panel)) / 2 + 0.1 * self.text, self.text
        if half <= 0.46 * panel.box.length and 1.3 * text <= 0.46 * panel.box.width:
            return half, 1.3 * text
        digits = 0.45 * text * len(str(panel.number)) + 0.2 * text
        return min(digits, 0.46 * panel.box.length), min(0.75 * text, 0.46 * panel.box.width)

    def _orders(self) -> Iterable[str]:
        """Draw the order of every string: a line in its colour and pattern from panel to panel."""
        half = {panel.number: self._label_half(panel) for panel in self.layout.panels}
        legs = list(string_legs(self.layout.panels, half))
        if not legs:
            return
        yield '<g class="plan-order">'
        for leg in legs:
            colour, pattern = string_style(leg.string)
            dash = {"stroke_dasharray": pattern} if pattern else {}
            yield self._line(*leg.start, *leg.end, stroke=PAPER, stroke_width=_n(5.2 * self.line))
            yield self._line(*leg.start, *leg.end, stroke=colour, stroke_width=_n(2.6 * self.line), **dash)
            yield _tag("path", d=self._head(leg.start, leg.end), fill=colour, stroke=PAPER)
        yield "</g>"

    def _head(self, start: tuple[float, float], end: tuple[float, float]) -> str:
        """Return the path of an arrow head that ends a line given in roof coordinates."""
        long, wide = 0.62 * self.text, 0.3 * self.text
        reach = math.dist(start, end)
        ux, uy = (end[0] - start[0]) / reach, (end[1] - start[1]) / reach
        x, y = end[0] - long * ux, end[1] - long * uy
        corners = (end, (x - wide * uy, y + wide * ux), (x + wide * uy, y - wide * ux))
        return "M" + "L".join(f"{_n(a)} {_n(self._y(b))}" for a, b in corners) + "z"

    def _cells(self, panel: PanelShape) -> str:
        """Return the lines between cells, which show which way the cell strings run."""
        box, moves = panel.box, []
        for step in range(1, panel.cells_along):
            x = box.x0 + box.length * step / panel.cells_along
            moves.append(f"M{_n(x)} {_n(self._y(box.y0))}V{_n(self._y(box.y1))}")
        for step in range(1, panel.cells_across):
            y = box.y0 + box.width * step / panel.cells_across
            moves.append(f"M{_n(box.x0)} {_n(self._y(y))}H{_n(box.x1)}")
        return _tag("path", d="".join(moves) or "M0 0", stroke="#b9c6d1", stroke_width=_n(0.8 * self.line))

    def _gland_taken(self) -> list[Box]:
        """Return the room of the gland's own mark."""
        if self.layout.gland is None:
            return []
        x, y = self.layout.gland
        return [Box(x, y, x, y).grown(0.55 * self.text)]

    def _gland(self) -> Iterable[str]:
        for mark in self._gland_taken():
            x, y = mark.middle
            yield from gland_mark(x, self._y(y), 0.55 * self.text, self.line)
            place = self._free_place(mark, wide(self.text, "gland"), self.text)
            if place is None:
                self.named.append(Entry("gland", "gland, where the wire goes through the roof"))
                return
            at = place.middle[0], place.y0 + 0.25 * self.text
            yield self._word(*at, "gland", SMALL, fill=RED, class_="plan-label")

    def _dimensions(self) -> Iterable[str]:
        """Draw length and width outside the roof, and where panels begin, where there is room for it."""
        roof, text = self.layout.roof, self.text
        low = -roof.edge_radius - 2.7 * text
        yield from self._ticks(sorted({panel.box.x0 for panel in self.layout.panels}))
        yield self._line(0, low, roof.length, low)
        for x in (0.0, roof.length):
            yield self._line(x, low - 0.4 * text, x, low + 0.4 * text)
        yield self._word(roof.length / 2, low - 1.05 * text, self._length(roof.length))
        side = -roof.edge_radius - 5.6 * text
        yield self._line(side, 0, side, roof.width)
        for y in (0.0, roof.width):
            yield self._line(side - 0.4 * text, y, side + 0.4 * text, y)
        middle = f"rotate(-90 {_n(side - 0.5 * text)} {_n(self._y(roof.width / 2))})"
        yield self._word(side - 0.5 * text, roof.width / 2, self._length(roof.width), transform=middle)
        yield from self._side_ticks(sorted({panel.box.y0 for panel in self.layout.panels}))

    def _ticks(self, places: list[float]) -> Iterable[str]:
        roof, text, last = self.layout.roof, self.text, float("-inf")
        low = -roof.edge_radius
        for x in places:
            yield self._line(x, low - 0.1 * text, x, low - 0.6 * text, stroke=INK)
            if x - last >= 4.6 * text:
                yield self._word(x, low - 1.5 * text, self._length(x), SMALL, fill=SOFT)
                last = x

    def _side_ticks(self, places: list[float]) -> Iterable[str]:
        text, last = self.text, float("-inf")
        edge = -self.layout.roof.edge_radius
        for y in places:
            yield self._line(edge - 0.1 * text, y, edge - 0.6 * text, y, stroke=INK)
            if y - last >= 1.1 * text:
                yield self._word(
                    edge - 0.8 * text, y - 0.25 * text, self._length(y), SMALL, fill=SOFT, text_anchor="end"
                )
                last = y

    def _front(self) -> Iterable[str]:
        """Draw the direction of travel."""
        roof, text = self.layout.roof, self.text
        x, y = roof.length + roof.edge_radius + 0.7 * text, roof.width / 2
        tip = x + 3.4 * text
        yield self._line(x, y, tip - text, y, stroke=INK, stroke_width=_n(3 * self.line))
        head = f"M{_n(tip)} {_n(self._y(y))}l{_n(-1.2 * text)} {_n(-0.6 * text)}v{_n(1.2 * text)}z"
        yield _tag("path", d=head, fill=INK)
        yield self._word((x + tip) / 2, y + 0.7 * text, "Front", 1.0, font_weight="700")
        yield self._word(
            roof.length / 2, roof.width + roof.edge_radius + 0.5 * text, "left side", SMALL, fill=SOFT
        )


def _wired(panel: PanelShape) -> str:
    return f"string {panel.string}" if panel.string else "no string"


def _touch(one: Box, other: Box) -> bool:
    return one.x0 < other.x1 and other.x0 < one.x1 and one.y0 < other.y1 and other.y0 < one.y1
