"""Fills the invented shop: sign-ins, and jobs at different stages of the work.

Everything happens through the same services a person would use, so the demo can never show what the product
cannot do. Each step looks first whether it was done: starting the demo twice changes nothing.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import User
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from config.demo.options import offer_three
from config.demo.price_book import price_book_filled
from config.demo.prices import quote_priced
from jobs.customers.job import job_move
from jobs.design.noted import checks_note
from jobs.design.revision import design_resize
from jobs.ledger.payment import deposit_record
from jobs.models import Design, Job, Membership, Quote, ShadeRun, Shop
from jobs.quote.answer import quote_accept
from jobs.quote.guest_link import link_open
from jobs.quote.send import quote_link, quote_send
from jobs.shade.run import shade_ask, shade_work
from jobs.shop.refusals import Refusal

SHOP_NAME = "Marrow Creek Coach Solar"
DEMO_PASSWORD = "lantern-on-the-ridge"  # noqa: S105  printed for everybody, demo data only
QUOTED_JOB = "2026-003"
JOB_IN_WORK = "2026-005"
#: The way in as the customer, kept between two starts.
_LINK_FILE: Final = settings.VAR_DIR / "demo_link"
#: A verdict the owner looked at before the quote went out: its check and the reason.
NOTED = {
    JOB_IN_WORK: (
        "energy/array_margin",
        "They are on hook-ups every third night and want no third panel; agreed on the telephone.",
    )
}


def bring_to_life() -> str:
    """Set passwords, size every design, send a quote, open an install; return the guest's link."""
    now = timezone.now()
    owner = _people()
    price_book_filled(shop=Shop.objects.get(name=SHOP_NAME), owner=owner, at=now)
    for design in Design.objects.filter(
        job__shop__name=SHOP_NAME, runs__isnull=True, state=Design.State.DRAFT
    ):
        design_resize(design, actor=owner, at=now)
    _quote(QUOTED_JOB, owner, now - dt.timedelta(days=2), is_accepted=False)
    _quote(JOB_IN_WORK, owner, now - dt.timedelta(days=6), is_accepted=True)
    return _guest_link(owner, now)


def guest_path() -> str:
    """Return the path of the quote that waits for its customer, as long as its link is good."""
    try:
        token = _LINK_FILE.read_text().strip() if settings.IS_DEMO else ""
        link_open(token=token, at=timezone.now())
    except (OSError, Refusal):
        return ""
    return reverse("jobs:guest_quote", args=[token])


def _guest_link(owner: Any, now: dt.datetime) -> str:
    """Return the path to the quote that waits. The database keeps hashes only; the demo keeps its token."""
    quote = Quote.objects.filter(
        job__shop__name=SHOP_NAME, job__number=QUOTED_JOB, state=Quote.State.SENT
    ).first()
    if quote is None or (kept := guest_path()):
        return "" if quote is None else kept
    _, token = quote_link(quote=quote, actor=owner, at=now)
    if settings.IS_DEMO:
        _LINK_FILE.touch(mode=0o600)
        _LINK_FILE.write_text(token)
    return reverse("jobs:guest_quote", args=[token])


def _people() -> Any:
    """Give the invented people the printed password and return the owner."""
    members = Membership.objects.select_related("user").filter(shop__name=SHOP_NAME)
    new = [user for user in User.objects.filter(membership__in=members) if not user.has_usable_password()]
    if new:  # all have the same printed one: hashing it once takes half a second, once each takes three
        User.objects.filter(pk__in=[user.pk for user in new]).update(password=make_password(DEMO_PASSWORD))
    return members.get(role=Membership.Role.OWNER).user


def shade_the_roofs() -> int:
    """Work out the year of shade of every invented design that has none yet; return how many were tried."""
    done = ShadeRun.objects.filter(kind=ShadeRun.Kind.YEAR, state=ShadeRun.State.DONE)
    designs = Design.objects.filter(job__shop__name=SHOP_NAME).select_related("job__shop")
    missing = list(designs.exclude(pk__in=done.values("design")))
    for design in missing:
        with contextlib.suppress(Refusal):  # a roof that somebody emptied: its page says why
            run = shade_ask(design=design, actor=_people(), at=timezone.now())
            shade_work(run.pk, clock=timezone.now)
    return len(missing)


@transaction.atomic
def _quote(number: str, owner: Any, at: dt.datetime, *, is_accepted: bool) -> None:
    """Quote the job: as options side by side, or one that the customer accepts a day later. Done once."""
    job = Job.objects.filter(shop__name=SHOP_NAME, number=number).first()
    if job is None or job.quotes.exists():
        return
    job.created_at = min(job.created_at, at - dt.timedelta(days=2))  # opened before it was quoted
    job.save(update_fields=["created_at"])
    design = job.designs.get(number=1)
    if number in NOTED:
        key, reason = NOTED[number]
        checks_note(design=design, keys=[key], reason=reason, actor=owner, at=at)
    if not is_accepted:
        estimator = Membership.objects.get(shop=job.shop, role=Membership.Role.ESTIMATOR)
        offer_three(job, owner=owner, reader=estimator.user, at=at)
        return
    quote = quote_priced(design=design, owner=owner, at=at)
    quote_send(quote=quote, actor=owner, at=at)
    day = dt.timedelta(days=1)
    name = job.vehicle.customer.name
    quote_accept(quote=quote, signed_name=name, signature_svg="", at=at + day)
    job.refresh_from_db()
    deposit_record(job=job, amount=quote.deposit, method="bank", actor=owner, at=at + 2 * day)
    job.refresh_from_db()
    job_move(job=job, to=Job.State.IN_WORK, actor=owner, at=at + 3 * day)
