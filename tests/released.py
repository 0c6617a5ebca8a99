"""Knows which migrations are out: once released, one is never changed, because databases have had it.

``python -m tests.released`` appends the new ones to the list, with the release they go out in.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from config.version import VERSION

ROOT = Path(__file__).parent.parent
LIST = Path(__file__).parent / "released_migrations.txt"


def here() -> dict[str, str]:
    """Return the hash of every migration file by its path."""
    found = sorted(ROOT.glob("*/migrations/[0-9]*.py"))
    return {
        path.relative_to(ROOT).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in found
    }


def listed(path: Path = LIST) -> dict[str, str]:
    """Return the hash of every released migration by its path."""
    lines = path.read_text().splitlines() if path.exists() else []
    return {name: digest for digest, name, _ in (line.split() for line in lines)}


def wrong(now: dict[str, str], out: dict[str, str]) -> list[str]:
    """Return what is wrong with the migrations, in sentences: new ones are allowed."""
    gone = [f"{name} was released and is gone" for name in out if name not in now]
    return gone + [
        f"{name} was released and has changed: write a new migration instead"
        for name, digest in out.items()
        if now.get(name, digest) != digest
    ]


def append(path: Path = LIST) -> list[str]:
    """Append what is new to the list and return it; refuse where a released one changed."""
    now, out = here(), listed(path)
    if said := wrong(now, out):
        raise SystemExit("\n".join(said))
    new = [name for name in now if name not in out]
    with path.open("a") as written:
        written.writelines(f"{now[name]} {name} {VERSION}\n" for name in new)
    return new


if __name__ == "__main__":
    print("\n".join(append()) or "Nothing new.")
