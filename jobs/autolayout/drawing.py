"""Draws a layout small, to compare several at a glance: outline, obstacles, panels."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from jobs.roof.layout import Box, Layout, design_layout
from jobs.roof.plan_marks import GLASS, INK, PAPER, string_style
from jobs.roof.plan_outline import ROOF
from jobs.roof.state import RoofState


def small_plan_svg(state: RoofState, name: str) -> str:
    """Return the roof with its panels as a small picture; ``name`` says aloud what it shows."""
    layout = design_layout(state)
    if layout is None:
        return ""
    roof = layout.roof
    view = f"-60 -60 {roof.length + 260:.0f} {roof.width + 120:.0f}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="lay-plan" viewBox="{view}" role="img"'
        f' aria-label={quoteattr(name)} font-family="\'Source Sans 3\', sans-serif" fill="none">',
        _rect(layout, roof.box, f'fill="{ROOF}" stroke="{INK}" stroke-width="14" rx="60"'),
        *_things(layout),
        *(part for panel in layout.panels for part in _panel(layout, panel.box, panel.number, panel.string)),
        f'<path d="M{roof.length + 50:.0f} {roof.width / 2 - 90:.0f}l120 90l-120 90z" fill="{INK}"/>',
        "</svg>",
    ]
    return "".join(parts)


def _rect(layout: Layout, box: Box, look: str) -> str:
    top = layout.roof.width - box.y1
    size = f'width="{box.length:.0f}" height="{box.width:.0f}"'
    return f'<rect x="{box.x0:.0f}" y="{top:.0f}" {size} {look}/>'


def _things(layout: Layout) -> Iterable[str]:
    for obstacle in layout.staying:
        rounded = f' rx="{min(obstacle.box.length, obstacle.box.width) / 2:.0f}"' if obstacle.is_round else ""
        look = f'fill="#cfc7b8" stroke="{INK}" stroke-width="10"{rounded}'
        yield _rect(layout, obstacle.box, look)


def _panel(layout: Layout, box: Box, number: int, string: str) -> Iterable[str]:
    """Draw a panel in its string's color and line; the number above, the string below."""
    colour, dash = string_style(string)
    line = f' stroke-dasharray="{dash}"' if dash else ""
    yield _rect(layout, box, f'fill="{GLASS}" stroke="{colour}" stroke-width="26"{line}')
    x, y = box.middle
    top = layout.roof.width - y
    words = escape(f"{number}")
    yield f'<circle cx="{x:.0f}" cy="{top:.0f}" r="150" fill="{PAPER}"/>'
    yield (
        f'<text x="{x:.0f}" y="{top + 70:.0f}" text-anchor="middle" font-size="210" font-weight="600"'
        f' fill="{colour}">{words}</text>'
    )
