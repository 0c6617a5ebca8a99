"""Reads the step templates: the data every install record is made from."""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import Any, Final

_DATA: Final = Path(__file__).parent.parent / "data" / "install_steps.json"


@functools.cache
def templates() -> dict[str, Any]:
    """Return the templates as they stand in the data file."""
    return json.loads(_DATA.read_text(encoding="utf-8"))  # type: ignore[no-any-return]


def template_version() -> str:
    """Return the version of the step templates."""
    return str(templates()["version"])
