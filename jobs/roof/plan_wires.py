"""Draws the wire on the roof plan: leads in their string's color, combiner, home run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from jobs.roof.layout import Layout
from jobs.roof.plan_marks import INK, PAPER, RED, number, string_style, tag
from jobs.roof.wires import Home, Lead, Point, Wires, path_mm


def wire_marks(layout: Layout, text: float, line: float) -> Iterable[str]:
    """Draw all wire; ``text`` and ``line`` are the plan's own sizes [mm]."""
    if not layout.wires.homes:
        return
    width = layout.roof.width
    yield '<g class="plan-wires">'
    for home in layout.wires.homes:
        yield _way(home.points, width, stroke=RED, stroke_width=number(3 * line), class_="plan-home")
    for lead in layout.wires.leads:
        yield from _lead(lead, width, line)
    for home in layout.wires.homes:
        yield from _combiner(home, width, text, line)
    yield "</g>"


def _way(points: Sequence[Point], roof_width: float, **style: str) -> str:
    places = " ".join(f"{number(x)},{number(roof_width - y)}" for x, y in points)
    return tag("polyline", points=places, stroke_linejoin="round", **style)


def _lead(lead: Lead, roof_width: float, line: float) -> Iterable[str]:
    """Draw the way of both wires: each from its own end, together from where they meet."""
    colour, pattern = string_style(lead.string)
    style = {"stroke": colour, "stroke_width": number(2 * line), "class_": "plan-lead"}
    if pattern:
        style["stroke_dasharray"] = pattern
    shared = (*lead.bends, lead.combiner)
    for end in dict.fromkeys(lead.ends):
        yield _way((end, shared[0]), roof_width, **style)
    if len(shared) > 1:
        yield _way(shared, roof_width, **style)


def _combiner(home: Home, roof_width: float, text: float, line: float) -> Iterable[str]:
    x, y = home.combiner
    half, top = 0.6 * text, roof_width - y
    yield tag(
        "rect", x=number(x - half), y=number(top - half), width=number(2 * half), height=number(2 * half),
        fill=PAPER, stroke=RED, stroke_width=number(2 * line), class_="plan-combiner",
    )  # fmt: skip
    yield tag(
        "text", home.controller, x=number(x), y=number(top + 0.32 * text), fill=INK,
        font_size=number(0.9 * text), font_weight="700", text_anchor="middle",
    )  # fmt: skip


def wire_signs(wires: Wires, length: Callable[[float], str]) -> list[tuple[str, str]]:
    """Return the legend's rows: each home run with its drawn length, as told by ``length`` [mm]."""
    return [
        (
            f"home:{home.controller}",
            f"home run from combiner {home.controller}: {length(path_mm(home.points))} on the roof",
        )
        for home in wires.homes
        if home.gland
    ]


def wire_words(wires: Wires, length: Callable[[float], str]) -> Iterable[str]:
    """Tell the wire in words, for a person who does not see it."""
    for home in wires.homes:
        x, y = home.combiner
        yield f"Combiner {home.controller} {length(x)} from the rear, {length(y)} from the right."
        if home.gland:
            yield f"Home run {home.controller} {length(path_mm(home.points))} on the roof."
    for lead in wires.leads:
        yield f"Leads of string {lead.string} {length(lead.length_mm)} to combiner {lead.controller}."
