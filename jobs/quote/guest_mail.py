"""Writes the letter that brings a customer a guest link; the outbox sends it."""

from __future__ import annotations

from datetime import datetime

from jobs.models import Job
from jobs.quote.guest_link import link_url
from jobs.shop.outbox import mail_put


def mail_link(
    *,
    job: Job,
    what: str,
    token: str,
    at: datetime,
    site_url: str = "",
    is_change: bool = False,
    about: str = "",
) -> None:
    """Put the letter with the link in the outbox, where there is an address.

    ``about`` is what the letter is listed under, where that is not ``what`` it brings.
    """
    customer, shop = job.vehicle.customer, job.shop
    if not customer.email:
        return
    url = link_url(token, is_change=is_change, site_url=site_url)
    mail_put(
        to=customer.email,
        subject=f"{shop.name}: {what} for your {job.vehicle}",
        body=letter(customer_name=customer.name, shop_name=shop.name, phone=shop.phone, what=what, url=url),
        at=at,
        shop=shop,
        job=job,
        about=about or what,
    )


def letter(*, customer_name: str, shop_name: str, phone: str, what: str, url: str) -> str:
    """Return the words of the letter, also used for the person's own mail program."""
    call = f"If anything is unclear, call us at {phone}.\n\n" if phone else ""
    return (
        f"Hello {customer_name},\n\n{what} is ready to read. Opening this link does not commit you to"
        f" anything:\n\n{url}\n\n"
        f"Please keep the link to yourself; whoever has it can answer for you. {call}{shop_name}\n"
    )
