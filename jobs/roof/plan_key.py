"""Draws the key beneath the roof plan: what each mark means, its entries flowing into rows.

Text is measured here too: a drawing that is printed and scaled cannot ask a browser how wide a word is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from jobs.models import Obstacle
from jobs.roof.layout import Layout
from jobs.roof.order import in_order
from jobs.roof.paths import way_points
from jobs.roof.plan_marks import GLASS, INK, PAPER, RED, SOFT, number, string_style, tag
from jobs.roof.plan_wires import wire_signs

#: Size of all small words; on the smallest drawing shown (704 px wide) it comes to 11 px. [-]
SMALL: Final = 0.85
_LETTER: Final = 0.46  # width of a letter of the plan's typeface over its size, on the wide side
ROW: Final = 1.75  # height of a row of the key, in heights of text
_SIGN: Final = 2.6  # what the mark before an entry takes


class Entry(NamedTuple):
    """One entry of the key: the name of its mark and its words."""

    sign: str
    words: str


def wide(text: float, *words: str) -> float:
    """Return about how wide the longest of some small words is drawn at the plan's size of text [mm]."""
    return _LETTER * SMALL * text * max(map(len, words))


def key_entries(layout: Layout, length: Callable[[float], str]) -> list[Entry]:
    """Return what strings, marks and wire of a plan mean; ``length`` writes millimeters."""
    strings = sorted(in_order(layout.panels).items(), key=lambda item: (not item[0], item[0].zfill(4)))
    named = [
        Entry(f"string:{name}", _string_words(layout, name, [panel.number for panel in members]))
        for name, members in strings
    ]
    wire = [Entry(*row) for row in wire_signs(layout.wires, length)]
    return [*named, *wire, *_signs(layout, any(name and len(members) > 1 for name, members in strings))]


def _signs(layout: Layout, is_wired: bool) -> Iterable[Entry]:
    if layout.roof.rafters:
        yield Entry(
            "rafter", "rafter" + ("" if layout.roof.is_first_rafter_known else " (first one assumed)")
        )
    if is_wired:
        yield Entry("order", "wired in this order")
    if layout.panels:
        yield Entry("foot", f"foot ({sum(panel.feet_count for panel in layout.panels)})")
        yield Entry("box", "junction box")
    if any(thing.kind == Obstacle.Kind.SEAM for thing in layout.staying):
        yield Entry("seam", "seam")
    if any(thing.keep_out for thing in layout.staying):
        yield Entry("keep-out", "keep clear")
    if any(thing.sweep for thing in layout.staying):
        yield Entry("lid", "lid swings here")
    if way_points(layout):
        yield Entry("way", "way to walk")


def _string_words(layout: Layout, name: str, numbers: list[int]) -> str:
    which = f"panel{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
    if not name:
        return f"not in a string: {which}"
    controller = next((p.controller for p in layout.panels if p.string == name), "")
    at = f", controller {controller}" if controller else ""
    return f"string {name}{at}: {which}"


def in_rows(entries: Sequence[Entry], room: float, text: float) -> list[list[tuple[float, Entry]]]:
    """Return the entries in rows no wider than ``room`` [mm], each with where it begins; columns line up."""
    takes = [_SIGN * text + wide(text, entry.words) + text for entry in entries]
    columns = 12
    rows: list[list[tuple[float, Entry]]] = []
    at = columns
    for entry, width in zip(entries, takes, strict=True):
        spans = min(columns, math.ceil(columns * width / room))
        if at + spans > columns:
            rows.append([])
            at = 0
        rows[-1].append((room * at / columns, entry))
        at += spans
    return rows


def key_marks(
    rows: Iterable[Iterable[tuple[float, Entry]]], top: float, text: float, line: float
) -> Iterable[str]:
    """Draw the key; ``top`` is the middle of its first row, ``text`` and ``line`` the plan's sizes [mm]."""
    for step, row in enumerate(rows):
        y = top + step * ROW * text
        for x, entry in row:
            yield from _mark(entry.sign, x, y, text, line)
            yield tag(
                "text", entry.words, x=number(x + _SIGN * text), y=number(y + 0.3 * text), fill=INK,
                font_size=number(SMALL * text), class_="plan-key",
            )  # fmt: skip


