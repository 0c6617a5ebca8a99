"""The shop's whole log as a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Final

from django.http import StreamingHttpResponse
from django.views.decorators.http import require_GET

from jobs.models import LogEntry, Shop
from jobs.views.access import ShopRequest, role_required

_HEAD: Final = ("at (UTC)", "who", "what", "job", "detail", "reason")
#: A spreadsheet takes what begins so for a formula.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


@role_required("is_owner")
@require_GET
def log_file(request: ShopRequest) -> StreamingHttpResponse:
    """Give the owner every line of the log, oldest first, as CSV."""
    answer = StreamingHttpResponse(_lines(request.shop), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="log.csv"'
    return answer


def _lines(shop: Shop) -> Iterator[str]:
    yield "\ufeff" + _line(_HEAD)  # the mark by which spreadsheets know UTF-8
    entries = LogEntry.objects.filter(shop=shop).order_by("pk").select_related("job")
    for one in entries.iterator(chunk_size=2000):
        number = one.job.number if one.job else ""
        told = (one.actor_name, one.verb, number, one.detail, one.reason)
        yield _line((f"{one.at:%Y-%m-%d %H:%M:%S}", *(_plain(text) for text in told)))


def _line(values: tuple[str, ...]) -> str:
    written = io.StringIO()
    csv.writer(written).writerow(values)
    return written.getvalue()


def _plain(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else text
