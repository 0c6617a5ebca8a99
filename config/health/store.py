"""Says in a sentence when nothing can be stored just now, and gives back what was typed.

A full disk, a disk or database that is read only, a database that is locked or cannot be reached: each is
answered with 507 or 503 and when to try again, to a program as JSON, to a person as a page that sends the
same entries again. Numbers no row can have are answered as addresses of nothing.
"""

from __future__ import annotations

import errno
import logging
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from django.db import DatabaseError, InterfaceError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string

from common.files import FileMissing
from config.health.number import REQUEST_ID

logger = logging.getLogger("coachlight.store")

#: The largest key a row can have: 63 bits and a sign, on every engine.
LARGEST_KEY: Final = 2**63 - 1
#: Never given back: what proves who somebody is.
_SECRET: Final = re.compile(r"csrf|password|passphrase|secret|token|\bpin\b|otp", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why nothing can be stored: the answer's status, a sentence, and when to try again."""

    status: int
    sentence: str
    retry_after_s: int


FULL: Final = Trouble(
    507,
    "The server's disk is full, so nothing was saved. Tell whoever looks after the server to make room.",
    300,
)
READ_ONLY: Final = Trouble(
    503,
    "The server can only read at the moment, so nothing was saved. Tell whoever looks after the server that"
    " its database or folder of files is read only.",
    300,
)
BUSY: Final = Trouble(
    503, "The server is busy saving other work, so nothing was saved. Send it again in some seconds.", 5
)
AWAY: Final = Trouble(
    503,
    "The server cannot reach its stored work at the moment, so nothing was saved. Send it again in a minute;"
    " if that does not help, tell whoever looks after the server.",
    60,
)

#: Operating system, SQLite (https://www.sqlite.org/rescode.html, primary codes) and PostgreSQL (appendix A,
#: error codes; whole classes by their first two characters).
_BY_ERRNO: Final = {
    errno.ENOSPC: FULL, errno.EDQUOT: FULL, errno.EROFS: READ_ONLY, errno.EHOSTUNREACH: AWAY,
}  # fmt: skip
_BY_SQLITE: Final = {13: FULL, 8: READ_ONLY, 5: BUSY, 6: BUSY, 10: AWAY, 14: AWAY}
_BY_SQLSTATE: Final = {
    "53100": FULL, "25006": READ_ONLY, "55P03": BUSY, "40P01": BUSY, "40001": BUSY, "53": AWAY, "08": AWAY,
    "57": AWAY, "58": AWAY,
}  # fmt: skip
_BY_WORDS: Final = (
    ("disk is full", FULL),
    ("readonly database", READ_ONLY),
    ("is locked", BUSY),
    ("unable to open database", AWAY),
    ("disk i/o error", AWAY),
    ("connection", AWAY),
)


def trouble_of(problem: BaseException | None) -> Trouble | None:
    """Return why nothing can be stored, where that is what an exception means."""
    for each in _chain(problem):
        found = _by_number(each) or (_by_words(each) if isinstance(each, DatabaseError) else None)
        if found:
            return found
        if isinstance(each, InterfaceError):
            return AWAY
    return None


def _chain(problem: BaseException | None) -> Iterator[BaseException]:
    """Yield an exception and what led to it."""
    seen: set[int] = set()
    while problem is not None and id(problem) not in seen:
        seen.add(id(problem))
        yield problem
        problem = problem.__cause__ or problem.__context__


def _by_number(problem: BaseException) -> Trouble | None:
    if isinstance(problem, OSError):
        return _BY_ERRNO.get(problem.errno or 0)
    state = str(getattr(problem, "sqlstate", "") or "")
    code = getattr(problem, "sqlite_errorcode", None)
    by_code = _BY_SQLITE.get(code & 0xFF) if isinstance(code, int) else None
    return by_code or _BY_SQLSTATE.get(state) or _BY_SQLSTATE.get(state[:2])


def _by_words(problem: DatabaseError) -> Trouble | None:
    told = str(problem).lower()
    return next((trouble for words, trouble in _BY_WORDS if words in told), None)


class StoreMiddleware:
    """Answer what cannot be stored, keys beyond every row, and files that are gone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> None:
        """Let no number beyond the largest key reach a query."""
        if any(isinstance(value, int) and value > LARGEST_KEY for value in kwargs.values()):
            raise Http404

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the answer for these faults; others rise."""
        if isinstance(exception, FileMissing):
            logger.error("%s: %s", request.path, exception)
            return render(request, "404.html", {"sentence": str(exception)}, status=404)
        if isinstance(exception, OverflowError) and "too large to convert to SQLite" in str(exception):
            return render(request, "404.html", status=404)
        return answered(request, exception)


def answered(request: HttpRequest, problem: BaseException | None) -> HttpResponse | None:
    """Return the answer of a request that could not store; None where that was not the fault."""
    trouble = trouble_of(problem)
    if trouble is None:
        return None
    logger.error("%s %s: %s", request.method, request.path, trouble.sentence, exc_info=problem)
    if _wants_data(request):
        answer: HttpResponse = JsonResponse({"error": trouble.sentence}, status=trouble.status)
    else:
        answer = HttpResponse(_page(request, trouble), status=trouble.status)
    answer["Retry-After"] = str(trouble.retry_after_s)
    answer["Cache-Control"] = "no-store"
    return answer


def _wants_data(request: HttpRequest) -> bool:
    accepted = request.headers.get("Accept", "")
    return "json" in (request.content_type or "") or ("html" not in accepted and "json" in accepted)


def _page(request: HttpRequest, trouble: Trouble) -> str:
    """Return the page; nothing of the shop is read, the fault may lie there."""
    context = {
        "sentence": trouble.sentence,
        "request_id": REQUEST_ID.get(),
        "path": request.get_full_path(),
        "is_sent": request.method == "POST",
    }
    if request.method == "POST":
        context |= {"typed": _typed(request), "csrf": get_token(request), "had_files": _had_files(request)}
    return render_to_string("507.html", context)


def _typed(request: HttpRequest) -> list[tuple[str, str]]:
    """Return what a form sent, without its secrets."""
    try:
        sent = request.POST.lists()
    except Exception:  # the body broke off, or could not be put aside: the disk is full
        return []
    return [(name, value) for name, values in sent if not _SECRET.search(name) for value in values]


def _had_files(request: HttpRequest) -> bool:
    return (request.content_type or "").startswith("multipart/")


def server_error(request: HttpRequest) -> HttpResponse:
    """Show the page for a fault of ours; nothing of the shop is read, the fault may lie there."""
    answer = answered(request, sys.exception())
    if answer is not None:
        return answer
    return HttpResponse(render_to_string("500.html", {"request_id": REQUEST_ID.get()}), status=500)
