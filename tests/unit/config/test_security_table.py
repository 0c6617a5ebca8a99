"""The table of guards names tests and places that are there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_what_it_names_is_there():
    text = (ROOT / "config" / "security.md").read_text()
    named = re.findall(r"`((?:tests|config|jobs|static|common|sizing|checklists)/[\w./]+)`", text)
    assert len(named) > 40
    assert [each for each in named if not (ROOT / each).exists()] == []


def test_every_row_of_levels_1_and_2_stands_there():
    """Rows counted off the public text of the standard, chapter by chapter, level 3 left out."""
    rows = {
        "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2, "2.1": 3, "2.2": 3, "2.3": 4,
        "2.4": 1, "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4, "11.1": 2, "11.2": 3, "11.3": 3,
        "11.4": 3, "11.5": 1, "11.6": 1, "12.1": 3, "12.2": 2, "12.3": 4, "13.1": 1, "13.2": 5,
        "13.3": 2, "13.4": 5, "15.1": 3, "15.2": 3, "15.3": 7, "16.1": 1, "16.2": 5, "16.3": 4,
        "16.4": 3, "16.5": 3,
    }  # fmt: skip
    text = (ROOT / "config" / "security.md").read_text()
    named = set()
    for cell in re.findall(r"^\| ([\d., to]+) \|", text, re.MULTILINE):
        for one in cell.split(", "):
            first, _, last = one.partition(" to ")
            section, _, number = first.rpartition(".")
            ends = int((last or first).rpartition(".")[2])
            named |= {f"{section}.{each}" for each in range(int(number), ends + 1)}
    assert {
        f"{section}.{each}" for section, count in rows.items() for each in range(1, count + 1)
    } - named == set()
