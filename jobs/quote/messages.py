"""What a customer asks about a quote and what the shop answers: kept as one thread, mailed both ways."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet

from common.told import in_english
from jobs.models import CustomerMessage, Job, Quote
from jobs.quote.draft import locked_quote
from jobs.quote.tell_shop import tell_shop
from jobs.shop.actor import ByName, name_of
from jobs.shop.log import log
from jobs.shop.outbox import mail_put
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: A customer's words about one job that wait for an answer; more are refused until the shop has answered.
MOST_WAITING: Final = 20
#: The longest message. [characters]
LONGEST: Final = 2000
Kind = CustomerMessage.Kind


class MessageRefused(Refusal):
    """The words cannot be taken; says why."""


@in_english
@transaction.atomic
def message_ask(*, quote: Quote, kind: str, name: str, text: str, at: datetime) -> CustomerMessage:
    """Take a customer's question, or wish for a change, and tell the shop at once."""
    quote = _locked(quote)
    name, text = " ".join(name.split())[:150], text.strip()
    if kind not in {Kind.QUESTION, Kind.CHANGE}:
        raise MessageRefused("Please say whether it is a question or a wish for a change.")
    if len(name) < 2:
        raise MessageRefused("Please type your name.")
    _refuse_text(text)
    if (
        quote.job.messages.filter(kind__in=[Kind.QUESTION, Kind.CHANGE], settled_at=None).count()
        >= MOST_WAITING
    ):
        raise MessageRefused("Your earlier messages are still waiting for our answer. Please call us.")
    message = CustomerMessage.objects.create(
        job=quote.job, quote=quote, kind=kind, author_name=name, text=text, at=at
    )
    verb = "customer asked" if kind == Kind.QUESTION else "customer asked for a change"
    log(shop=quote.job.shop, job=quote.job, actor=ByName(name), verb=verb, detail=str(quote), at=at)
    what = "Question" if kind == Kind.QUESTION else "A change is asked for"
    tell_shop(quote=quote, what=what, words=f"{name} wrote:\n\n{text}", at=at)
    return message


@in_english
@transaction.atomic
def message_answer(*, quote: Quote, text: str, actor: User, at: datetime) -> CustomerMessage:
    """Answer what a customer asked: it stands on their page, and goes to them by mail."""
    quote = _locked(quote)
    require(actor, quote.job.shop, "may_design")
    text = text.strip()
    _refuse_text(text)
    waiting = _of(quote).filter(settled_at=None)
    asked = waiting.last()
    message = CustomerMessage.objects.create(
        job=quote.job, quote=quote, kind=Kind.ANSWER, author_name=name_of(actor), text=text, at=at,
        settled_at=at,
    )  # fmt: skip
    waiting.update(settled_at=at)
    log(shop=quote.job.shop, job=quote.job, actor=actor, verb="customer answered", detail=str(quote), at=at)
    _mail_customer(quote, message, asked, at)
    return message


@in_english
@transaction.atomic
def messages_settle(*, quote: Quote, actor: User, at: datetime) -> int:
    """Say that what the customer asked needs no answer here: it was settled on the phone."""
    quote = _locked(quote)
    require(actor, quote.job.shop, "may_design")
    count = _of(quote).filter(settled_at=None).update(settled_at=at)
    if count:
        verb = "questions settled by phone"
        log(shop=quote.job.shop, job=quote.job, actor=actor, verb=verb, detail=str(quote), at=at)
    return count


def thread(quote: Quote) -> list[CustomerMessage]:
    """Return what was said about a quote and its options, oldest first."""
    return list(_of(quote))


def waiting_count(job: Job) -> int:
    """Return how many words of the customer wait for an answer."""
    return job.messages.filter(settled_at=None).count()


def _of(quote: Quote) -> QuerySet[CustomerMessage]:
    """Return what was said about a quote or the options beside it, oldest first."""
    found = CustomerMessage.objects.filter(job=quote.job_id).order_by("pk")
    return found.filter(quote__offer=quote.offer_id) if quote.offer_id else found.filter(quote=quote)


def _locked(quote: Quote) -> Quote:
    locked = locked_quote(quote)
    if locked.is_draft:
        raise MessageRefused("This quote has not been sent yet.")
    return locked


def _refuse_text(text: str) -> None:
    if not text:
        raise MessageRefused("Please write a few words.")
    if len(text) > LONGEST:
        raise MessageRefused(f"Please keep it to {LONGEST:,} characters; this has {len(text):,}.")


def _mail_customer(
    quote: Quote, answer: CustomerMessage, asked: CustomerMessage | None, at: datetime
) -> None:
    customer, shop = quote.job.vehicle.customer, quote.job.shop
    if not customer.email:
        return
    earlier = f"\n\nYou wrote:\n\n{asked.text}\n" if asked else "\n"
    mail_put(
        to=customer.email,
        subject=f"{shop.name}: our answer about Quote {quote.number}",
        body=f"Hello {customer.name},\n\n{answer.text}\n\n{answer.author_name}, {shop.name}{earlier}\n"
        "It also stands on the page of your quote: the link in our earlier letter opens it.\n",
        at=at,
        shop=shop,
        job=quote.job,
        about=f"Answer about Quote {quote.number}",
    )
