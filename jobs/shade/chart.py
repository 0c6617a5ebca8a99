"""How a year by parking direction is drawn: a small polar chart, north up, as SVG text.

The rings do not start at zero, or a roof that loses a few percent would draw as a perfect circle; every ring
carries its number and the caption says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from django.utils.html import escape

WIDTH: Final = 340.0
HEIGHT: Final = 330.0
MIDDLE: Final = (170.0, 165.0)
INNER: Final = 36.0  # radius of the lowest ring
OUTER: Final = 124.0  # radius of the highest ring
RINGS: Final = 4
WINDS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
INK: Final = "#1c2224"
GREY: Final = "#55584f"
RULE: Final = "#d6cfbe"
ACCENT: Final = "#1f4e5f"


def compass(heading_deg: float) -> str:
    """Return the nearest of sixteen compass points."""
    return WINDS[round(heading_deg / 22.5) % 16]


def polar_svg(
    headings_deg: Sequence[float],
    kwh: Sequence[float],
    unshaded_kwh: float,
    *,
    prefix: str = "polar",
    is_even: bool = False,
) -> str:
    """Return the chart of yearly energy [kWh] by the direction the nose points to, best and worst marked."""
    low, step = scale(min(kwh), max(max(kwh), unshaded_kwh))
    best, worst = (
        max(range(len(kwh)), key=kwh.__getitem__),
        min(range(len(kwh)), key=kwh.__getitem__),
    )
    top = low + step * RINGS
    said = _said(headings_deg, kwh, unshaded_kwh, best, worst, is_even)
    points = [_point(h, _radius(k, low, top)) for h, k in zip(headings_deg, kwh, strict=True)]
    parts = [
        f'<svg class="polar" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" '
        f'aria-labelledby="{prefix}-title {prefix}-desc" xmlns="http://www.w3.org/2000/svg">',
        f'<title id="{prefix}-title">Yearly energy by parking direction</title>',
        f'<desc id="{prefix}-desc">{escape(said)}</desc>',
        *_rings(low, step),
        *_winds(),
        _bare_ring(unshaded_kwh, low, top),
        f'<polygon points="{_pairs(points)}" fill="{ACCENT}" fill-opacity="0.16" stroke="{ACCENT}" '
        'stroke-width="2" stroke-linejoin="round"/>',
        *(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.8" fill="{ACCENT}"/>' for x, y in points),
        *(() if is_even else (_mark(points[best], ACCENT), _mark(points[worst], "#fff"))),
        "</svg>",
    ]
    return "".join(parts)


def scale(lowest: float, highest: float) -> tuple[float, float]:
    """Return the lowest ring and the step between rings, round numbers [kWh], that hold all values."""
    span = max(highest - lowest, 0.02 * highest, 1e-6)
    raw = span * 1.25 / RINGS
    power = 10.0 ** math.floor(math.log10(raw))
    for factor in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0):
        step = factor * power
        top = math.ceil(highest / step - 1e-9) * step
        if step >= raw * 0.999 and top - RINGS * step <= lowest:
            return max(0.0, top - RINGS * step), step
    return 0.0, max(highest, 1e-6) / RINGS


def _radius(value: float, low: float, top: float) -> float:
    return INNER + (OUTER - INNER) * (value - low) / (top - low)


def _point(heading_deg: float, radius: float) -> tuple[float, float]:
    turn = math.radians(heading_deg)
    return MIDDLE[0] + radius * math.sin(turn), MIDDLE[1] - radius * math.cos(turn)


def _pairs(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _rings(low: float, step: float) -> list[str]:
    made = []
    for ring in range(RINGS + 1):
        radius = INNER + (OUTER - INNER) * ring / RINGS
        made.append(_circle(radius, f'stroke="{RULE}"'))
    for ring in (0, RINGS // 2, RINGS):
        radius = INNER + (OUTER - INNER) * ring / RINGS
        x, y = _point(67.5, radius)
        made.append(
            f'<text x="{x:.1f}" y="{y + 4:.1f}" font-size="11" text-anchor="middle" fill="{GREY}" '
            f'stroke="#fffdf7" stroke-width="4" paint-order="stroke">{_number(low + ring * step)}</text>'
        )
    return made


def _circle(radius: float, stroke: str) -> str:
    return f'<circle cx="{MIDDLE[0]:.0f}" cy="{MIDDLE[1]:.0f}" r="{radius:.1f}" fill="none" {stroke}/>'


def _number(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:,.4g}"


def _winds() -> list[str]:
    made = []
    for place in range(8):
        turn = 45.0 * place
        (x0, y0), (x1, y1) = _point(turn, INNER), _point(turn, OUTER)
        x, y = _point(turn, OUTER + 17)
        weight = ' font-weight="600"' if place % 2 == 0 else ""
        made.append(f'<path d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}" stroke="{RULE}" fill="none"/>')
        made.append(
            f'<text x="{x:.1f}" y="{y + 4.5:.1f}" font-size="13"{weight} text-anchor="middle" '
            f'fill="{INK}">{WINDS[2 * place]}</text>'
        )
    return made


def _bare_ring(unshaded_kwh: float, low: float, top: float) -> str:
    line = f'stroke="{INK}" stroke-width="1.3" stroke-dasharray="5 4"'
    return _circle(_radius(unshaded_kwh, low, top), line)


def _mark(point: tuple[float, float], fill: str) -> str:
    return (
        f'<circle cx="{point[0]:.1f}" cy="{point[1]:.1f}" r="5.5" fill="{fill}" stroke="{ACCENT}" '
        'stroke-width="2.2"/>'
    )


def _said(
    headings_deg: Sequence[float],
    kwh: Sequence[float],
    unshaded_kwh: float,
    best: int,
    worst: int,
    is_even: bool,
) -> str:
    top, low = (f"{compass(headings_deg[one])}, {kwh[one]:,.0f}" for one in (best, worst))
    ends = f"Best with the nose {top} kWh a year; worst with the nose {low} kWh"
    said = f"Direction makes no difference: {kwh[best]:,.0f} kWh a year" if is_even else ends
    bare = f"a bare roof would give {unshaded_kwh:,.0f} kWh"
    return f"{said}; {bare}. Every direction is in the table below the chart."
