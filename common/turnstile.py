"""Lets a few through at a time, has a few more wait, and sends the rest away with a time to come again.

Threads of a web process share one interpreter and are few: work that many devices bring at once must neither
take all of them nor all of its time from the people who look at pages.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from django.http import HttpRequest, HttpResponse, JsonResponse

from common.told import told

#: Who is sent away comes again after so long, each a little sooner or later. [s]
AGAIN_AFTER_S: Final = 5

View = Callable[..., HttpResponse]


class Full(Exception):
    """Nobody more can wait."""


@dataclass
class Turnstile:
    """``at_once`` work side by side, ``waiting`` more wait for them in the order they came."""

    at_once: int
    waiting: int
    _inside: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self._gate = threading.Semaphore(self.at_once)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for a turn and hold it; raise Full where too many wait already."""
        with self._lock:
            if self._inside >= self.at_once + self.waiting:
                raise Full
            self._inside += 1
        try:
            with self._gate:
                yield
        finally:
            with self._lock:
                self._inside -= 1


def in_turn(turnstile: Turnstile, *methods: str) -> Callable[[View], View]:
    """Have a view's requests of these methods pass a turnstile; who finds it full is told to come again."""

    def decorate(view: View) -> View:
        @functools.wraps(view)
        def passed(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method not in methods:
                return view(request, *args, **kwargs)
            try:
                with turnstile.turn():
                    return view(request, *args, **kwargs)
            except Full:
                return _come_again()

        return passed

    return decorate


def _come_again() -> HttpResponse:
    """Answer who cannot wait here; that is no fault, and the log is not filled with it."""
    words = told("The server is busy with other tablets; this is sent again by itself.")
    answer = JsonResponse({"error": words}, status=503, headers={"Retry-After": str(AGAIN_AFTER_S)})
    answer._has_been_logged = True  # type: ignore[attr-defined]  # what Django asks before it logs a 5xx
    return answer
