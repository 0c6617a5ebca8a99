"""Puts two smaller plans beside the quoted one, so that the customer of the demo has a choice of three."""

from __future__ import annotations

import contextlib
import datetime as dt
from typing import Any

from config.demo.prices import quote_priced
from jobs.design.circuits import devices_take
from jobs.design.revision import Change, design_change, design_create
from jobs.models import Design, Job, Part, Quote
from jobs.quote.draft import quote_review
from jobs.quote.offer import offer_make, offer_send
from jobs.shop.refusals import Refusal


def offer_three(job: Job, *, owner: Any, reader: Any, at: dt.datetime) -> Quote:
    """Offer the job's own plan with a smaller and a small one beside it; return the recommended quote."""
    largest = job.designs.get(number=1)
    middle = _beside(largest, Design.Option.HEARTH, owner, at, inverter="I2000", batteries=4)
    small = _beside(largest, Design.Option.LANTERN, owner, at, inverter="I1000", batteries=2)
    for design in (small, middle, largest):
        quote_priced(design=design, owner=owner, at=at)
    offer = offer_make(job=job, designs=[small, middle, largest], recommended=largest, actor=owner, at=at)
    for quote in offer.quotes.all():
        quote_review(quote=quote, actor=reader, at=at)
    reason = "Looked at on the telephone with the customer; the cautions stand in the offer."
    offer_send(offer=offer, actor=owner, at=at, reason=reason)
    return offer.quotes.get(design=largest)


def _beside(
    largest: Design, option: str, owner: Any, at: dt.datetime, *, inverter: str, batteries: int
) -> Design:
    """Return a copy with the first string only, another inverter and so many batteries."""
    design = design_create(job=largest.job, actor=owner, at=at, copy_of=largest)

    def smaller(design: Design) -> str:
        design.option = option
        design.save(update_fields=["option"])
        design.panels.filter(string__number__gt=1).delete()
        design.strings.filter(number__gt=1).delete()
        design.bank.quantity = batteries
        design.bank.save()
        design.inverter.part = Part.objects.of_shop(design.job.shop).get(sku=inverter)
        design.inverter.save()
        return f"smaller, as {design.get_option_display()}"

    change = Change(actor=owner, at=at)
    design_change(design, change, "design made smaller", smaller)
    with contextlib.suppress(Refusal):  # every fuse may fit as it is
        devices_take(design=design, change=change)
    return Design.objects.get(pk=design.pk)
