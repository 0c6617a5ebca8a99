"""Tells the shop at once what a customer said: a letter to the shop and to whoever wrote the quote."""

from __future__ import annotations

from datetime import datetime

from jobs.models import Job, Membership, Quote
from jobs.shop.outbox import mail_put


def tell_shop(*, quote: Quote, what: str, words: str, at: datetime) -> None:
    """Put a letter in the outbox for the shop's address and the writer's; without either, for the owners."""
    job = quote.job
    for address in _addresses(quote):
        mail_put(
            to=address,
            subject=f"{what}: {job.number}, {job.vehicle.customer.name}, {job.vehicle}",
            body=f"{words}\n\nJob {job.number}, {quote}, {job.vehicle.customer.name}, {job.vehicle}.\n",
            at=at,
            shop=job.shop,
            job=job,
            about=f"{what}: {quote}",
        )


def _addresses(quote: Quote) -> list[str]:
    writer = quote.written_by
    found = [quote.job.shop.email]
    if writer is not None and _is_active(quote.job, writer.pk):
        found.append(writer.email)
    found = [each for each in dict.fromkeys(found) if each]
    return found or _owners(quote.job)


def _is_active(job: Job, user_pk: int) -> bool:
    return Membership.objects.of_shop(job.shop).filter(user=user_pk, is_active=True).exists()


def _owners(job: Job) -> list[str]:
    owners = Membership.objects.of_shop(job.shop).filter(role=Membership.Role.OWNER, is_active=True)
    return [each for each in owners.values_list("user__email", flat=True) if each]
