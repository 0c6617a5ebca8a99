"""Knows that the tests' database lives in memory on one connection: one thread at a time may use it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from django.http import HttpResponse

ONE_AT_A_TIME = threading.RLock()


class Door:
    """Lets requests in one at a time while a test runs, and none once its records are being cleared."""

    def __init__(self) -> None:
        """Begin shut."""
        self.is_open = False

    def shut(self) -> None:
        """Let nobody in any more; return when the last one inside is done."""
        self.is_open = False
        with ONE_AT_A_TIME:
            pass

    def guard(self, answer: Callable[[Any, Any], HttpResponse]) -> Callable[[Any, Any], HttpResponse]:
        """Return the server's answer, given in turn; a page that asks after its test gets 503."""

        def in_its_turn(handler: Any, request: Any) -> HttpResponse:
            with ONE_AT_A_TIME:
                if not self.is_open:
                    return HttpResponse("This test is over.", status=503)
                return answer(handler, request)

        return in_its_turn
