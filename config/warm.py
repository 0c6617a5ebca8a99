"""Does what is slow the first time before anybody waits for it."""

from __future__ import annotations

import compileall
import importlib
import sys

import sizing


def warm() -> None:
    """Import the solar libraries once; have the kernels of the shade engine and all bytecode cached."""
    importlib.import_module("pvlib")
    sizing.warm_shade()
    keep_bytecode()


def keep_bytecode() -> None:
    """Have the bytecode of every loaded module stored and fresh.

    Python does that by itself, but not where PYTHONDONTWRITEBYTECODE is set, as in many containers: there
    each process would compile numba and Django from their sources again, which takes seconds.
    """
    for module in tuple(sys.modules.values()):
        if source := getattr(module, "__file__", None):
            compileall.compile_file(source, quiet=2)  # passes over what is no Python or cannot be written
