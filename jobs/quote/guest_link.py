"""The link a customer is given: one document, a secret of 256 bits of which only the hash is kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.urls import reverse

from common.told import in_english
from jobs.models import ChangeOrder, GuestLink, Job, Quote
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

TOKEN_BYTES: Final = 32


class LinkUnknown(Refusal):
    """There is no such link, or it was taken back; nothing more is said about it."""


class LinkExpired(Refusal):
    """The link was right once; its time is over."""

    def __init__(self, link: GuestLink) -> None:
        super().__init__("This link has expired. Please ask for a new one.")
        self.link = link


def token_sha256(token: str) -> str:
    """Return what is stored of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def link_create(
    *,
    job: Job,
    at: datetime,
    expires_at: datetime,
    quote: Quote | None = None,
    change_order: ChangeOrder | None = None,
) -> tuple[GuestLink, str]:
    """Make a link to one document and return it with its token, which nobody can read again later."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = GuestLink.objects.create(
        job=job,
        quote=quote,
        change_order=change_order,
        token_sha256=token_sha256(token),
        created_at=at,
        expires_at=expires_at,
    )
    return link, token


def link_open(*, token: str, at: datetime) -> GuestLink:
    """Return the link of this token; raise LinkUnknown or LinkExpired."""
    return link_again(token_sha256=token_sha256(token), at=at)


def link_again(*, token_sha256: str, at: datetime) -> GuestLink:
    """Return the link whose token has this hash; raise LinkUnknown or LinkExpired."""
    link = (
        GuestLink.objects.select_related(
            "job__shop",
            "job__vehicle__customer",
            "quote__job__shop",
            "quote__design",
            "change_order__job__shop",
        )
        .filter(token_sha256=token_sha256)
        .first()
    )
    if link is None or link.revoked_at is not None:
        raise LinkUnknown("We cannot find this page.")
    if at > link.expires_at:
        raise LinkExpired(link)
    return link


def link_hold(*, link: GuestLink) -> None:
    """Hold a link while an answer through it is stored; raise LinkUnknown for one taken back meanwhile."""
    if GuestLink.objects.select_for_update(no_key=True).filter(pk=link.pk, revoked_at=None).first() is None:
        raise LinkUnknown("This link was taken back. Please use the newest link, or call the shop.")


def link_mark_used(*, link: GuestLink, at: datetime) -> None:
    """Note that the customer opened it; a quote also keeps the first time."""
    GuestLink.objects.filter(pk=link.pk).update(last_used_at=at)
    if link.quote_id and link.quote is not None and link.quote.first_viewed_at is None:
        Quote.objects.filter(pk=link.quote_id, first_viewed_at=None).update(first_viewed_at=at)


@in_english
@transaction.atomic
def link_revoke(*, link: GuestLink, actor: User, at: datetime) -> GuestLink:
    """Take a link back: from now on its address answers like any unknown one."""
    link = GuestLink.objects.select_for_update().get(pk=link.pk)
    require(actor, link.job.shop, "may_design")
    if link.revoked_at is None:
        link.revoked_at = at
        link.save(update_fields=["revoked_at"])
        what = str(link.quote or link.change_order or "")
        log(shop=link.job.shop, job=link.job, actor=actor, verb="guest link taken back", detail=what, at=at)
    return link


def links_revoke_all(*, at: datetime, **document: Any) -> None:
    """Take back every open link of one document, so that a new one stands alone."""
    GuestLink.objects.filter(revoked_at=None, **document).update(revoked_at=at)


def link_url(token: str, *, is_change: bool = False, site_url: str = "") -> str:
    """Return the full address to hand to the customer."""
    path = reverse("jobs:guest_change" if is_change else "jobs:guest_quote", kwargs={"token": token})
    return f"{(site_url or settings.SITE_URL).rstrip('/')}{path}"
