"""Lines of the log: JSON with the number of the request; refusals without a page of traceback."""

from __future__ import annotations

import logging

from config.health.number import REQUEST_ID


class WithRequest(logging.Filter):
    """Put the request's number on each line."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every line pass, with the number."""
        record.request_id = REQUEST_ID.get()
        return True


class NoTracebackOfRefusals(logging.Filter):
    """A refused request (4xx) is no fault of the program: its line says who was refused what, no more."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every line pass, a refusal without its traceback."""
        if 400 <= getattr(record, "status_code", 0) < 500:
            record.exc_info = record.exc_text = None
        return True
