"""The table of guards names tests and places that are there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_what_it_names_is_there():
    text = (ROOT / "config" / "security.md").read_text()
    named = re.findall(r"`((?:tests|config|jobs|static)/[\w./]+)`", text)
    assert len(named) > 40
    assert [each for each in named if not (ROOT / each).exists()] == []
