"""A part of the web tests on PostgreSQL; all of them by hand: ``python -m tests.on_postgres tests/web``."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.soak.postgres import programs
from tests.soak.web import ROOT

#: Where rows are locked, numbered, counted and compared as each database does it in its own way.
PART = (
    "tests/web/jobs/test_check_note.py", "tests/web/jobs/test_deposit_record.py",
    "tests/web/jobs/test_job_search.py", "tests/web/account/test_guessing.py",
)  # fmt: skip


def test_pages_work_on_postgres() -> None:
    pytest.importorskip("psycopg", reason="psycopg is not installed")
    programs()
    command = [sys.executable, "-m", "tests.on_postgres", "-n", "0", "-p", "no:cacheprovider", *PART]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-6000:]
