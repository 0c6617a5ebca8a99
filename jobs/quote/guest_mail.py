"""Mails a guest link, after the change it tells of is safely stored."""

from __future__ import annotations

from functools import partial

from django.core.mail import EmailMessage
from django.db import transaction

from jobs.models import Job
from jobs.quote.guest_link import link_url


def mail_link(*, job: Job, what: str, token: str, site_url: str = "", is_change: bool = False) -> None:
    """Send the link once the transaction holds, where there is an address; a lost letter stops nothing."""
    customer, shop = job.vehicle.customer, job.shop
    if not customer.email:
        return
    url = link_url(token, is_change=is_change, site_url=site_url)
    message = EmailMessage(
        subject=f"{shop.name}: {what} for your {job.vehicle}",
        body=letter(customer_name=customer.name, shop_name=shop.name, phone=shop.phone, what=what, url=url),
        to=[customer.email],
        reply_to=[shop.email] if shop.email else [],
    )
    transaction.on_commit(partial(_send, message), robust=True)


def letter(*, customer_name: str, shop_name: str, phone: str, what: str, url: str) -> str:
    """Return the words of the letter, also used for the person's own mail program."""
    call = f"If anything is unclear, call us at {phone}.\n\n" if phone else ""
    return (
        f"Hello {customer_name},\n\n{what} is ready to read. Opening this link does not commit you to"
        f" anything:\n\n{url}\n\n"
        f"Please keep the link to yourself; whoever has it can answer for you. {call}{shop_name}\n"
    )


def _send(message: EmailMessage) -> None:
    message.send()
