"""Compass words for headings."""

from __future__ import annotations

WORDS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


def compass_word(heading_deg: float) -> str:
    """Return the nearest of eight compass words, with the degrees where it is not close."""
    word = WORDS[round(heading_deg / 45.0) % 8]
    off = abs((heading_deg - 45.0 * round(heading_deg / 45.0)) % 360.0)
    return word if min(off, 360.0 - off) < 1.0 else f"{word} ({heading_deg:.0f}°)"
