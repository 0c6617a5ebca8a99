"""A drill: an installation with data and files goes from SQLite to PostgreSQL and back; kills do no harm.

Every row is compared as Python values by hash, every file by its bytes. The data: the first release's.
"""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.soak.postgres import cluster
from tests.soak.web import ROOT

RELEASE = ROOT / "tests" / "releases" / "0.1.0.zip"


@dataclass
class House:
    """An installation: its database's address and the folder of everything else."""

    address: str
    folder: Path

    def run(self, *command: str) -> str:
        """Return what a command prints that runs in this installation."""
        env = os.environ | {
            "DATABASE_URL": self.address, "MEDIA_ROOT": str(self.folder / "media"), "LOG_LEVEL": "ERROR",
            "VAR_DIR": str(self.folder / "var"), "DJANGO_SETTINGS_MODULE": "config.settings",
            "NUMBA_CACHE_DIR": os.environ.get("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba")),
        }  # fmt: skip
        done = subprocess.run(
            [sys.executable, *command], cwd=ROOT, env=env, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def look(self) -> dict[str, dict[str, str]]:
        """Return the hashes of rows and files."""
        found: dict[str, dict[str, str]] = json.loads(self.run("-m", "tests.soak.restoring", "print"))
        return found

    def backup(self) -> str:
        """Write a backup and return its file."""
        self.run("manage.py", "backup", "--to", str(self.folder / "out"))
        return str(next((self.folder / "out").glob("*.zip")))

    def kills(self, archive: str, count: int, *more: str) -> list[str]:
        """Return what was found after each kill of a restore."""
        told = self.run("-m", "tests.soak.restoring", "kill", archive, str(count), *more)
        found: list[str] = json.loads(told.splitlines()[-1])
        return found


def on_sqlite(folder: Path) -> House:
    """Return an empty installation."""
    folder.mkdir()
    return House(f"sqlite:///{folder / 'db.sqlite3'}", folder)


@pytest.fixture
def old_house(tmp_path: Path) -> House:
    """Return an installation with the first release's data, brought to this one."""
    house = on_sqlite(tmp_path / "old")
    with zipfile.ZipFile(RELEASE) as archive:
        archive.extractall(house.folder)
    link = sqlite3.connect(house.folder / "db.sqlite3")
    link.executescript((house.folder / "dump.sql").read_text())
    link.close()
    house.run("manage.py", "migrate", "-v0")
    return house


def moved(source: House, target: House) -> str:
    """Bring a backup of one installation into another, compare them, and return the backup's file."""
    archive = source.backup()
    target.run("manage.py", "restore", archive)
    before, after = source.look(), target.look()
    assert after == before
    assert len(after["files"]) >= 3
    assert sum(int(told.split()[0]) for told in after["rows"].values()) > 1000
    make = "import django; django.setup(); from jobs.models import Shop; Shop.objects.create(name='One more')"
    target.run("-c", make)  # numbers go on after the highest
    return archive


def assert_kills_do_no_harm(house: House, archive: str, count: int) -> None:
    """Kill a restore over what is there: the old state stays until the new one is whole."""
    found = house.kills(archive, count)
    assert set(found) <= {"old", "new"}, found
    assert found.count("old") >= count / 2, found


def test_sqlite_to_sqlite(old_house: House, tmp_path: Path) -> None:
    target = on_sqlite(tmp_path / "new")
    archive = moved(old_house, target)
    assert_kills_do_no_harm(target, archive, 4)
    target.run("-c", SPOIL)
    assert "mixed" in target.kills(archive, 4, "--broken")


SPOIL = "import django; django.setup(); from jobs.models import Job; Job.objects.update(title='Newer')"


def test_sqlite_to_postgres_and_back(old_house: House, tmp_path: Path) -> None:
    pytest.importorskip("psycopg", reason="psycopg is not installed")
    with cluster() as address:
        (tmp_path / "postgres").mkdir()
        middle, last = House(address, tmp_path / "postgres"), on_sqlite(tmp_path / "last")
        archive = moved(old_house, middle)
        moved(middle, last)
        assert_kills_do_no_harm(middle, archive, 3)
