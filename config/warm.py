"""Knows what is slow the first time, and does it before anybody waits for it."""

from __future__ import annotations

import importlib


def warm() -> None:
    """Import the solar libraries once."""
    importlib.import_module("pvlib")
