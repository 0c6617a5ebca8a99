"""Opens the marks for quantities in whole documents: what is hashed and signed says one system only."""

from __future__ import annotations

from typing import Any

import sizing


def spoken(data: Any, units: str) -> Any:
    """Return plain data with every text said in these units."""
    if isinstance(data, str):
        return sizing.in_units(data, units)
    if isinstance(data, dict):
        return {name: spoken(each, units) for name, each in data.items()}
    if isinstance(data, list | tuple):
        return [spoken(each, units) for each in data]
    return data
