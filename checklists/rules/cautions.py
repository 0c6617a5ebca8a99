"""Names the checks of circuits that are a caution or lack data: the go accepts each by name. Pure.

``static/js/tablet/rules/cautions.js`` says the same of what was recorded on the tablet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

_WORDS: Final = {"caution": "caution", "not_enough_data": "not enough data"}
_START: Final = "circuit:"


@dataclass(frozen=True, slots=True)
class CircuitCaution:
    """One check of a circuit that is no plain pass: the name of its field, and its words."""

    key: str
    name: str
    words: str


def circuit_cautions(checks: Iterable[Mapping[str, Any]]) -> list[CircuitCaution]:
    """Return the cautions among the checks of an answer, in the order of their keys."""
    found = [
        _told(check)
        for check in checks
        if check["key"].startswith(_START) and str(check["verdict"]) in _WORDS
    ]
    return sorted(found, key=lambda each: each.key)


def _told(check: Mapping[str, Any]) -> CircuitCaution:
    own = check["key"].removeprefix(_START)
    circuit = own.partition("/")[0]
    words = f"{circuit}, {check['title']}: {_WORDS[str(check['verdict'])]}"
    return CircuitCaution(check["key"], own.replace("/", "_"), words)
