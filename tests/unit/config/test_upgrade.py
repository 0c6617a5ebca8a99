"""Upgrades: released migrations stay as they are; a database of the first release comes whole to this one.

What is compared with is the released database itself, read by plain SQL before anything touched it.
"""

from __future__ import annotations

import hashlib
import html
import json
import os
import re
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from config.keep import upgrade
from tests.released import ROOT, append, here, listed, wrong

RELEASES = sorted((ROOT / "tests" / "releases").glob("*.zip"))


def test_no_released_migration_was_changed_or_removed():
    assert not wrong(here(), listed())
    assert len(listed()) >= 20


@pytest.mark.parametrize(
    ("now", "said"),
    [
        ({"a": "1", "b": "2", "c": "new"}, []),
        ({"a": "1", "b": "3"}, ["b was released and has changed: write a new migration instead"]),
        ({"a": "1"}, ["b was released and is gone"]),
    ],
)
def test_new_ones_are_allowed_changed_and_lost_ones_are_not(now, said):
    assert wrong(now, {"a": "1", "b": "2"}) == said


def test_the_list_is_only_ever_appended_to(tmp_path):
    path = tmp_path / "list.txt"
    assert sorted(append(path)) == sorted(here())
    before = path.read_text()
    assert append(path) == []
    name = next(iter(here()))
    path.write_text(before.replace(here()[name], "0" * 64))
    with pytest.raises(SystemExit, match="has changed"):
        append(path)


def unpacked(release: Path, folder: Path) -> Path:
    """Write the database and the files of a release into a folder; return the database."""
    with zipfile.ZipFile(release) as archive:
        archive.extractall(folder)
    database = folder / "shop.sqlite3"
    with sqlite3.connect(database) as written:
        written.executescript((folder / "dump.sql").read_text())
    return database


