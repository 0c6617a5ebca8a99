"""How a shop writes a text of the steps in its own words, and goes back to ours."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import ShopText
from checklists.texts.says import LANGUAGES, is_ours, ours
from common.told import in_english
from jobs.models import Shop
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

LONGEST: Final = 600
_PARTS: Final = re.compile(r"\{\w+\}|‹[^‹›]*›")
_SPACES: Final = re.compile(r"\s+")


class TextRefused(Refusal):
    """The text cannot be written like this."""


@in_english
@transaction.atomic
def shop_text_write(
    *, shop: Shop, language: str, source: str, text: str, actor: User, at: datetime
) -> ShopText | None:
    """Write a text in the shop's words; empty or as ours: ours again. What is recorded does not change."""
    require(actor, shop, "is_owner")
    if language not in LANGUAGES or not is_ours(source):
        raise TextRefused("The steps have no such text.")
    words = _SPACES.sub(" ", text).strip()
    standing = ShopText.objects.of_shop(shop).filter(language=language, source=source)
    before = standing.first()
    if not words or words == ours(source, language):
        standing.delete()
        shop.__dict__.pop("_own_texts", None)
        if before is not None:
            _log(
                shop, "step text put back", f"{language}: {before.text} → {ours(source, language)}", actor, at
            )
        return None
    _check(words, ours(source, language))
    shop.__dict__.pop("_own_texts", None)  # what was read of it before no longer holds
    row, _ = ShopText.objects.update_or_create(
        shop=shop, language=language, source=source, defaults={"text": words}
    )
    _log(shop, "step text changed", f"{language}: {ours(source, language)} → {words}", actor, at)
    return row


def _check(words: str, standard: str) -> None:
    """Refuse a text without the quantities and parts of ours: a figure left out could hurt somebody."""
    if len(words) > LONGEST:
        raise TextRefused(f"At most {LONGEST} characters, got {len(words)}.")
    wanted, found = sorted(_PARTS.findall(standard)), sorted(_PARTS.findall(words))
    if wanted != found:
        parts = ", ".join(f"[{part}]" if part.startswith("‹") else part for part in wanted)
        raise TextRefused(f"Keep these parts exactly as they are, each once: {parts or 'none'}.")


def _log(shop: Shop, verb: str, detail: str, actor: User, at: datetime) -> None:
    log(shop=shop, actor=actor, verb=verb, detail=detail, at=at)
