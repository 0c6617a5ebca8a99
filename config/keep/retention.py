"""Knows which backups stay: the last days, weeks and months."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Final

#: How many days, weeks and months keep their newest backup.
DAYS, WEEKS, MONTHS = 7, 4, 12
_NAME: Final = re.compile(r"coachlight-(\d{8}-\d{6})\.zip")


def moment_of(path: Path) -> datetime | None:
    """Return when a backup was made, by its name; None for a file that is none."""
    match = _NAME.fullmatch(path.name)
    return datetime.strptime(f"{match[1]}+0000", "%Y%m%d-%H%M%S%z") if match else None


def kept(moments: Iterable[datetime]) -> set[datetime]:
    """Return the moments whose backups stay; the newest of each day, week and month."""
    ordered = sorted(moments, reverse=True)
    spans: list[tuple[int, Callable[[datetime], object]]] = [
        (DAYS, lambda at: at.date()),
        (WEEKS, lambda at: at.isocalendar()[:2]),
        (MONTHS, lambda at: (at.year, at.month)),
    ]
    found: set[datetime] = set()
    for most, span_of in spans:
        newest: dict[object, datetime] = {}
        for at in ordered:
            newest.setdefault(span_of(at), at)
        found |= set(list(newest.values())[:most])
    return found


def backups_drop(folder: Path) -> list[Path]:
    """Remove the backups that need not stay and return them; other files are left alone."""
    every = {path: at for path in folder.glob("*.zip") if (at := moment_of(path))}
    stay = kept(every.values())
    gone = [path for path, at in every.items() if at not in stay]
    for path in gone:
        path.unlink()
    return gone
