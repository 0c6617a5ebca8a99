"""How hours by task, sales tax by day and the scope's words are written into the shop's price book."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import ScopeText, Shop, TaskHours, TaxRate
from jobs.quote.labour import labour_codes
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class PriceBookRefused(Refusal):
    """The price book may not be changed so; says why."""


@in_english
@transaction.atomic
def task_hours_save(*, task: TaskHours, actor: User, at: datetime) -> TaskHours:
    """Write a labor code as the shop has it. Quotes keep the hours they were written with."""
    require(actor, task.shop, "may_design")
    task.full_clean()
    task.save()
    log(shop=task.shop, actor=actor, verb="labor code changed", detail=str(task), at=at)
    return task


@in_english
@transaction.atomic
def task_hours_reset(*, shop: Shop, code: str, actor: User, at: datetime) -> None:
    """Give a labor code its starting words and hours again; one of the shop's own goes."""
    require(actor, shop, "may_design")
    TaskHours.objects.of_shop(shop).filter(code=code).delete()
    verb = "labor code set back" if code in labour_codes() else "labor code removed"
    log(shop=shop, actor=actor, verb=verb, detail=code, at=at)


@in_english
@transaction.atomic
def tax_rate_add(*, rate: TaxRate, actor: User, at: datetime) -> TaxRate:
    """Have a sales tax count from a day on. Quotes keep the tax they were written with."""
    require(actor, rate.shop, "is_owner")
    rate.full_clean()
    rate.save()
    detail = f"{rate.name} from {rate.from_date.isoformat()}"
    log(shop=rate.shop, actor=actor, verb="tax rate added", detail=detail, at=at)
    return rate


@in_english
@transaction.atomic
def tax_rate_remove(*, rate: TaxRate, actor: User, at: datetime) -> None:
    """Take back a tax whose day has not come; one that counted already stays, for the books."""
    require(actor, rate.shop, "is_owner")
    if rate.from_date <= local_date(rate.shop, at):
        raise PriceBookRefused(f"{rate.name} counts already and stays. Add the rate that follows it.")
    detail = f"{rate.name} from {rate.from_date.isoformat()}"
    rate.delete()
    log(shop=rate.shop, actor=actor, verb="tax rate removed", detail=detail, at=at)


@in_english
@transaction.atomic
def scope_text_save(*, text: ScopeText, actor: User, at: datetime) -> ScopeText:
    """Write a line of the scope as the shop says it. Quotes keep the words they were written with."""
    require(actor, text.shop, "may_design")
    text.full_clean()
    text.save()
    log(shop=text.shop, actor=actor, verb="scope line changed", detail=str(text), at=at)
    return text


@in_english
@transaction.atomic
def scope_text_reset(*, text: ScopeText, actor: User, at: datetime) -> None:
    """Give a scope line its starting words again; one of the shop's own goes."""
    require(actor, text.shop, "may_design")
    words = str(text)
    text.delete()
    log(shop=text.shop, actor=actor, verb="scope line set back", detail=words, at=at)