def letter_mark(letter: str, x: float, y: float, text: float, line: float) -> Iterable[str]:
    """Draw the disc with the letter of a thing whose name stands in the key."""
    yield tag(
        "circle", cx=number(x), cy=number(y), r=number(0.72 * text), fill=PAPER, stroke=INK,
        stroke_width=number(1.4 * line), class_="plan-letter",
    )  # fmt: skip
    yield tag(
        "text", letter, x=number(x), y=number(y + 0.3 * text), fill=INK, font_weight="700",
        font_size=number(SMALL * text), text_anchor="middle", class_="plan-label",
    )  # fmt: skip


def _mark(sign: str, x: float, y: float, text: float, line: float) -> Iterable[str]:
    end, middle = x + 2.1 * text, x + text
    if sign.startswith("string:"):
        colour, pattern = string_style(sign.removeprefix("string:"))
        dash = {"stroke_dasharray": pattern} if pattern else {}
        yield _swatch(x, y, text, fill=GLASS, stroke=colour, stroke_width=number(3.6 * line), **dash)
    elif sign.startswith("thing:"):
        yield from letter_mark(sign.removeprefix("thing:"), middle, y, text, line)
    elif sign.startswith("home:"):
        yield _rule(x, end, y, stroke=RED, stroke_width=number(3 * line))
    elif sign in {"box", "foot"}:
        half, look = (45, PAPER) if sign == "box" else (32, INK)
        yield _square(middle, y, half, fill=look, stroke=INK, stroke_width=number(1.4 * line))
    elif sign == "order":
        yield _rule(x, end, y, stroke=INK, stroke_width=number(2.6 * line))
        tip = f"M{number(end)} {number(y)}l{number(-0.62 * text)} {number(-0.3 * text)}"
        yield tag("path", d=f"{tip}v{number(0.6 * text)}z", fill=INK)
    elif sign == "rafter":
        yield _rule(x, end, y, stroke="#b3a98f", stroke_width=number(2 * line))
    elif sign == "gland":
        yield from gland_mark(middle, y, 0.55 * text, line)
    else:
        yield _swatch(x, y, text, **_AREAS[sign](line))


_AREAS: Final[dict[str, Callable[[float], dict[str, str]]]] = {
    "seam": lambda line: {
        "stroke": SOFT, "stroke_width": number(1.6 * line), "stroke_dasharray": "70 18 12 18",
    },
    "keep-out": lambda line: {
        "stroke": "#8a4b1a", "stroke_width": number(line), "stroke_dasharray": "24 24",
    },
    "lid": lambda line: {"fill": "#f0d9c4", "stroke": "#8a4b1a", "stroke_width": number(line)},
    "way": lambda _: {"fill": "#d9e4d2"},
}  # fmt: skip


def gland_mark(x: float, y: float, size: float, line: float) -> Iterable[str]:
    """Draw where the wire goes through the roof."""
    yield tag(
        "circle", cx=number(x), cy=number(y), r=number(size), fill=PAPER, stroke=RED,
        stroke_width=number(2 * line), class_="plan-gland",
    )  # fmt: skip
    yield _rule(x - size, x + size, y, stroke=RED, stroke_width=number(line))
    yield tag(
        "line", x1=number(x), y1=number(y - size), x2=number(x), y2=number(y + size), stroke=RED,
        stroke_width=number(line),
    )  # fmt: skip


def _rule(x0: float, x1: float, y: float, **style: str) -> str:
    return tag("line", x1=number(x0), y1=number(y), x2=number(x1), y2=number(y), **style)


def _square(x: float, y: float, half: float, **style: str) -> str:
    size = number(2 * half)
    return tag("rect", x=number(x - half), y=number(y - half), width=size, height=size, **style)


def _swatch(x: float, y: float, text: float, **style: str) -> str:
    height = number(text)
    return tag(
        "rect", x=number(x), y=number(y - 0.5 * text), width=number(2.1 * text), height=height, **style
    )
