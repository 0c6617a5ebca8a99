"""Designs the shop keeps under a name, to be placed on other vehicles. A kept revision never changes."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.design.revision import DesignRefused, design_freeze
from jobs.engine.stored import latest_run
from jobs.models import Design, Package
from jobs.shop.actor import name_of
from jobs.shop.log import log
from jobs.shop.rights import require


@in_english
@transaction.atomic
def package_keep(*, design: Design, name: str, note: str, actor: User, at: datetime) -> Package:
    """Keep a revision under a name and freeze it: what is placed later is what was kept."""
    shop, name = design.job.shop, name.strip()
    require(actor, shop, "may_design")
    if latest_run(design) is None:
        raise DesignRefused("This revision is not sized: a package is a design that was worked out.")
    if Package.objects.filter(shop=shop, name__iexact=name).exists():
        raise DesignRefused(f"There is a package called {name} already: choose another name.")
    package = Package(shop=shop, name=name, note=note.strip(), design=design, kept_at=at)
    package.kept_by_name = name_of(actor)
    package.full_clean()
    design_freeze(design=design, actor=actor, at=at)
    package.save()
    detail = f"{package}: {design} of job {design.job.number}"
    log(shop=shop, job=design.job, actor=actor, verb="package kept", detail=detail, at=at)
    return package


@in_english
@transaction.atomic
def package_remove(*, package: Package, actor: User, at: datetime) -> None:
    """Keep a package no more. Its design and what was begun from it stay."""
    require(actor, package.shop, "may_design")
    job = package.design.job
    log(shop=package.shop, job=job, actor=actor, verb="package removed", detail=str(package), at=at)
    package.delete()