def rows(database: Path, columns: dict[str, list[str]] | None = None) -> dict[str, tuple[list[str], list]]:
    """Return every row of a shop's tables by table, of the columns told."""
    read = sqlite3.connect(database)
    names = [name for (name,) in read.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    found = {}
    for name in names if columns is None else columns:
        if not name.startswith(("jobs_", "checklists_", "auth_user")):
            continue
        own = (
            [row[1] for row in read.execute(f"PRAGMA table_info({name})")]
            if columns is None
            else columns[name]
        )
        quoted = ", ".join(f'"{column}"' for column in own)
        listed_rows = read.execute(f"SELECT {quoted} FROM {name}").fetchall()
        found[name] = (own, sorted(listed_rows, key=repr))
    return found


#: What was received, which became payments of their own.
DEPOSIT = ("deposit_paid", "deposit_paid_at")


def without_columns(table: tuple[list[str], list], gone: tuple[str, ...]) -> tuple[list[str], list]:
    """Return a table without some columns."""
    columns, listed = table
    places = [place for place, name in enumerate(columns) if name not in gone]
    kept = [tuple(row[place] for place in places) for row in listed]
    return [columns[place] for place in places], sorted(kept, key=repr)


def deposits_of(database: Path) -> list[tuple[int, float, str]]:
    """Return job, sum and moment of what had been received on quotes."""
    query = (
        "SELECT job_id, deposit_paid, deposit_paid_at FROM jobs_quote WHERE deposit_paid > 0 ORDER BY job_id"
    )
    return sqlite3.connect(database).execute(query).fetchall()


def payments_of(database: Path) -> list[tuple[int, float, str]]:
    """Return job, sum and moment of every payment."""
    query = "SELECT job_id, amount, entered_at FROM jobs_payment ORDER BY job_id"
    return sqlite3.connect(database).execute(query).fetchall()


def hashes(folder: Path) -> dict[str, str]:
    """Return the hash of every file below a folder."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.mark.parametrize("release", RELEASES, ids=lambda path: path.stem)
def test_rows_files_and_pages_of_a_release_come_through(release, tmp_path):
    database = unpacked(release, tmp_path)
    deposits = deposits_of(database)
    before, files = rows(database), hashes(tmp_path / "media")
    before["jobs_quote"] = without_columns(before["jobs_quote"], DEPOSIT)
    env = os.environ | {
        "DATABASE_URL": f"sqlite:///{database}", "MEDIA_ROOT": str(tmp_path / "media"), "DEBUG": "1",
        "VAR_DIR": str(tmp_path / "var"), "DJANGO_SETTINGS_MODULE": "config.settings",
        "NUMBA_CACHE_DIR": os.environ.get("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba")),
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "tests.upgraded"],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    after = rows(database, {name: columns for name, (columns, _) in before.items()})
    after.pop("auth_user"), before.pop("auth_user")  # signing in is written there
    assert after == before
    assert payments_of(database) == deposits
    assert hashes(tmp_path / "media") == files
    assert len(files) >= 3
    assert_pages(json.loads(done.stdout.splitlines()[-1]), database)


def assert_pages(pages: dict[str, list], database: Path) -> None:
    """Compare what pages print with what the tables held."""
    assert {status for status, _ in pages.values()} == {200}
    text = {name: re.sub(r"\s+", " ", html.unescape(body)) for name, (_, body) in pages.items()}
    read = sqlite3.connect(database)
    for pk, number, title in read.execute("SELECT id, number, title FROM jobs_job"):
        assert number in text[f"jobs:job_detail {pk}"]
        assert title in text[f"jobs:job_detail {pk}"]
    for pk, total in read.execute("SELECT id, total FROM jobs_quote"):
        assert f"{total:,.2f}" in text[f"jobs:quote_detail {pk}"]
    for pk, number in read.execute("SELECT id, number FROM jobs_design"):
        assert f"Revision {number}" in text[f"jobs:design_detail {pk}"]
    for pk, name, phone in read.execute("SELECT id, name, phone FROM jobs_customer"):
        assert name in text[f"jobs:customer_detail {pk}"]
        assert phone in text[f"jobs:customer_detail {pk}"]


@pytest.mark.django_db
def test_what_holds_a_shop_is_backed_up_before_it_changes(shop, monkeypatch, tmp_path, settings, now):
    settings.BACKUP_DIR = tmp_path
    made = []
    monkeypatch.setattr(upgrade, "backup_write", lambda folder, **told: made.append((folder, told["kind"])))
    upgrade.backup_before(at=now)
    assert not made  # nothing to change
    monkeypatch.setattr(upgrade.MigrationExecutor, "migration_plan", lambda self, leaves: ["one"])
    upgrade.backup_before(at=now)
    assert made == [(tmp_path, "before-upgrade")]
    type(shop).objects.all().delete()
    upgrade.backup_before(at=now)
    assert len(made) == 1  # nobody's: nothing to keep


@pytest.mark.django_db
def test_a_database_of_a_later_release_is_left_alone(shop, monkeypatch, now):
    monkeypatch.setattr(upgrade, "later_here", lambda names: ["jobs.9999_later"])
    with pytest.raises(upgrade.UpgradeRefused, match=r"jobs\.9999_later.*restore FILE"):
        upgrade.backup_before(at=now)


def test_the_backup_of_an_older_database_is_read_by_the_models_it_had(tmp_path, monkeypatch):
    """Run as a process: tests themselves know no migrations."""
    words = (
        "import django; django.setup()\n"
        "from config.keep.rows import later_here, registry_of\n"
        "old = registry_of(['jobs.0001_initial'])\n"
        "print([f.name for f in old.get_model('jobs', 'Membership')._meta.fields])\n"
        "print(later_here(['jobs.0001_initial', 'jobs.9999_later', 'other.9999_x']))\n"
    )
    env = os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings", "VAR_DIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", words], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    fields, later = done.stdout.splitlines()
    assert "phone" not in fields  # came with migration 8
    assert "licence_no" in fields
    assert later == "['jobs.9999_later']"
