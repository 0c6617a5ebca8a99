"""The shop's mark on quotes and job papers: taken from a picture file, made small, kept with the shop."""

from __future__ import annotations

import io
from datetime import datetime
from typing import IO, Final

from django.contrib.auth.models import User
from django.db import transaction
from PIL import Image, UnidentifiedImageError

from common.told import in_english
from jobs.models import Shop, ShopLogo
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: The largest logo kept; it prints 40 mm wide. [pixels]
WIDEST: Final = 480
HIGHEST: Final = 160
#: The largest file taken in. [bytes]
LARGEST: Final = 5_000_000
#: A picture that unpacks to more is not read. [pixels]
MOST_PIXELS: Final = 40_000_000


class LogoRefused(Refusal):
    """The file is no picture we can print; says why."""


@in_english
@transaction.atomic
def logo_save(*, shop: Shop, file: IO[bytes] | None, actor: User, at: datetime) -> ShopLogo | None:
    """Take a picture as the shop's logo, made small; None takes the logo away."""
    require(actor, shop, "is_owner")
    ShopLogo.objects.filter(shop=shop).delete()
    verb = "logo removed" if file is None else "logo changed"
    log(shop=shop, actor=actor, verb=verb, at=at)
    if file is None:
        return None
    png, width, height = _small(file)
    return ShopLogo.objects.create(shop=shop, png=png, width=width, height=height)


def logo_of(shop: Shop) -> ShopLogo | None:
    """Return the shop's logo, None where it has none."""
    return ShopLogo.objects.of_shop(shop).first()


def _small(file: IO[bytes]) -> tuple[bytes, int, int]:
    content = file.read(LARGEST + 1)
    if len(content) > LARGEST:
        raise LogoRefused(f"The logo's file may have up to {LARGEST // 1_000_000} MB.")
    try:
        with Image.open(io.BytesIO(content), formats=("PNG", "JPEG", "WEBP", "GIF")) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise LogoRefused(f"The logo may have up to {MOST_PIXELS // 1_000_000} million pixels.")
            small = picture.convert("RGBA")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as no:
        raise LogoRefused("This is no picture we can read: use PNG, JPEG, WebP or GIF.") from no
    small.thumbnail((WIDEST, HIGHEST), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.quantize(256, method=Image.Quantize.FASTOCTREE).save(out, "PNG", optimize=True)
    return out.getvalue(), small.width, small.height
