"""Holds the number of the request at work: in every line of the log, on error pages, in the answer's head."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Final

REQUEST_ID: Final[ContextVar[str]] = ContextVar("request_id", default="")
