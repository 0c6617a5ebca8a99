"""Knows what is slow the first time, and does it before anybody waits for it."""

from __future__ import annotations

import importlib

import sizing


def warm() -> None:
    """Import the solar libraries once, and have the kernels of the shade engine compiled and cached."""
    importlib.import_module("pvlib")
    sizing.warm_shade()
