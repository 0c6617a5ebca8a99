"""What happens when the work turns out different after acceptance: price it, ask, wait, go on.

Its phases stay locked from the moment it is written down until the customer signs; a word on the phone is
kept and opens nothing. A refused safety matter then waits for the owner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max, Sum

from common.currency import money_text
from common.told import in_english
from jobs.models import ChangeOrder, ChangeOrderLine, GuestLink, Invoice, Job, LineKind, Quote
from jobs.quote import money
from jobs.quote.change_document import change_document
from jobs.quote.document import content_sha256
from jobs.quote.draft import tax_of
from jobs.quote.guest_link import link_create, links_revoke_all
from jobs.quote.guest_mail import mail_link
from jobs.quote.lines import LineDraft, Rates, has_foreign_part, priced, stored
from jobs.shop.actor import ByName, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: How long a change's price can be accepted. A starting value of ours, no source. [h]
VALID_HOURS: Final = 48
#: A link can be read this long. A starting value. [days]
LINK_DAYS: Final = 60
MINIMUM_CODE: Final = "MIN"
S = ChangeOrder.State
_ALIVE: Final = (S.PENDING, S.VERBAL, S.ACCEPTED)


class ChangeRefused(Refusal):
    """The change order cannot be changed or sent so; says why to the person at the desk."""


class ChangeNotOpen(Refusal):
    """The customer can no longer answer; says why to the customer."""


@dataclass(frozen=True, slots=True)
class ChangeFacts:
    """What is written down beside the lines."""

    cause: str
    found_by_name: str
    locked_phases: tuple[str, ...]
    credits_allowance: Decimal = Decimal(0)
    schedule_days: int = 0
    is_safety_critical: bool = False
    minimum_fee: Decimal = Decimal(45)


def accepted_quote(job: Job) -> Quote | None:
    """Return the quote a job is done by, or None before acceptance."""
    return job.quotes.filter(state=Quote.State.ACCEPTED).first()


def allowance_left(job: Job, *, beside: ChangeOrder | None = None) -> Decimal:
    """Return what of the accepted quote's allowances no change order has given back yet; nothing once a final
    invoice has settled them.
    """
    if job.invoices.filter(kind=Invoice.Kind.FINAL).exists():
        return Decimal(0)
    allowed = job.quotes.filter(
        state=Quote.State.ACCEPTED, lines__kind=LineKind.ALLOWANCE, lines__is_optional=False
    ).aggregate(sum=Sum("lines__amount"))["sum"] or Decimal(0)
    orders = job.change_orders.filter(state__in=_ALIVE)
    if beside is not None and beside.pk:
        orders = orders.exclude(pk=beside.pk)
    return allowed - (orders.aggregate(sum=Sum("credits_allowance"))["sum"] or Decimal(0))


def change_sums(
    *, job: Job, lines: Sequence[LineDraft], minimum_fee: Decimal
) -> tuple[list[LineDraft], money.Totals]:
    """Return the lines priced and what they come to, without saving; taxed as the accepted quote is."""
    quote = accepted_quote(job)
    if quote is None:
        raise ChangeRefused("A change order needs an accepted quote: change the quote itself before that.")
    own = priced([line for line in lines if line.code != MINIMUM_CODE], Rates.of_quote(quote))
    done = own + _up_to_minimum(own, minimum_fee)
    return done, money.totals(
        done, tax=tax_of(quote), deposit_fraction=Decimal(0), currency=job.shop.currency
    )


@in_english
@transaction.atomic
def change_order_create(
    *, job: Job, facts: ChangeFacts, lines: Sequence[LineDraft], actor: User, at: datetime
) -> ChangeOrder:
    """Write down a change and lock its phases; whoever installs may, prices come from those who see them."""
    job = Job.objects.select_for_update(of=("self",)).select_related("shop").get(pk=job.pk)
    membership = require(actor, job.shop, "may_install")
    if not job.is_in_install:
        raise ChangeRefused(f"The job is “{job.get_state_display()}”: there is no work to change.")
    if (lines or facts.credits_allowance) and not membership.sees_prices:
        raise ChangeRefused("Write down what you found; the office prices it.")
    last = job.change_orders.aggregate(last=Max("number"))["last"] or 0
    order = ChangeOrder(job=job, number=last + 1, found_at=at)
    _store(order, facts, lines)
    log(
        shop=job.shop, job=job, actor=actor, verb="change order written", detail=str(order),
        reason=facts.cause, at=at,
    )  # fmt: skip
    return order


@in_english
@transaction.atomic
def change_order_price(
    *, order: ChangeOrder, facts: ChangeFacts, lines: Sequence[LineDraft], actor: User, at: datetime
) -> ChangeOrder:
    """Change an order nobody has answered; a link that is out shows the old price, so it is taken back."""
    order = _locked(order)
    require(actor, order.job.shop, "may_design")
    _must_be_open(order)
    before = order.total
    order.snapshot, order.content_sha256, order.sent_at, order.valid_until_at = None, "", None, None
    links_revoke_all(at=at, change_order=order)
    _store(order, facts, lines)
    before_text, after_text = (money_text(sum, order.job.shop.currency) for sum in (before, order.total))
    detail = f"{order}: {before_text} to {after_text}"
    log(
        shop=order.job.shop, job=order.job, actor=actor, verb="change order priced", detail=detail,
        shows_prices=True, at=at,
    )  # fmt: skip
    return order


@in_english
@transaction.atomic
def change_order_send(
    *, order: ChangeOrder, actor: User, at: datetime, site_url: str = ""
) -> tuple[GuestLink, str]:
    """Freeze what the customer reads, start the clock on the price, and return the link with its token."""
    order = _locked(order)
    require(actor, order.job.shop, "may_design")
    order = change_order_show(order=order, actor=actor, at=at)
    links_revoke_all(at=at, change_order=order)
    link, token = link_create(
        job=order.job, change_order=order, at=at, expires_at=at + timedelta(days=LINK_DAYS)
    )
    mail_link(
        job=order.job,
        what=f"Change order {order.number}",
        token=token,
        at=at,
        site_url=site_url,
        is_change=True,
    )
    return link, token


@in_english
@transaction.atomic
def change_order_show(*, order: ChangeOrder, actor: User, at: datetime) -> ChangeOrder:
    """Freeze what the customer reads, to be signed by link or on the shop's own screen."""
    order = _locked(order)
    require(actor, order.job.shop, "sees_prices")
    _must_be_open(order)
    if not order.lines.exists() and not order.credits_allowance and not order.schedule_days:
        raise ChangeRefused("There is nothing to agree to yet: add a price, a credit or a delay.")
    if missing := [line.text for line in order.lines.all() if line.is_unpriced]:
        raise ChangeRefused(f"Price missing: {'; '.join(missing)}. Enter it, or say why the line is free.")
    order.sent_at, order.valid_until_at = at, at + timedelta(hours=VALID_HOURS)
    order.snapshot = change_document(order=order, new_total=new_total(order.job, with_order=order))
    order.content_sha256 = content_sha256(order.snapshot)
    order.save(update_fields=["sent_at", "valid_until_at", "snapshot", "content_sha256"])
    log(shop=order.job.shop, job=order.job, actor=actor, verb="change order shown", detail=str(order), at=at)
    return order


