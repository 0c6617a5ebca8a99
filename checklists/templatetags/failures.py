"""Says on a page how much failed in the background."""

from __future__ import annotations

from django import template

from checklists.office.failures import failure_count
from jobs.models import Shop

register = template.Library()
register.filter("failure_count", lambda shop: failure_count(shop) if isinstance(shop, Shop) else 0)
