"""How fast a shop works against its plan, by the clocks of its finished jobs.

The clocks are kept by the install record, which this app never imports: it says here how to read them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from decimal import Decimal
from typing import Final

from jobs.models import Job, LineKind, QuoteLine, Shop
from jobs.quote.lines import HOUR
from jobs.schedule.days import SPEED_LIMITS

#: Of a shop's jobs (by key) the hours that everybody worked on each.
type Worked = Callable[[Shop, Collection[int]], Mapping[int, float]]

#: So many of the last finished jobs count; with fewer than three the plan stands. Ours, no source.
_LAST: Final = 12
_LEAST: Final = 3
_FINISHED: Final = (Job.State.RELEASED, Job.State.INVOICED, Job.State.PAID, Job.State.IN_CARE)
_READERS: Final[list[Worked]] = []


def worked_hours_by(reader: Worked) -> None:
    """Say how worked hours are read; the last one said is asked."""
    _READERS[:] = [reader]


def speed_of(shop: Shop) -> Decimal | None:
    """Return the hours worked for each hour sold on the last finished jobs; None where too few tell."""
    jobs = Job.objects.of_shop(shop).filter(state__in=_FINISHED).order_by("-moved_at", "-pk")
    pks = list(jobs.values_list("pk", flat=True)[:_LAST])
    if not _READERS or len(pks) < _LEAST:
        return None
    worked, sold = _READERS[0](shop, pks), _sold(pks)
    both = [pk for pk in pks if worked.get(pk) and sold.get(pk)]
    if len(both) < _LEAST:
        return None
    ratio = sum(Decimal(str(worked[pk])) for pk in both) / sum((sold[pk] for pk in both), Decimal(0))
    low, high = SPEED_LIMITS
    return min(max(ratio, low), high).quantize(Decimal("0.001"))


def _sold(pks: Collection[int]) -> dict[int, Decimal]:
    """Return the hours sold on each job; of an hour of a pair both people's, as the clocks count them."""
    lines = QuoteLine.objects.filter(
        quote__job__in=pks, quote__state="accepted", kind=LineKind.LABOUR, unit=HOUR, is_optional=False
    ).values_list("quote__job", "quantity", "is_pair")
    sold: dict[int, Decimal] = {}
    for pk, hours, is_pair in lines:
        sold[pk] = sold.get(pk, Decimal(0)) + hours * (2 if is_pair else 1)
    return sold
