"""Backups: every row and file comes back, nothing half; what stays of many; what is refused.

Which backups stay is counted on paper from a calendar.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import zipfile

import pytest
from django.apps import apps
from django.db.backends.base.base import BaseDatabaseWrapper

from common.guard import door_opened
from config.keep import restore as restoring
from config.keep.backup import MANIFEST, backup_write
from config.keep.restore import RestoreRefused, backup_restore
from config.keep.retention import backups_drop, kept
from config.keep.rows import stored_models
from jobs.models import Job, LogEntry, Shop

AT = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)


@pytest.fixture
def house(tmp_path, settings, request, monkeypatch, django_db_blocker):
    """Return an installation with records of a shop and two files."""
    # A test may ask the databases of a list only; the copy that a backup reads is none of them.
    real = django_db_blocker._real_ensure_connection
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)
    settings.MEDIA_ROOT, settings.VAR_DIR = tmp_path / "media", tmp_path
    settings.SETTINGS_FILE = tmp_path / "settings.env"
    settings.SETTINGS_FILE.write_text("SECRET_KEY=ink\n")
    for name, content in (("photos/2026/a.jpg", b"\xff\xd8 photo"), ("sheets/b.pdf", b"%PDF paper")):
        path = tmp_path / "media" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    request.getfixturevalue("golden_job")
    return tmp_path


def everything() -> dict[str, list]:
    """Return every row that a backup must bring back, as the database holds it."""
    return {
        model._meta.label: list(model._base_manager.order_by("pk").values())
        for model in stored_models()
        if model._base_manager.exists()
    }


def hashes(root) -> dict[str, str]:
    """Return the hash of every file below a folder."""
    found = (path for path in root.rglob("*") if path.is_file())
    return {str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest() for path in found}


pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("passphrase", ["", "seven herons at the ford"])
def test_every_row_and_file_comes_back(house, passphrase):
    before, files = everything(), hashes(house / "media")
    path = backup_write(house / "out", at=AT, passphrase=passphrase)
    Job.objects.update(title="spoiled")
    with door_opened():
        LogEntry.objects.all().delete()
    shutil.rmtree(house / "media")
    backup_restore(path, passphrase=passphrase, replace=True)
    assert everything() == before
    assert hashes(house / "media") == files
    assert len(before) > 15


def test_rows_added_since_are_gone_and_new_keys_are_free(house):
    path = backup_write(house / "out", at=AT)
    highest = Shop.objects.order_by("-pk").first().pk
    Shop.objects.create(name="Later")
    backup_restore(path, replace=True)
    assert not Shop.objects.filter(name="Later").exists()
    assert Shop.objects.create(name="New").pk > highest


def test_keys_of_the_installation_are_in_it(house):
    with zipfile.ZipFile(backup_write(house / "out", at=AT)) as archive:
        assert archive.read("keys/settings.env") == b"SECRET_KEY=ink\n"


def test_an_encrypted_one_shows_nothing_without_its_passphrase(house):
    path = backup_write(house / "out", at=AT, passphrase="seven herons")
    assert b"Pardee" not in path.read_bytes()
    for wrong in ("", "eight herons"):
        with pytest.raises(RestoreRefused, match="passphrase"):
            backup_restore(path, passphrase=wrong, replace=True)


def test_a_shop_is_not_overwritten_unasked(house):
    path = backup_write(house / "out", at=AT)
    with pytest.raises(RestoreRefused, match="--replace"):
        backup_restore(path)


def test_what_stops_in_the_middle_changes_no_row(house, monkeypatch):
    path = backup_write(house / "out", at=AT)
    Job.objects.update(title="Newer than the backup")
    before = everything()
    monkeypatch.setattr(restoring, "set_sequences", lambda registry: 1 / 0)  # after every row was written
    with pytest.raises(ZeroDivisionError):
        backup_restore(path, replace=True)
    assert everything() == before


def test_a_backup_that_cannot_be_finished_leaves_nothing(house, monkeypatch):
    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("config.keep.backup.file_names", full)
    with pytest.raises(OSError, match="No space"):
        backup_write(house / "out", at=AT)
    assert not list((house / "out").iterdir())


def spoiled(path, change) -> None:
    """Write an archive anew with its members changed."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)


def _manifest(members, **facts):
    members[MANIFEST] = json.dumps(json.loads(members[MANIFEST]) | facts).encode()


def _hash_too(members, name, content):
    members[name] = content
    told = json.loads(members[MANIFEST])["sha256"] | {name: hashlib.sha256(content).hexdigest()}
    _manifest(members, sha256=told)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda m: m.update({"rows/jobs.shop.jsonl": m["rows/jobs.shop.jsonl"] + b" "}), "damaged"),
        (lambda m: m.pop("files/sheets/b.pdf"), "damaged"),
        (lambda m: m.pop(MANIFEST), "damaged"),
        (lambda m: _manifest(m, form=2), "form 2"),
        (lambda m: _hash_too(m, "files/../../evil.txt", b"x"), "outside"),
        (lambda m: _hash_too(m, "rows/jobs.job.jsonl", b""), "lacks rows"),
        (lambda m: _manifest(m, migrations=["jobs.9999_later"]), "later version"),
    ],
)
def test_what_cannot_be_brought_back_is_refused_and_nothing_changes(house, change, words):
    path = backup_write(house / "out", at=AT)
    spoiled(path, change)
    before, files = everything(), hashes(house)
    with pytest.raises(RestoreRefused, match=words):
        backup_restore(path, replace=True)
    assert everything() == before
    assert hashes(house) == files


def test_half_an_archive_is_refused(house):
    path = backup_write(house / "out", at=AT)
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(RestoreRefused, match="not a whole one"):
        backup_restore(path, replace=True)


def test_no_model_is_forgotten():
    """Whatever app stores something is in it; what is left out is left out by name."""
    labels = {model._meta.label_lower for model in stored_models()}
    for app in ("jobs", "checklists"):
        assert {model._meta.label_lower for model in apps.get_app_config(app).get_models()} <= labels


# --- what stays -----------------------------------------------------------------------------------


def test_days_weeks_and_months_keep_their_newest():
    """A backup each noon of 2026: on Nov 30, a Monday, 7 days, 4 weeks and 11 months stay, some twice.

    Days Nov 24 to 30. Weeks end on Sundays: Nov 30 alone of this one, then Nov 29, 22 and 15. Months: Nov 30,
    Oct 31, Sep 30 and so on to Jan 31: eleven.
    """
    year = [dt.datetime(2026, 1, 1, 12, tzinfo=dt.UTC) + dt.timedelta(days=n) for n in range(334)]
    days = {(11, day) for day in range(24, 31)}
    weeks = {(11, 30), (11, 29), (11, 22), (11, 15)}
    ends = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30]
    months = {(month + 1, day) for month, day in enumerate(ends)}
    assert {(at.month, at.day) for at in kept(year)} == days | weeks | months


def test_only_backups_are_dropped(tmp_path):
    for hour in range(10):
        (tmp_path / f"coachlight-20261125-{hour:02}0000.zip").touch()
    (tmp_path / "holiday.zip").touch()
    backups_drop(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"coachlight-20261125-090000.zip", "holiday.zip"}
