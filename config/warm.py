"""Knows what is slow the first time, and does it before anybody waits for it."""

from __future__ import annotations


def warm() -> None:
    """Import the solar libraries and run each engine once."""
    import sizing

    sizing.warm()
