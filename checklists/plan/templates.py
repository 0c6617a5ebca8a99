"""Reads the step templates: the data every install record is made from.

Each version is a file of its own and stays: a job keeps the steps it was opened with to its end.
"""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import Any, Final

_DATA: Final = Path(__file__).parent.parent / "data" / "steps"


@functools.cache
def templates(version: str) -> dict[str, Any]:
    """Return the templates of a version as they stand in its file."""
    return json.loads((_DATA / f"{version}.json").read_text(encoding="utf-8"))  # type: ignore[no-any-return]


@functools.cache
def versions() -> tuple[str, ...]:
    """Return the versions there are, oldest first."""
    return tuple(sorted((file.stem for file in _DATA.glob("*.json")), key=int))


def newest_version() -> str:
    """Return the version that new install records are opened with."""
    return versions()[-1]


def aliases(version: str) -> dict[str, str]:
    """Return what a version calls otherwise than the newest: ``role`` or ``role.field`` → its own words."""
    found: dict[str, str] = templates(version).get("aliases", {})
    return found
