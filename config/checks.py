"""Warns at start of SQLite libraries that can lose what was written."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from django.conf import settings
from django.core.checks import CheckMessage, Warning, register

Version = tuple[int, int, int]

#: First versions without the WAL-reset fault (https://www.sqlite.org/wal.html#walresetbug): the main line,
#: and the two older lines it was mended in.
FIXED: Final[Version] = (3, 51, 3)
FIXED_IN_LINE: Final[dict[tuple[int, int], int]] = {(3, 50): 7, (3, 44): 6}


def is_safe(version: Version) -> bool:
    """Return whether this SQLite keeps every commit when several connections write and checkpoint at once."""
    return version >= FIXED or version[2] >= FIXED_IN_LINE.get(version[:2], 10**6)


def sqlite_words(version: Version = sqlite3.sqlite_version_info) -> str:
    """Return what is unsafe about the database in use, in a line; empty when nothing is."""
    if not settings.DATABASES["default"]["ENGINE"].endswith("sqlite3") or is_safe(version):
        return ""
    return (
        f"SQLite {'.'.join(map(str, version))} has a rare fault (WAL reset, mended in 3.51.3): connections"
        " that write at the same moment can damage the file. One process at a time is the least risk; several"
        " writing processes are unsafe: use PostgreSQL or a Python with SQLite 3.51.3 for them."
    )


@register()
def sqlite_library(**_: Any) -> list[CheckMessage]:
    """Warn of a SQLite library that is unsafe with several writers."""
    words = sqlite_words()
    return [Warning(words, id="coachlight.W001")] if words else []
