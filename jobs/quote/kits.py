"""What comes onto a quote with a part: its kit, each as a line of its own that says why it is there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, Decimal
from typing import Final

from jobs.models import KitItem, LineKind, Quote, Shop
from jobs.quote.lines import LineDraft

#: Sold by length or weight: any part of one may be bought. All else comes whole.
_DIVISIBLE: Final = frozenset({"ft", "foot", "feet", "m", "meter", "lb", "kg"})
_THOUSANDTH: Final = Decimal("0.001")
_MOST_TEXT: Final = 200


def with_kits(quote: Quote, lines: Sequence[LineDraft]) -> list[LineDraft]:
    """Return the lines with the kits of parts that the quote does not have yet, after the last part.

    A kit comes once: what somebody took out of it does not come back with the next saving.
    """
    had = set(quote.lines.exclude(part=None).values_list("part_id", flat=True))
    heads = [line for line in lines if line.part_id is not None and line.part_id not in had]
    extra = kit_lines(heads, quote.job.shop)
    last = max((n for n, line in enumerate(lines, 1) if line.kind == LineKind.PART), default=len(lines))
    return [*lines[:last], *extra, *lines[last:]]


def kit_lines(heads: Iterable[LineDraft], shop: Shop) -> list[LineDraft]:
    """Return the lines that come with these, one for each part of each kit; a kit of a kit is not opened."""
    wanted = [line for line in heads if line.kind == LineKind.PART and line.part_id is not None]
    items = KitItem.objects.of_shop(shop).filter(head__in={line.part_id for line in wanted})
    by_head: dict[int | None, list[KitItem]] = {}
    for item in items.filter(part__is_active=True).select_related("part", "head"):
        by_head.setdefault(item.head_id, []).append(item)
    return [_line(line, item) for line in wanted for item in by_head.get(line.part_id, ())]


def _line(head: LineDraft, item: KitItem) -> LineDraft:
    return LineDraft(
        LineKind.PART,
        f"{item.part.name}, goes with {item.head.name}"[:_MOST_TEXT],
        quantity=_quantity(head.quantity, item),
        unit=item.part.unit,
        unit_cost=item.part.cost,
        markup=head.markup,
        is_margin=head.is_margin,
        is_banded=head.is_banded,
        is_optional=head.is_optional,
        part_id=item.part_id,
    )


def _quantity(of_head: Decimal, item: KitItem) -> Decimal:
    """Return how many come: as many as the line has units, or once; pieces are whole, rounded up."""
    wanted = item.quantity * (of_head if item.per == KitItem.Per.UNIT else 1)
    step = _THOUSANDTH if item.part.unit in _DIVISIBLE else Decimal(1)
    return wanted.quantize(step, rounding=ROUND_CEILING)
