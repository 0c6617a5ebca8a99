"""Draws the one-line diagram: what feeds the bus, through which wire and fuse, and what the bus feeds.

Drawn with presentation attributes only: it looks the same on screen and on paper. Letters are 18 units
high on a drawing 900 wide: 9 points on a page of 178 mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

import sizing
from sizing import CircuitKind

WIDTH: Final = 900
BUS_X: Final = 655
BOX_W, BOX_H = 122, 52
ROW_H: Final = 84
GAP: Final = 96  # from box to box: room for a circuit's name and fuse
FONT: Final = "'Source Sans 3', sans-serif"
_LOADS: Final[Mapping[str, str]] = {
    CircuitKind.BUS_TO_DC_PANEL: "DC panel",
    CircuitKind.SLIDES_AND_JACKS: "Slides, jacks",
    CircuitKind.BATTERY_HEATER: "Heater",
}
_FEEDS: Final[Mapping[str, str]] = {
    CircuitKind.CHARGER_TO_BUS: "Charger",
    CircuitKind.PORTABLE_INLET: "Portable inlet",
}


@dataclass(frozen=True, slots=True)
class Box:
    """One thing of the diagram, in at most two lines."""

    words: str
    more: str = ""


@dataclass(frozen=True, slots=True)
class Chain:
    """Boxes from the outside to the bus, with the circuit after each."""

    boxes: tuple[Box, ...]
    circuits: tuple[sizing.CircuitRow | None, ...]


def one_line_svg(system: sizing.SystemInput, result: sizing.SystemResult) -> str:
    """Return the diagram of a system as SVG text."""
    kinds = {circuit.id: str(circuit.kind) for circuit in system.circuits}
    feeds = list(_feeding(system, result, kinds))
    loads = list(_fed(system, result, kinds))
    height = max(len(feeds), len(loads), 1) * ROW_H + 40
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" fill="none"'
        f' font-family="{FONT}" font-size="18" stroke="#000000" stroke-width="2">',
        "<title>One-line diagram: what feeds the bus and what it feeds</title>",
        f'<line x1="{BUS_X}" y1="14" x2="{BUS_X}" y2="{height - 14}" stroke-width="8"/>',
        _text(BUS_X + 12, height - 14, "bus", "start"),
    ]
    for place, chain in enumerate(feeds):
        parts += _left(chain, 30 + place * ROW_H)
    for place, chain in enumerate(loads):
        parts += _right(chain, 30 + place * ROW_H)
    return "".join([*parts, "</svg>"])


def _feeding(
    system: sizing.SystemInput, result: sizing.SystemResult, kinds: Mapping[str, str]
) -> Iterator[Chain]:
    """Yield what feeds the bus: each controller with its strings, the engine, chargers, the battery."""
    for found in result.controllers:
        serves = f"controller:{found.id}"
        rows = [
            _row(system, result, kind, serves)
            for kind in (CircuitKind.STRINGS_TO_COMBINER, CircuitKind.HOME_RUN, CircuitKind.CONTROLLER_TO_BUS)
        ]
        strings = Box("Strings", f"{found.ns or '–'}S{found.np}P {found.pmp_w:g} W")
        yield Chain((strings, Box("Combiner"), Box(f"Controller {found.id}")), tuple(rows))
    engine = [
        _row(system, result, kind) for kind in (CircuitKind.START_BATTERY_TO_DC_DC, CircuitKind.DC_DC_TO_BUS)
    ]
    if any(engine):
        yield Chain((Box("Start battery"), Box("DC-DC")), tuple(engine))
    for row in result.circuits:
        if kinds.get(row.id) in _FEEDS:
            yield Chain((Box(_FEEDS[kinds[row.id]]),), (row,))
    if system.bank:
        bank = system.bank
        box = Box("Battery", f"{bank.quantity} × {bank.unit_capacity_ah:g} Ah")
        yield Chain((box,), (_row(system, result, CircuitKind.BATTERY_TO_MAIN_FUSE),))


def _fed(
    system: sizing.SystemInput, result: sizing.SystemResult, kinds: Mapping[str, str]
) -> Iterator[Chain]:
    if system.inverter:
        box = Box("Inverter", f"{system.inverter.power_w:g} W")
        yield Chain((box,), (_row(system, result, CircuitKind.BUS_TO_INVERTER),))
    for row in result.circuits:
        if kinds.get(row.id) in _LOADS:
            yield Chain((Box(_LOADS[kinds[row.id]]),), (row,))


def _row(
    system: sizing.SystemInput, result: sizing.SystemResult, kind: str, serves: str = ""
) -> sizing.CircuitRow | None:
    """Return the circuit of a kind that serves this thing, or the only one of its kind."""
    names = [each.id for each in system.circuits if each.kind == kind]
    mine = [each.id for each in system.circuits if each.kind == kind and each.serves == serves] or names[:1]
    return next((row for row in result.circuits if row.id in mine[:1]), None)


def _left(chain: Chain, y: int) -> Iterator[str]:
    """Draw boxes and wires from the left to the bus; the last box of every chain stands in one column."""
    x = BUS_X - len(chain.boxes) * (BOX_W + GAP)
    for box, circuit in zip(chain.boxes, chain.circuits, strict=True):
        yield from _box(box, x, y)
        yield from _wire(circuit, x + BOX_W, x + BOX_W + GAP, y + BOX_H // 2)
        x += BOX_W + GAP


def _right(chain: Chain, y: int) -> Iterator[str]:
    yield from _wire(chain.circuits[0], BUS_X, BUS_X + GAP, y + BOX_H // 2)
    yield from _box(chain.boxes[0], BUS_X + GAP, y)


def _box(box: Box, x: int, y: int) -> Iterator[str]:
    yield f'<rect x="{x}" y="{y}" width="{BOX_W}" height="{BOX_H}" fill="#ffffff"/>'
    middle = x + BOX_W // 2
    if box.more:
        yield _text(middle, y + 22, box.words, "middle")
        yield _text(middle, y + 43, box.more, "middle")
    else:
        yield _text(middle, y + 32, box.words, "middle")


def _wire(circuit: sizing.CircuitRow | None, start: int, end: int, y: int) -> Iterator[str]:
    """Draw a wire with its circuit above, its fuse on it; dashed where the schedule has no such circuit."""
    if circuit is None:
        yield f'<line x1="{start}" y1="{y}" x2="{end}" y2="{y}" stroke-dasharray="6 5"/>'
        return
    yield f'<line x1="{start}" y1="{y}" x2="{end}" y2="{y}"/>'
    middle = (start + end) // 2
    size = (circuit.size_words or circuit.size or "").replace(" AWG", "")
    yield _text(middle, y - 13, f"{circuit.id} {size}".strip(), "middle")
    if circuit.fuse_a:
        yield (
            f'<rect x="{middle - 14}" y="{y - 7}" width="28" height="14" fill="#ffffff"/>'
            f'<line x1="{middle - 14}" y1="{y}" x2="{middle + 14}" y2="{y}"/>'
        )
        yield _text(middle, y + 27, f"{circuit.fuse_a:g} A", "middle")


def _text(x: int, y: int, words: str, anchor: str) -> str:
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}" fill="#000000" stroke="none">{escape(words)}</text>'
