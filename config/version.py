"""Knows which version this is: the one line in ``pyproject.toml``."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Final

VERSION: Final[str] = tomllib.loads((Path(__file__).resolve().parent.parent / "pyproject.toml").read_text())[
    "project"
]["version"]