@in_english
@transaction.atomic
def change_order_verbal(
    *, order: ChangeOrder, said_by: str, through: str, actor: User, at: datetime
) -> ChangeOrder:
    """Note a yes by word of mouth. It is kept; the phases stay locked until there is a signature."""
    order = _locked(order)
    require(actor, order.job.shop, "may_install")
    _must_be_open(order)
    if len(said_by.strip()) < 2:
        raise ChangeRefused("Please say who said yes.")
    order.state, order.answered_by_name, order.answered_through = S.VERBAL, said_by.strip(), through
    order.save(update_fields=["state", "answered_by_name", "answered_through"])
    detail = f"{order}: {said_by.strip()}, {through}"
    log(
        shop=order.job.shop,
        job=order.job,
        actor=actor,
        verb="change order agreed by word",
        detail=detail,
        at=at,
    )
    return order


@in_english
@transaction.atomic
def change_order_accept(
    *, order: ChangeOrder, signed_name: str, signature_svg: str, through: str, at: datetime
) -> ChangeOrder:
    """Take the customer's signature: the phases open. Raise ChangeNotOpen when it is too late."""
    order = _locked(order)
    name = _open_name(order, signed_name)
    if order.snapshot is None:
        raise ChangeNotOpen("The price is being worked on. Please ask for a new link.")
    if order.is_expired(at=at):
        raise ChangeNotOpen(
            f"This price was good for {VALID_HOURS} hours. Please ask us to confirm it again."
        )
    order.signature_svg = signature_svg
    return _answer(order, S.ACCEPTED, name, through, at)


@in_english
@transaction.atomic
def change_order_decline(
    *, order: ChangeOrder, signed_name: str, reason: str, through: str, at: datetime
) -> ChangeOrder:
    """Take the customer's no. A safety matter then waits for the owner; anything else goes on as it was."""
    order = _locked(order)
    name = _open_name(order, signed_name)
    if not reason.strip():
        raise ChangeNotOpen("Please tell us in a few words why not.")
    order.answer_note = reason.strip()
    return _answer(order, S.DECLINED, name, through, at)


