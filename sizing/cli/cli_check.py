"""``python -m sizing check DESIGN.json``: a design in, the result as JSON out."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from sizing.core.inputs import InputOutOfRange
from sizing.files.jsonio import MAX_JSON_BYTES, input_from_dict, loads, result_to_dict

USAGE: Final = """\
usage: python -m sizing check DESIGN.json [--brief]

Reads a design (- is standard input) and prints the result as JSON.
  --brief   print verdict, value, limit and sentence of each check as text instead

exit codes: 0 the design could be judged, 2 the question was refused (one line says why).
The verdict itself is in the result, not in the exit code."""


def run(argv: Sequence[str]) -> int:
    """Print the answer to the design in a file; return 2 and one line where it cannot be asked."""
    names = [each for each in argv if each != "--brief"]
    if any(each in ("-h", "--help") for each in names):
        print(USAGE)
        return 0
    if len(names) != 1 or (names[0].startswith("-") and names[0] != "-"):
        return _refuse("check takes one file: python -m sizing check DESIGN.json")
    try:
        answer = answer_to(read(names[0]))
    except InputOutOfRange as refusal:
        return _refuse(str(refusal))
    print(_brief(answer) if "--brief" in argv else json.dumps(answer, indent=1, ensure_ascii=False))
    return 0


def answer_to(text: bytes) -> dict[str, Any]:
    """Return the result of the design written as JSON text; raise InputOutOfRange with the reason."""
    from sizing.system.system import size_system  # the whole engine, only once a question can be asked

    return result_to_dict(size_system(input_from_dict(loads(text))))


def read(name: str) -> bytes:
    """Return the bytes of a file or of standard input; raise InputOutOfRange where nothing can be read."""
    try:
        if name == "-":
            return b"" if sys.stdin is None else sys.stdin.buffer.read(MAX_JSON_BYTES + 1)
        with Path(name).open("rb") as handle:
            return handle.read(MAX_JSON_BYTES + 1)
    except IsADirectoryError:
        raise InputOutOfRange("file", f'"{name}" is a folder, not a file') from None
    except FileNotFoundError:
        raise InputOutOfRange("file", f'there is no file "{name}"') from None
    except (OSError, ValueError) as fault:
        raise InputOutOfRange("file", f"cannot be read: {_reason(fault)}") from None


def _reason(fault: OSError | ValueError) -> str:
    return fault.strerror or "unknown fault" if isinstance(fault, OSError) else str(fault)


def _brief(answer: dict[str, Any]) -> str:
    lines = [f"{answer['rule_set_title']}"]
    for check in answer["checks"]:
        lines.append(f"{check['verdict'].replace('_', ' ').upper():16} {check['key']}: {check['sentence']}")
    return "\n".join(lines)


def _refuse(reason: str) -> int:
    line = " ".join(reason.split())
    print(f"error: {line}".encode(errors="backslashreplace").decode(), file=sys.stderr)
    return 2
