"""Runs the commands of the engine: ``python -m sizing check DESIGN.json`` and its sisters.

A command is a function ``run(argv) -> exit code`` in a module of its own; a refused question is one line on
the error stream and exit code 2, never a traceback.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Final

from sizing.core.printing import refuse

#: Command, module and what it does. A module offers ``run(argv: Sequence[str]) -> int``.
COMMANDS: Final = {
    "check": ("sizing.cli.cli_check", "run", "size a design (JSON) and print the result as JSON"),
    "schema": ("sizing.cli.cli_schema", "run", "print the JSON Schema of a design or of a result"),
    "shade": ("sizing.shade.cli", "run_shade", "work out a year of shade on a roof scene (JSON)"),
    "lay": ("sizing.shade.cli", "run_lay", "lay panels on a roof scene (JSON)"),
}
USAGE: Final = "usage: python -m sizing COMMAND …"


def main(argv: Sequence[str]) -> int:
    """Run one command and return its exit code: 0 done, 1 the answer is no, 2 the question was refused."""
    if not argv or argv[0] in ("-h", "--help", "help"):
        print(_help())
        return 0 if argv else 2
    if argv[0] not in COMMANDS:
        return refuse(f'no command "{argv[0][:60]}"; commands are {", ".join(COMMANDS)}')
    module, function, _ = COMMANDS[argv[0]]
    run = getattr(importlib.import_module(module), function)
    code: int = run(argv[1:])
    return code


def _help() -> str:
    lines = [f"  {name:8}{words}" for name, (_, _, words) in COMMANDS.items()]
    return "\n".join([USAGE, "", *lines])


def _guarded() -> int:
    """Run from the shell: a closed pipe or an interrupt ends quietly, a full disk with one line."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        code = main(sys.argv[1:])
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        _forget_output()
        return 0
    except KeyboardInterrupt:
        return 130
    except OSError as fault:
        if fault.filename is not None:  # a file of the engine, not the output
            raise
        _forget_output()
        return refuse(f"output: cannot be written: {fault.strerror or 'unknown fault'}")
    return code


def _forget_output() -> None:
    """Send what is still to be written nowhere, or Python would try again when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(_guarded())
