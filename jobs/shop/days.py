"""Turns a moment into the day it is at a shop."""

from __future__ import annotations

import zoneinfo
from datetime import date, datetime

from jobs.models import Shop


def local_date(shop: Shop, at: datetime) -> date:
    """Return the day it is at the shop."""
    return at.astimezone(zoneinfo.ZoneInfo(shop.time_zone)).date()
