"""The check of the SQLite library: versions are those of sqlite.org/wal.html#walresetbug."""

from __future__ import annotations

import pytest

from config import checks


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False), ((3, 44, 5), False), ((3, 44, 6), True), ((3, 46, 1), False),
        ((3, 50, 6), False), ((3, 50, 7), True), ((3, 51, 2), False), ((3, 51, 3), True),
        ((3, 53, 0), True), ((4, 0, 0), True),
    ],
)  # fmt: skip
def test_which_libraries_keep_every_commit(version, safe, settings, monkeypatch):
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "django.db.backends.sqlite3")
    assert checks.is_safe(version) is safe
    assert (checks.sqlite_words(version) == "") is safe


def test_another_database_is_not_warned_of(settings, monkeypatch):
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "django.db.backends.postgresql")
    assert checks.sqlite_words((3, 40, 1)) == ""


def test_the_check_names_version_and_way_out(settings, monkeypatch):
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "django.db.backends.sqlite3")
    monkeypatch.setattr(checks.sqlite_words, "__defaults__", ((3, 46, 1),))
    (found,) = checks.sqlite_library()
    assert found.id == "coachlight.W001"
    assert "SQLite 3.46.1" in found.msg
    assert "PostgreSQL" in found.msg
