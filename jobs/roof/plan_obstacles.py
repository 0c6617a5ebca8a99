"""Draws what stands on the roof: obstacles with their clearance, and the entry gland."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from jobs.models import Obstacle
from jobs.roof.layout import Box, ObstacleShape
from jobs.roof.plan_canvas import Canvas
from jobs.roof.plan_key import SMALL, Entry, gland_mark, letter_mark, wide
from jobs.roof.plan_marks import INK, RED, SOFT, number
from jobs.roof.plan_outline import ROOF

#: Letters of obstacles named in the key; l and o look like digits, controllers have the capitals.
_LETTERS: Final = "abcdefghijkmnpqrstuvwxyz"


def obstacle_marks(canvas: Canvas, thing: ObstacleShape) -> Iterable[str]:
    yield f'<g class="plan-thing" data-thing="{thing.mark}">'
    yield from _around(canvas, thing)
    yield from _body(canvas, thing)
    yield "</g>"


def _around(canvas: Canvas, thing: ObstacleShape) -> Iterable[str]:
    if thing.will_be_removed:
        return
    if thing.keep_out:
        free, roof = thing.box.grown(thing.keep_out), canvas.layout.roof
        yield canvas.outline(
            free if thing.is_round else free.within(Box(0.0, 0.0, roof.length, roof.width)),
            thing.is_round,
            stroke="#8a4b1a",
            stroke_width=number(canvas.line),
            stroke_dasharray="24 24",
            class_="plan-keep-out",
        )
    if thing.sweep:
        yield canvas.rect(
            thing.sweep,
            fill="#f0d9c4",
            stroke="#8a4b1a",
            stroke_width=number(canvas.line),
            class_="plan-lid",
        )


def _body(canvas: Canvas, thing: ObstacleShape) -> Iterable[str]:
    gone, is_seam = thing.will_be_removed, thing.kind == Obstacle.Kind.SEAM
    dashes = "40 30" if gone else "70 18 12 18" if is_seam else None
    yield canvas.outline(
        thing.box,
        thing.is_round,
        fill="none" if gone or is_seam else "#d8d2c6",
        stroke=SOFT if is_seam else INK,
        stroke_width=number(1.6 * canvas.line),
        stroke_dasharray=dashes,
        class_="plan-seam" if is_seam else "plan-obstacle",
    )
    height = "to come off" if gone else canvas.short(thing.height)
    yield from _name(canvas, thing, height)


def _name(canvas: Canvas, thing: ObstacleShape, height: str) -> Iterable[str]:
    """Write the name inside a thing, else beside it, else in the key under a letter."""
    x, y = thing.box.middle
    text, words = canvas.text, f"{thing.name}, {height}"
    if thing.box.length > wide(text, thing.name, height) and thing.box.width > 2.3 * text:
        yield canvas.word(x, y + 0.1 * text, thing.name, SMALL)
        yield canvas.word(x, y - 0.9 * text, height, SMALL, fill=SOFT)
    elif place := canvas.free_place(thing.box, wide(text, words), text):
        yield canvas.rect(place, fill=ROOF, fill_opacity="0.85")  # read across lines
        yield canvas.word(place.middle[0], place.y0 + 0.25 * text, words, SMALL, class_="plan-label")
    else:
        letter = _LETTERS[len(canvas.for_key) % len(_LETTERS)]
        canvas.for_key.append(Entry(f"thing:{letter}", words))
        is_small = min(thing.box.length, thing.box.width) < 1.6 * text
        beside = canvas.free_place(thing.box, 1.5 * text, 1.5 * text) if is_small else None
        at = beside.middle if beside else (x, y)
        yield from letter_mark(letter, at[0], canvas.y(at[1]), text, canvas.line)


def gland_marks(canvas: Canvas) -> Iterable[str]:
    """Draw where the wire goes through the roof; a name without room goes to the key."""
    mark, text = canvas.gland_area(), canvas.text
    if mark is None:
        return
    x, y = mark.middle
    yield from gland_mark(x, canvas.y(y), 0.55 * text, canvas.line)
    place = canvas.free_place(mark, wide(text, "gland"), text)
    if place is None:
        canvas.for_key.append(Entry("gland", "gland, where the wire goes through the roof"))
        return
    at = place.middle[0], place.y0 + 0.25 * text
    yield canvas.word(*at, "gland", SMALL, fill=RED, class_="plan-label")
