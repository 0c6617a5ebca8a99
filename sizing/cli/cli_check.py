"""Sizes the design in a file: ``python -m sizing check DESIGN.json``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any, Final

from sizing.core.customary import in_units
from sizing.core.inputs import InputOutOfRange
from sizing.core.printing import print_json, refuse
from sizing.core.reading import MAX_JSON_BYTES, loads, read_file
from sizing.files.jsonio import input_from_dict, result_to_dict

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
        return refuse("check takes one file: python -m sizing check DESIGN.json")
    try:
        answer = answer_to(read(names[0]))
    except InputOutOfRange as refusal:
        return refuse(str(refusal))
    if "--brief" in argv:
        print(in_units(_brief(answer)))
    else:
        print_json(answer)
    return 0


def answer_to(text: bytes) -> dict[str, Any]:
    """Return the result of the design written as JSON text; raise InputOutOfRange with the reason."""
    from sizing.system.system import size_system  # the whole engine, only once a question can be asked

    return result_to_dict(size_system(input_from_dict(loads(text))))


def read(name: str) -> bytes:
    """Return the bytes of a file or of standard input; raise InputOutOfRange where nothing can be read."""
    if name != "-":
        return read_file(name)
    try:
        return b"" if sys.stdin is None else sys.stdin.buffer.read(MAX_JSON_BYTES + 1)
    except OSError as fault:
        raise InputOutOfRange("file", f"cannot be read: {fault.strerror}") from None


def _brief(answer: dict[str, Any]) -> str:
    lines = [f"{answer['rule_set_title']}"]
    for check in answer["checks"]:
        lines.append(f"{check['verdict'].replace('_', ' ').upper():16} {check['key']}: {check['sentence']}")
    return "\n".join(lines)
