"""Knows what is slow the first time, and does it before anybody waits for it."""

from __future__ import annotations

import importlib
import py_compile
import sys
from contextlib import suppress
from pathlib import Path

import sizing


def warm() -> None:
    """Import the solar libraries once; have the kernels of the shade engine and all bytecode cached."""
    importlib.import_module("pvlib")
    sizing.warm_shade()
    keep_bytecode()


def keep_bytecode() -> int:
    """Write the bytecode of every loaded module that has none; return how many were written.

    Python does that by itself, but not where PYTHONDONTWRITEBYTECODE is set, as in many containers: there
    each process would compile numba and Django from their sources again, which takes seconds.
    """
    written = 0
    for module in tuple(sys.modules.values()):
        source, cached = getattr(module, "__file__", None), getattr(module, "__cached__", None)
        if not (source and cached and source.endswith(".py")) or Path(cached).exists():
            continue
        with suppress(OSError, py_compile.PyCompileError):
            written += py_compile.compile(source, cached, doraise=True) is not None
    return written
