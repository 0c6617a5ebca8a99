"""Times a table of 10,000 parts: read as new, stored, read and stored as changed, written out. By hand.

uv run --group dev python tests/bench/bench_table.py [ROWS]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))
os.environ |= {"DJANGO_SETTINGS_MODULE": "config.settings", "DEMO": "1"}
os.environ["VAR_DIR"] = tempfile.mkdtemp(prefix="bench-table-")

HEADS = [
    "Kind", "Stock code", "Name", "Unit", "Cost to the shop", "Weight (lb)", "Units in a pack",
    "Cable: Gauge", "Cable: Family",
    "Fuse, breaker or switch: Rated current (A)", "Fuse, breaker or switch: Family",
]  # fmt: skip
KINDS = {
    "Cable": ["10", "PV wire (UL 4703)", "", ""],
    "Fuse, breaker or switch": ["", "", "30", "Blade (ISO 8820-3 C)"],
    "Other": [""] * 4,
    "Mount or foot": [""] * 4,
}


def table(count: int, cents: str) -> list[list[str]]:
    """Return so many parts, a quarter of each kind."""
    kinds = list(KINDS.items())
    rows = [HEADS]
    for n in range(count):
        kind, typed = kinds[n % 4]
        rows.append([kind, f"S{n}", f"Part {n}", "each", f"{1 + n % 97}.{cents}", "0.5", "1", *typed])
    return rows


def timed(words: str, act: Callable[[], Any]) -> Any:
    """Do it, print how long it took, return what it gave."""
    began = time.perf_counter()
    found = act()
    sys.stdout.write(f"{words:<18} {time.perf_counter() - began:6.2f} s\n")
    return found


def main(count: int) -> None:
    """Time it all on a new database."""
    import django

    django.setup()
    from django.contrib.auth.models import User
    from django.core.management import call_command
    from django.utils import timezone

    from common.sheet_files import csv_bytes, read_table, xlsx_bytes
    from jobs.forms.import_parts import part_table, parts_found
    from jobs.models import Membership, Shop
    from jobs.parts.catalogue import parts_import

    call_command("migrate", interactive=False, verbosity=0)
    shop = Shop.objects.create(name="Bench")
    Membership.objects.create(user=User.objects.create(username="b"), shop=shop, role="owner")
    owner = User.objects.get(username="b")
    for words, cents in (("new", "25"), ("changed", "75")):
        data = xlsx_bytes(table(count, cents))
        rows = timed(
            f"file, {words}", lambda data=data: read_table("t.xlsx", data, most_rows=count, most_bytes=2**24)
        )
        found = timed(f"read, {words}", lambda rows=rows: parts_found(shop, rows))
        timed(
            f"stored, {words}",
            lambda found=found: parts_import(shop=shop, rows=found.rows, actor=owner, at=timezone.now()),
        )
    out = timed("catalog", lambda: part_table(shop))
    timed("as CSV", lambda: csv_bytes(out))
    timed("as XLSX", lambda: xlsx_bytes(out))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