@in_english
@transaction.atomic
def change_order_decide(*, order: ChangeOrder, decision: str, actor: User, at: datetime) -> ChangeOrder:
    """Write the owner's decision on a refused safety matter; it prints on the job sheet."""
    order = _locked(order)
    require(actor, order.job.shop, "is_owner")
    if not order.needs_owner:
        raise ChangeRefused("There is no declined safety matter to decide on here.")
    if len(decision.strip()) < 15:
        raise ChangeRefused(
            "Say in at least 15 characters what is decided and why: it prints on the job sheet."
        )
    order.owner_decision, order.owner_decided_by_name = decision.strip(), name_of(actor)
    order.save(update_fields=["owner_decision", "owner_decided_by_name"])
    log(
        shop=order.job.shop, job=order.job, actor=actor, verb="refusal decided on", detail=str(order),
        reason=decision.strip(), at=at,
    )  # fmt: skip
    return order


@in_english
@transaction.atomic
def change_order_withdraw(*, order: ChangeOrder, reason: str, actor: User, at: datetime) -> ChangeOrder:
    """Take back a change nobody has answered; its phases open again."""
    order = _locked(order)
    require(actor, order.job.shop, "may_design")
    _must_be_open(order)
    if not reason.strip():
        raise ChangeRefused("Please say why it is no longer needed.")
    order.answer_note = reason.strip()
    links_revoke_all(at=at, change_order=order)
    return _answer(order, S.WITHDRAWN, name_of(actor), "", at)


def new_total(job: Job, *, with_order: ChangeOrder | None = None) -> Decimal:
    """Return the accepted quote plus accepted changes less credits, ``with_order`` counted as if accepted."""
    quote = accepted_quote(job)
    total = quote.owed_total if quote else Decimal(0)
    orders = job.change_orders.filter(state=S.ACCEPTED)
    if with_order is not None:
        orders = orders.exclude(pk=with_order.pk)
        total += with_order.total - with_order.credits_allowance
    sums = orders.aggregate(total=Sum("total"), credit=Sum("credits_allowance"))
    return money.cent(total + (sums["total"] or 0) - (sums["credit"] or 0), job.shop.currency)


def _locked(order: ChangeOrder) -> ChangeOrder:
    related = ("job__shop", "job__vehicle__customer")
    return ChangeOrder.objects.select_for_update(of=("self",)).select_related(*related).get(pk=order.pk)


def _must_be_open(order: ChangeOrder) -> None:
    if not order.is_open:
        raise ChangeRefused(
            f"{order} is “{order.get_state_display()}” and cannot be changed. Write a new one."
        )


def _open_name(order: ChangeOrder, signed_name: str) -> str:
    name = " ".join(signed_name.split())
    if not order.is_open:
        raise ChangeNotOpen(f"This change is “{order.get_state_display().lower()}” already.")
    if len(name) < 2:
        raise ChangeNotOpen("Please type your full name.")
    return name[:150]


def _answer(order: ChangeOrder, state: str, name: str, through: str, at: datetime) -> ChangeOrder:
    order.state, order.answered_at = state, at
    order.answered_by_name, order.answered_through = name, through
    order.save()
    log(
        shop=order.job.shop, job=order.job, actor=ByName(name),
        verb=f"change order {order.get_state_display().lower()}", detail=str(order),
        reason=order.answer_note, at=at,
    )  # fmt: skip
    return order


def _up_to_minimum(lines: Sequence[LineDraft], minimum_fee: Decimal) -> list[LineDraft]:
    """Return the line that lifts a small priced change to the least it is done for; none for a free one."""
    subtotal = sum((line.amount for line in lines if not line.is_optional), Decimal(0))
    if not 0 < subtotal < minimum_fee:
        return []
    text = f"Minimum charge for a change ({minimum_fee})"
    return [LineDraft(LineKind.CALL_OUT, text, MINIMUM_CODE, unit_price=minimum_fee - subtotal)]


def _store(order: ChangeOrder, facts: ChangeFacts, lines: Sequence[LineDraft]) -> None:
    if has_foreign_part(lines, order.job.shop):
        raise ChangeRefused("A line names a part that is not in the shop's catalog.")
    done, sums = change_sums(job=order.job, lines=lines, minimum_fee=facts.minimum_fee)
    left = allowance_left(order.job, beside=order)
    if facts.credits_allowance > left:
        raise ChangeRefused(
            f"Only {money_text(left, order.job.shop.currency)} of the accepted allowances is left to credit"
            f" back, not {money_text(facts.credits_allowance, order.job.shop.currency)}."
        )
    for name in ChangeFacts.__slots__:
        setattr(order, name, getattr(facts, name))
    order.locked_phases = sorted(facts.locked_phases)
    order.subtotal, order.tax, order.total = sums.subtotal, sums.tax, sums.total
    order.full_clean(validate_unique=False)
    order.save()
    order.lines.all().delete()
    ChangeOrderLine.objects.bulk_create(stored(done, ChangeOrderLine, change_order=order))
