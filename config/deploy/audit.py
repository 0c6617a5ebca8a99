"""Compares the pinned packages with published advisories, without a network.

``python -m config.deploy.audit FOLDER`` reads advisories in the format of OSV, a JSON file each; OSV offers
those of PyPI as one archive to unpack. It ends with 1 where a pinned version is affected, and with 2 where
there was no advisory to compare with: nothing looked at is not nothing found. With a network ``uv audit``
asks OSV itself.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from packaging.version import InvalidVersion, Version

from config.deploy.parts import HERE, pins


def affected(advisory: dict[str, Any], found: dict[str, str]) -> Iterator[str]:
    """Yield a line for each pinned package that an advisory tells of."""
    if advisory.get("withdrawn"):
        return
    for one in advisory.get("affected", ()):
        package = one.get("package", {})
        name = package.get("name", "").lower().replace("_", "-").replace(".", "-")
        if package.get("ecosystem") == "PyPI" and name in found and _is_hit(found[name], one):
            yield f"{name} {found[name]}: {advisory['id']} {advisory.get('summary', '')}".strip()


def _is_hit(version: str, one: dict[str, Any]) -> bool:
    if version in one.get("versions", ()):
        return True
    ranges = (each for each in one.get("ranges", ()) if each.get("type") == "ECOSYSTEM")
    return any(_is_inside(Version(version), each.get("events", ())) for each in ranges)


def _is_inside(version: Version, events: Iterable[dict[str, str]]) -> bool:
    """Return whether a version lies in a range, read as the format says: events in order of version."""
    is_in = False
    for event in events:
        for kind, told in event.items():
            try:
                at = Version("0" if told == "0" else told)
            except InvalidVersion:
                continue
            if kind == "introduced" and version >= at:
                is_in = True
            elif (kind == "fixed" and version >= at) or (kind == "last_affected" and version > at):
                is_in = False
    return is_in


def audit(folder: Path) -> tuple[int, list[str]]:
    """Return how many advisories were read, and a line for each hit."""
    found, files = pins(HERE / "requirements-dev.txt"), sorted(folder.rglob("*.json"))
    hits = [line for path in files for line in affected(json.loads(path.read_text()), found)]
    return len(files), hits


if __name__ == "__main__":
    read, lines = audit(Path(sys.argv[1])) if len(sys.argv) > 1 else (0, [])
    print(f"{read} advisories read." if read else "No advisories at hand: nothing was compared.")
    print("\n".join(lines) or ("No pinned package is affected." if read else ""))
    raise SystemExit(1 if lines else 0 if read else 2)
