"""How many feet a panel starts with."""

from __future__ import annotations


def feet_needed(length_m: float, width_m: float) -> int:
    """Return the feet a panel starts with: 4, or 6 when longer than 1.6 m or larger than 1.8 m²."""
    return 6 if length_m > 1.6 or length_m * width_m > 1.8 else 4
