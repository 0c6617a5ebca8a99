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
from jobs.plan_marks import INK, PAPER, RED, SOFT, STRINGS, string_style
from jobs.plan_marks import number as _n
from jobs.plan_marks import tag as _tag
from jobs.roof_layout import Box, Layout, ObstacleShape, PanelShape, design_layout, survey_layout
from jobs.roof_order import in_order, string_legs
from jobs.roof_paths import way_points
from jobs.roof_plan_wires import wire_marks, wire_signs, wire_words

__all__ = ["STRINGS", "plan_svg", "string_style", "survey_plan_svg"]

ROOF: Final = "#f4f1ea"
GLASS: Final = "#e3eaf0"


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
        self.text = max(70.0, roof.length / 68)
        self.line = max(4.0, roof.length / 1400)
        radius = roof.edge_radius
        self.left, self.right = radius + 11.0 * self.text, radius + 6.2 * self.text
        self.above = radius + 1.8 * self.text
        self.legend = self._legend_rows()
        self.below = radius + 5.2 * self.text + 1.7 * self.text * len(self.legend)
        self.taken = [panel.box for panel in layout.panels] + [thing.box for thing in layout.obstacles]

    # --- the whole ------------------------------------------------------------------------------------------

    def svg(self) -> str:
        """Return the drawing as text."""
        roof = self.layout.roof
        width = self.left + roof.length + self.right
        height = self.above + roof.width + self.below
        view = f"{-self.left:.0f} {-self.above:.0f} {width:.0f} {height:.0f}"
        parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="roof-plan" viewBox="{view}" role="img"'
            f' aria-labelledby="{self.name}-title {self.name}-desc"'
            ' font-family="Source Sans 3, sans-serif" fill="none">',
            f'<title id="{self.name}-title">{escape(self._title())}</title>',
            f'<desc id="{self.name}-desc">{escape(self._description())}</desc>',
            *self._roof(),
            *self._rafters(),
            *self._ways(),
            *(part for thing in self.layout.obstacles for part in self._thing(thing)),
            *(part for panel in self.layout.panels for part in self._panel(panel)),
            *self._orders(),
            *wire_marks(self.layout, self.text, self.line),
            *self._gland(),
            *self._dimensions(),
            *self._front(),
            *self._legend(),
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
        x, y = thing.box.middle
        if thing.box.length > self._wide(thing.name, height) and thing.box.width > 2.2 * self.text:
            yield self._word(x, y + 0.1 * self.text, thing.name, 0.78)
            yield self._word(x, y - 0.8 * self.text, height, 0.78, fill=SOFT)
        else:
            place = self._free_place(thing.box, self._wide(f"{thing.name}, {height}"))
            yield self._word(
                place.middle[0],
                place.y0 + 0.25 * self.text,
                f"{thing.name}, {height}",
                0.78,
                class_="plan-label",
            )

    def _wide(self, *texts: str) -> float:
        """Return about how wide the longest of the small texts is drawn [mm]."""
        return 0.4 * self.text * max(map(len, texts)) + 0.4 * self.text

    def _free_place(self, area: Box, wide: float) -> Box:
        """Return a place for a label beside ``area`` that nothing else has taken; then it is taken."""
        (x, y), high, gap = area.middle, self.text, 0.15 * self.text
        corners = [
            (x - wide / 2, area.y1 + gap),
            (x - wide / 2, area.y0 - high - gap),
            (area.x1 + gap, y - high / 2),
            (area.x0 - wide - gap, y - high / 2),
            (area.x0, area.y1 + gap + high),
            (area.x0, area.y0 - 2 * high - gap),
        ]
        length, width = self.layout.roof.length, self.layout.roof.width
        boxes = [
            Box(left, low, left + wide, low + high)
            for left, low in ((max(0.0, min(left, length - wide)), low) for left, low in corners)
        ]
        inside = [box for box in boxes if box.y0 >= 0 and box.y1 <= width]
        free = [box for box in inside if not any(_touch(box, other) for other in self.taken)]
        place = (free or inside or boxes)[0]
        self.taken.append(place)
        return place

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
        x, y = panel.box.middle
        wired = f"string {panel.string}" if panel.string else "no string"
        half, _ = self._label_half(panel)
        label = Box(x - half, y - 1.15 * self.text, x + half, y + 1.45 * self.text)
        yield self._rect(label, fill=PAPER, rx=_n(0.2 * self.text), fill_opacity="0.92")
        yield self._word(x, y + 0.1 * self.text, str(panel.number), 1.5, font_weight="700", fill=colour)
        yield self._word(x, y - 0.85 * self.text, wired, 0.8, fill=colour)
        yield "</g>"

    def _label_half(self, panel: PanelShape) -> tuple[float, float]:
        """Return half the length and height of the label on the middle of a panel [mm]."""
        half = min(1.1 * self.text * (2.3 if panel.string else 2.6), panel.box.length * 0.46)
        return half, 1.45 * self.text

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

    def _gland(self) -> Iterable[str]:
        if self.layout.gland is None:
            return
        x, y = self.layout.gland
        size = 0.55 * self.text
        yield _tag(
            "circle",
            cx=_n(x),
            cy=_n(self._y(y)),
            r=_n(size),
            fill=PAPER,
            stroke=RED,
            stroke_width=_n(2 * self.line),
            class_="plan-gland",
        )
        yield self._line(x - size, y, x + size, y, stroke=RED)
        yield self._line(x, y - size, x, y + size, stroke=RED)
        yield self._word(x, y - 1.5 * self.text, "gland", 0.8, fill=RED)

    def _dimensions(self) -> Iterable[str]:
        """Draw length and width outside the roof, and where panels begin, where there is room for it."""
        roof, text = self.layout.roof, self.text
        low = -roof.edge_radius - 2.7 * text
        yield from self._ticks(sorted({panel.box.x0 for panel in self.layout.panels}))
        yield self._line(0, low, roof.length, low)
        for x in (0.0, roof.length):
            yield self._line(x, low - 0.4 * text, x, low + 0.4 * text)
        yield self._word(roof.length / 2, low - 1.05 * text, self._length(roof.length))
        side = -roof.edge_radius - 5.4 * text
        yield self._line(side, 0, side, roof.width)
        for y in (0.0, roof.width):
            yield self._line(side - 0.4 * text, y, side + 0.4 * text, y)
        yield self._word(side - 0.3 * text, roof.width / 2, self._length(roof.width), text_anchor="end")
        yield from self._side_ticks(sorted({panel.box.y0 for panel in self.layout.panels}))

    def _ticks(self, places: list[float]) -> Iterable[str]:
        roof, text, last = self.layout.roof, self.text, float("-inf")
        low = -roof.edge_radius
        for x in places:
            yield self._line(x, low - 0.1 * text, x, low - 0.6 * text, stroke=INK)
            if x - last >= 4.6 * text:
                yield self._word(x, low - 1.5 * text, self._length(x), 0.8, fill=SOFT)
                last = x

    def _side_ticks(self, places: list[float]) -> Iterable[str]:
        text, last = self.text, float("-inf")
        edge = -self.layout.roof.edge_radius
        for y in places:
            yield self._line(edge - 0.1 * text, y, edge - 0.6 * text, y, stroke=INK)
            if y - last >= 1.1 * text:
                yield self._word(
                    edge - 0.8 * text, y - 0.25 * text, self._length(y), 0.8, fill=SOFT, text_anchor="end"
                )
                last = y

    def _front(self) -> Iterable[str]:
        """Draw the direction of travel."""
        roof, text = self.layout.roof, self.text
        x, y = roof.length + roof.edge_radius + 0.7 * text, roof.width / 2
        tip = x + 4.6 * text
        yield self._line(x, y, tip - text, y, stroke=INK, stroke_width=_n(3 * self.line))
        head = f"M{_n(tip)} {_n(self._y(y))}l{_n(-1.2 * text)} {_n(-0.6 * text)}v{_n(1.2 * text)}z"
        yield _tag("path", d=head, fill=INK)
        yield self._word((x + tip) / 2, y + 0.7 * text, "Front", 1.0, font_weight="700")
        yield self._word(
            roof.length / 2, roof.width + roof.edge_radius + 0.5 * text, "left side", 0.8, fill=SOFT
        )

    # --- legend ---------------------------------------------------------------------------------------------

    def _legend_rows(self) -> list[list[tuple[str, str]]]:
        """Return the rows of the legend: a mark's name and its words."""
        strings = sorted(
            in_order(self.layout.panels).items(), key=lambda item: (not item[0], item[0].zfill(4))
        )
        named = [
            (f"string:{name}", self._string_words(name, [panel.number for panel in members]))
            for name, members in strings
        ]
        signs = [
            ("rafter", "rafter" + ("" if self.layout.roof.is_first_rafter_known else " (first one assumed)"))
        ]
        if not self.layout.roof.rafters:
            signs = []
        if any(name and len(members) > 1 for name, members in strings):
            signs.append(("order", "wired in this order"))
        if self.layout.panels:
            signs.append(("foot", f"foot ({sum(panel.feet_count for panel in self.layout.panels)})"))
            signs.append(("box", "junction box"))
        if any(thing.kind == Obstacle.Kind.SEAM for thing in self.layout.staying):
            signs.append(("seam", "seam"))
        if any(thing.keep_out for thing in self.layout.staying):
            signs.append(("keep-out", "keep clear"))
        if any(thing.sweep for thing in self.layout.staying):
            signs.append(("lid", "lid swings here"))
        if way_points(self.layout):
            signs.append(("way", "way to walk"))
        named += wire_signs(self.layout.wires, self._length)
        rows = [named[start : start + 2] for start in range(0, len(named), 2)]
        return [*rows, *(signs[start : start + 5] for start in range(0, len(signs), 5))]

    def _string_words(self, name: str, numbers: list[int]) -> str:
        which = f"panel{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
        if not name:
            return f"in no string: {which}"
        controller = next((p.controller for p in self.layout.panels if p.string == name), "")
        at = f", controller {controller}" if controller else ""
        return f"string {name}{at}: {which}"

    def _legend(self) -> Iterable[str]:
        roof, text = self.layout.roof, self.text
        y = -roof.edge_radius - 5.6 * text
        for row in self.legend:
            step = roof.length / max(len(row), 2)
            for place, (sign, words) in enumerate(row):
                x = place * step
                yield from self._sign(sign, x, y)
                yield self._word(x + 2.6 * text, y - 0.3 * text, words, 0.85, text_anchor="start")
            y -= 1.7 * text

    def _sign(self, sign: str, x: float, y: float) -> Iterable[str]:
        text, line = self.text, self.line
        swatch = Box(x, y - 0.5 * text, x + 2.1 * text, y + 0.5 * text)
        if sign.startswith("string:"):
            colour, pattern = string_style(sign.removeprefix("string:"))
            dash = {"stroke_dasharray": pattern} if pattern else {}
            yield self._rect(swatch, fill=GLASS, stroke=colour, stroke_width=_n(3.6 * line), **dash)
        elif sign.startswith("home:"):
            yield self._line(x, y, x + 2.1 * text, y, stroke=RED, stroke_width=_n(3 * line))
        elif sign == "box":
            mark = Box(x + text - 45, y - 45, x + text + 45, y + 45)
            yield self._rect(mark, fill=PAPER, stroke=INK, stroke_width=_n(1.4 * line))
        elif sign == "seam":
            dashes = {"stroke": SOFT, "stroke_width": _n(1.6 * line), "stroke_dasharray": "70 18 12 18"}
            yield self._rect(swatch, **dashes)
        elif sign == "foot":
            yield self._rect(Box(x + text - 40, y - 40, x + text + 40, y + 40), fill=INK)
        elif sign == "keep-out":
            yield self._rect(swatch, stroke="#8a4b1a", stroke_width=_n(line), stroke_dasharray="24 24")
        elif sign == "lid":
            yield self._rect(swatch, fill="#f0d9c4", stroke="#8a4b1a", stroke_width=_n(line))
        elif sign == "way":
            yield self._rect(swatch, fill="#d9e4d2")
        elif sign == "order":
            yield self._line(x, y, x + 2.1 * text, y, stroke=INK, stroke_width=_n(2.6 * line))
            yield _tag("path", d=self._head((x, y), (x + 2.1 * text, y)), fill=INK)
        else:
            yield self._line(x, y, x + 2.1 * text, y, stroke="#b3a98f", stroke_width=_n(2 * line))


def _touch(one: Box, other: Box) -> bool:
    return one.x0 < other.x1 and other.x0 < one.x1 and one.y0 < other.y1 and other.y0 < one.y1
