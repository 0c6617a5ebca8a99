"""How quotes are read for a page: one in full, a job's list, options side by side, a job's sums."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib.auth.models import User
from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from jobs.models import ChangeOrder, GuestLink, Job, LineKind, Quote, QuoteLine, Shop
from jobs.models.quote import Line
from jobs.quote import money
from jobs.quote.document import GROUP_LABELS

_RELATED = ("job__shop", "job__survey", "job__vehicle__customer", "design", "run")


@dataclass(frozen=True, slots=True)
class TwoWays:
    """The same percent as a markup and as a margin, on the parts of one quote."""

    percent: Decimal
    cost: Decimal
    as_markup: Decimal
    as_margin: Decimal
    margin_of_markup: Decimal
    markup_of_margin: Decimal | None


@dataclass(frozen=True, slots=True)
class LineGroup:
    """Lines of one kind with their sum."""

    label: str
    lines: list[Line]
    amount: Decimal
    is_labour: bool
    hours: Decimal


@dataclass(frozen=True, slots=True)
class JobMoney:
    """What a job comes to after its changes."""

    quote: Quote
    orders: list[ChangeOrder]
    changes: Decimal
    credits: Decimal
    total: Decimal


def quotes_visible(user: User) -> QuerySet[Quote]:
    """Return the quotes of the person's shop with what every page of one asks for."""
    return Quote.objects.visible_to(user).select_related(*_RELATED)


def quote_for_page(user: User, pk: int) -> Quote:
    """Return one quote in full; another shop's answers 404."""
    found: Quote = get_object_or_404(
        quotes_visible(user)
        .select_related("design__inverter__part__inverter_sheet", "written_by")
        .prefetch_related(Prefetch("lines", QuoteLine.objects.select_related("part")), "scope_items")
        .prefetch_related(Prefetch("links", GuestLink.objects.filter(revoked_at=None))),
        pk=pk,
    )
    return found


def quotes_of_job(job: Job) -> QuerySet[Quote]:
    """Return a job's quotes, newest first, as the list and the comparison print them."""
    return (
        Quote.objects.filter(job=job)
        .select_related("design__inverter__part__inverter_sheet", "run", "job__survey")
        .prefetch_related("lines")
    )


def state_text(quote: Quote, *, on: date) -> str:
    """Return where a quote stands on this day; one that ran out says so without anybody having to mark it."""
    if quote.state == Quote.State.SENT:
        if quote.is_expired(on=on):
            return "Expired"
        return "Sent, opened" if quote.first_viewed_at else "Sent, not opened yet"
    return quote.get_state_display()


def line_groups(lines: Iterable[Line]) -> list[LineGroup]:
    """Return the lines by kind, in the order of the kinds."""
    lines = list(lines)
    groups = []
    for kind in LineKind:
        rows = [line for line in lines if line.kind == kind]
        if rows:
            counted = [line for line in rows if not line.is_optional]
            groups.append(
                LineGroup(
                    label=GROUP_LABELS.get(kind, str(kind.label)),
                    lines=rows,
                    amount=sum((line.amount for line in counted), Decimal(0)),
                    is_labour=kind == LineKind.LABOUR,
                    hours=sum((line.quantity for line in counted), Decimal(0)),
                )
            )
    return groups


def two_ways(cost: Decimal, shop: Shop) -> TwoWays | None:
    """Return the shop's percent read as markup and as margin on these parts; None without parts."""
    if cost <= 0:
        return None
    share = shop.markup
    is_possible = share < 1
    return TwoWays(
        percent=share,
        cost=cost,
        as_markup=money.cent(money.part_price(cost, share), shop.currency),
        as_margin=money.cent(money.price_for_margin(cost, share), shop.currency)
        if is_possible
        else Decimal(0),
        margin_of_markup=money.margin_of_markup(share),
        markup_of_margin=money.markup_of_margin(share) if is_possible else None,
    )


def job_money(job: Job) -> JobMoney | None:
    """Return the accepted quote with its change orders and what it all comes to; None before acceptance."""
    quote = job.quotes.filter(state=Quote.State.ACCEPTED).first()
    if quote is None:
        return None
    orders = list(job.change_orders.all())
    accepted = [order for order in orders if order.state == ChangeOrder.State.ACCEPTED]
    changes = sum((order.total for order in accepted), Decimal(0))
    credit = sum((order.credits_allowance for order in accepted), Decimal(0))
    return JobMoney(quote, orders, changes, credit, quote.owed_total + changes - credit)
