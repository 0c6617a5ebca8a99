"""Knows how the fixtures of printed values are read; the engine never opens them."""

from __future__ import annotations

import csv
import pathlib

FIXTURES = pathlib.Path(__file__).resolve().parents[2] / "fixtures" / "published"


def printed(name: str) -> list[dict[str, str]]:
    """Return the rows of ``fixtures/published/<name>.csv`` as printed."""
    with (FIXTURES / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def number(cell: str) -> float | None:
    """Return a printed number; an empty cell is not printed."""
    return float(cell) if cell else None
