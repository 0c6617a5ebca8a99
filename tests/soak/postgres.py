"""A PostgreSQL of its own for one test, where its programs are installed; skipped with one line where not."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.soak.web import ROOT, free_port


def programs() -> Path:
    """Return the folder of the server's programs; skip the test where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found:
        pytest.skip("PostgreSQL is not installed (apt-get install postgresql)")
    return found[-1].parent


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """Start a server of its own; yield the address of its empty database. No power fails here: no fsync."""
    bin_folder, home, port = programs(), Path(tempfile.mkdtemp(prefix="soak-pg-")), free_port()
    # The server refuses to run as root: Debian's own user runs it then.
    user = {"user": "postgres"} if os.getuid() == 0 else {}
    if user:
        shutil.chown(home, "postgres")

    def run(name: str, *options: str) -> None:
        command = [str(bin_folder / name), "-D", str(home / "data"), *options]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=home, **user)  # type: ignore[call-overload]

    options = f"-p {port} -k {home} -h 127.0.0.1 -c fsync=off"
    try:
        run("initdb", "-A", "trust", "-U", "soak", "-E", "UTF8", "--locale", "C.UTF-8", "--no-sync")
        run("pg_ctl", "start", "-w", "-l", str(home / "log"), "-o", options)
        yield f"postgres://soak@127.0.0.1:{port}/postgres"
    finally:
        run("pg_ctl", "stop", "-m", "immediate")
        shutil.rmtree(home, ignore_errors=True)


@contextlib.contextmanager
def postgres_copy(folder: Path) -> Iterator[tuple[str, Any]]:
    """Start a server with the records of this test; yield its address and a reader of it."""
    psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed")
    with cluster() as address:
        _fill(address, folder)
        with psycopg.connect(address, autocommit=True) as link:
            yield address, lambda query: link.execute(query).fetchall()


def _fill(address: str, folder: Path) -> None:
    """Make the tables and copy this test's records, sessions included."""
    from django.core.management import call_command

    records = folder / "records.json"
    call_command("dumpdata", exclude=["contenttypes", "auth.permission"], output=str(records), verbosity=0)
    for command in (["migrate", "-v0"], ["loaddata", "-v0", str(records)]):
        subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=ROOT,
            env=os.environ | {"DATABASE_URL": address},
            check=True,
        )
