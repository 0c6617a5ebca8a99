"""What the customer is shown of a change order, with no cost or margin anywhere in it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from babel.dates import format_datetime

from common.told import in_english
from jobs.models import ChangeOrder, PhaseChoice, Shop
from jobs.quote import money
from jobs.quote.document import shown_line, shown_shop, shown_vehicle

WAITING_TERM = (
    "Work on these phases waits until you have answered in writing. A spoken yes is recorded but does not"
    " start the work."
)


@in_english
def change_document(*, order: ChangeOrder, new_total: Decimal) -> dict[str, Any]:
    """Return the change order as the customer reads it."""
    job, shop = order.job, order.job.shop
    return {
        "form": "change 1",
        "shop": shown_shop(shop),
        "customer": job.vehicle.customer.name,
        "vehicle": shown_vehicle(job.vehicle),
        "job": job.number,
        "number": order.number,
        "cause": order.cause,
        "found": f"{order.found_by_name}, {moment(order.found_at, shop)}",
        "phases": [f"{letter} {PhaseChoice(letter).label}" for letter in order.locked_phases],
        "lines": [shown_line(line) for line in order.lines.all() if line.amount != 0],
        "totals": {
            "subtotal": str(order.subtotal),
            "tax": str(order.tax),
            "total": str(order.total),
            "credit": str(order.credits_allowance) if order.credits_allowance else "",
            "before": str(money.cent(new_total - order.total + order.credits_allowance, shop.currency)),
            "new_total": str(new_total),
        },
        "schedule": _schedule(order.schedule_days),
        "is_safety_critical": order.is_safety_critical,
        "valid_until": moment(order.valid_until_at, shop) if order.valid_until_at else "",
        "terms": [WAITING_TERM] if order.locked_phases else [],
    }


def moment(at: datetime, shop: Shop) -> str:
    """Return a moment in words, in the shop's own time."""
    return format_datetime(at, "MMM d, y, h:mm a", tzinfo=ZoneInfo(shop.time_zone), locale="en_US")


def _schedule(days: int) -> str:
    if not days:
        return "The finish date does not move."
    direction = "later" if days > 0 else "earlier"
    return f"The work is finished {abs(days)} {'day' if abs(days) == 1 else 'days'} {direction}."
