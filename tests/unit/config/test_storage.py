"""Static files get names by content; a module's name waits for those of the modules it imports."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

from config.storage import HashedStaticFiles

IMPORT = re.compile(r"""(?:from|import)\s*\(?\s*["'](\.[^"']+)["']""")


def longest_chain() -> int:
    """Return how many modules the longest chain of imports has."""
    root = settings.BASE_DIR / "static" / "js"
    imports = {
        path.resolve(): [(path.parent / name).resolve() for name in IMPORT.findall(path.read_text())]
        for path in root.rglob("*.js")
    }
    lengths: dict[Path, int] = {}

    def length(path: Path) -> int:
        if path not in lengths:
            lengths[path] = 1 + max((length(other) for other in imports.get(path, [])), default=0)
        return lengths[path]

    return max(length(path) for path in imports)


def test_there_are_passes_enough_for_the_longest_chain():
    """Each pass names one module more of a chain; Django stops after its passes with an error."""
    assert 5 < longest_chain() < HashedStaticFiles.max_post_process_passes
