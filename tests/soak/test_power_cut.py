"""Power cuts while the app's SQLite writes: nothing answered is lost, nothing is half there."""

from __future__ import annotations

from typing import Any

import pytest
from django.conf import settings

from tests.soak.power import Cuts

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def options(monkeypatch: Any, django_db_blocker: Any) -> dict[str, Any]:
    """Return how the app opens its database; let the test open one more."""
    from django.db.backends.base.base import BaseDatabaseWrapper

    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", django_db_blocker._real_ensure_connection)
    if not settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        pytest.skip("this is about SQLite")
    found: dict[str, Any] = settings.DATABASES["default"]["OPTIONS"]
    return found


def test_nothing_answered_is_lost(tmp_path, options):
    done = Cuts(tmp_path, options).run(90)
    assert done.found == []
    assert done.made["checkpoint"] >= 1


def test_a_log_that_is_not_synced_is_found(tmp_path, options):
    weak = {**options, "init_command": options["init_command"].replace("FULL", "NORMAL")}
    assert any(words.startswith("lost") for words in Cuts(tmp_path, weak).run(20).found)


def test_rows_that_are_no_transaction_are_found(tmp_path, options):
    assert any(words.startswith("half") for words in Cuts(tmp_path, options, is_whole=False).run(20).found)


@pytest.mark.full
@pytest.mark.parametrize("piece", range(5))
def test_a_thousand_cuts(tmp_path, options, piece):
    done = Cuts(tmp_path, options, cuts=2, seed=piece).run(110)
    print(done.made, flush=True)
    assert done.found == []
    assert sum(done.made.values()) >= 200
