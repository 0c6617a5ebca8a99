"""Prints answers and refusals of the commands, also on a stream that cannot hold every character."""

from __future__ import annotations

import json
import sys
from typing import Any

from sizing.core.customary import in_units


def print_json(answer: Any) -> None:
    """Print an answer as JSON; with escapes (``\\u00b2``) where the output cannot hold its characters.

    Whose shop reads it is not known here: quantities are printed in both systems.
    """
    text = in_units(json.dumps(answer, indent=1, ensure_ascii=False))
    try:
        text.encode(getattr(sys.stdout, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        text = json.dumps(json.loads(text), indent=1)
    print(text)


def refuse(reason: str) -> int:
    """Print in one line why a question is refused; return the exit code of a refusal."""
    if sys.stderr is not None:
        print(
            f"error: {' '.join(reason.split())}".encode(errors="backslashreplace").decode(), file=sys.stderr
        )
    return 2
