"""Invoices and receipts are numbered without a gap or a double under eight writers that are killed.

The short form kills a dozen on SQLite; the long form hundreds on both databases:
``pytest -n 0 -s -m full tests/soak/test_invoice_numbers.py``.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.soak.postgres import postgres_copy
from tests.soak.web import ROOT, sqlite_copy, sqlite_rows

pytestmark = pytest.mark.django_db(transaction=True)

NUMBERS = {
    "invoice": "SELECT number FROM jobs_invoice ORDER BY number",
    "receipt": "SELECT number FROM jobs_payment ORDER BY number",
}
COUNTS = "SELECT invoices, receipts FROM jobs_ledgercount"


@contextlib.contextmanager
def database(engine: str, folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield the address of a copy of this test's records, and a reader of it."""
    if engine == "postgres":
        with postgres_copy(folder) as found:
            yield found
        return
    path = folder / "soak.sqlite3"
    yield sqlite_copy(path), lambda query: sqlite_rows(path, query)


def found_wrong(address: str, rows: Any, job: Any, kills: int) -> list[str]:
    """Run the writers; return what is wrong with the numbers."""
    command = [sys.executable, "-m", "tests.soak.invoicing", str(job.pk), str(kills)]
    env = os.environ | {"DATABASE_URL": address, "DJANGO_SETTINGS_MODULE": "config.settings"}
    done = subprocess.run(
        command,
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    told = json.loads(done.stdout.splitlines()[-1])
    wrong = []
    counts = dict(zip(NUMBERS, rows(COUNTS)[0], strict=True))
    for what, query in NUMBERS.items():
        stored = [number for (number,) in rows(query)]
        print(f"{what}: {len(stored)} stored, {len(told[what])} told, {kills} kills")
        if len(stored) < 5:
            wrong.append(f"{what}: hardly any was written")
        if stored != list(range(1, len(stored) + 1)):
            wrong.append(f"{what}: a gap or a double")
        if counts[what] != len(stored):
            wrong.append(f"{what}: counted {counts[what]}, stored {len(stored)}")
        if len(told[what]) != len(set(told[what])) or not set(told[what]) <= set(stored):
            wrong.append(f"{what}: told one twice, or one that is not there")
    return wrong


def test_no_number_is_left_out_or_given_twice(accepted_quote, tmp_path):
    with database("sqlite", tmp_path) as (address, rows):
        assert found_wrong(address, rows, accepted_quote.job, 12) == []


@pytest.mark.full
@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_hundreds_of_kills(engine, accepted_quote, tmp_path):
    with database(engine, tmp_path) as (address, rows):
        assert found_wrong(address, rows, accepted_quote.job, 250) == []
