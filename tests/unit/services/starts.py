"""Rows of the table of rights for beginning from another job."""

from __future__ import annotations

from typing import Any

from jobs.design.packages import package_keep, package_remove
from jobs.design.start import design_begin_like, misfits_seen
from jobs.models import Design
from jobs.quote.draft import quote_create
from jobs.quote.repeat import quote_repeat
from tests.unit.services.calls import DESK, Service
from tests.unit.services.world import NOW


def _of_another_job(side: Any) -> Any:
    """Return a design of another job of the shop."""
    others = Design.objects.filter(job__shop=side.shop).exclude(job=side.job)
    return others.select_related("job__shop").order_by("pk").first()


def _begun(side: Any) -> Any:
    """Return a design that was begun like another job's, whose design has a quote."""
    like = _of_another_job(side)
    if not like.quotes.exists():
        quote_create(design=like, actor=side.owner, at=NOW)
    return design_begin_like(job=side.job, like=like, actor=side.owner, at=NOW)


def _with_misfits(side: Any) -> Any:
    """Return a design with something that did not fit."""
    Design.objects.filter(pk=side.design.pk).update(misfits=["Panel 1 hangs over the edge."])
    return side.design


STARTS: tuple[Service, ...] = (
    Service(
        design_begin_like, "design", DESK,
        lambda side, who, like: design_begin_like(job=side.job, like=like, actor=who, at=NOW),
        _of_another_job,
    ),
    Service(
        misfits_seen, "design", DESK,
        lambda side, who, design: misfits_seen(design=design, actor=who, at=NOW), _with_misfits,
    ),
    Service(
        package_keep, "sized", DESK,
        lambda side, who, _: package_keep(
            design=side.design, name="Weekend pair", note="", actor=who, at=NOW
        ),
    ),
    Service(
        package_remove, "sized", DESK,
        lambda side, who, package: package_remove(package=package, actor=who, at=NOW),
        lambda side: package_keep(design=side.design, name="Pair", note="", actor=side.owner, at=NOW),
    ),
    Service(
        quote_repeat, "sized", DESK,
        lambda side, who, design: quote_repeat(design=design, actor=who, at=NOW), _begun,
    ),
)  # fmt: skip
