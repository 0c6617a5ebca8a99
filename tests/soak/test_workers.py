"""Workers killed at work: each letter arrives, twice only where a worker died with it, and within a minute.

Two worker processes carry letters to a slow mail server on this machine; one or the other is killed again and
again. Each build broken on purpose (tests/soak/worker.py) is found. In the short form, what waits 40 s
for silence waits 5. The long form does not: ``pytest -n 0 -s -m full tests/soak/test_workers.py``.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.soak.post import STATES, Post, letters
from tests.soak.postgres import postgres_copy
from tests.soak.web import sqlite_copy, sqlite_rows

pytestmark = pytest.mark.django_db(transaction=True)

HURRY = 8


@contextlib.contextmanager
def database(engine: str, folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield the address of a copy of this test's records, and a reader of it."""
    if engine == "postgres":
        with postgres_copy(folder) as found:
            yield found
        return
    path = folder / "soak.sqlite3"
    path.unlink(missing_ok=True)
    yield sqlite_copy(path), lambda query: sqlite_rows(path, query)


@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_every_letter_arrives_whichever_worker_dies(engine, shop, tmp_path):
    letters(shop, 30, "Slow")
    with database(engine, tmp_path) as (address, rows):
        post = Post(address, rows, tmp_path, hurry=HURRY, seed=engine).run(5)
    assert post.found == []
    assert len(post.taken) == 30


@pytest.mark.parametrize(
    ("build", "harm"), [("no_take_up", "unsent"), ("no_beat", "doubled"), ("sent_first", "lost")]
)
def test_broken_workers_are_found(build, harm, shop, tmp_path):
    is_slow = build == "no_beat"  # a letter that takes longer than a worker may be silent
    letters(shop, 3 if is_slow else 8, "Slow" if is_slow else "Letter")
    with database("sqlite", tmp_path) as (address, rows):
        post = Post(address, rows, tmp_path, hurry=HURRY, build=build)
        post.patience_s = 20 if is_slow else 8
        if build == "no_take_up":  # the workers die with a letter in their hands
            post.on_taken = lambda subject: subject == "Letter 2" and post.kill_all()
        post.run(0)
    assert any(words.startswith(harm) for words in post.found), (build, post.found, str(post))


@pytest.mark.full
@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_what_ends_every_worker_is_given_up(engine, shop, tmp_path):
    """Eight tries at most (``PAUSES`` of the outbox and one), then the letter says so; the others arrive."""
    letters(shop, 4, "Poison")
    with database(engine, tmp_path) as (address, rows):
        post = Post(address, rows, tmp_path, hurry=HURRY)
        post.on_taken = lambda subject: subject.startswith("Poison") and post.kill_all()
        with post.working():
            post.settle()
        assert dict(rows(STATES)) == {"failed": 1, "sent": 3}
        assert post.taken["Poison 0"] <= 8
        assert "stopped each time" in rows("SELECT error FROM jobs_outboxmail WHERE state = 'failed'")[0][0]


@pytest.mark.full
@pytest.mark.parametrize("piece", range(2))
@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_five_hundred_kills(engine, piece, shop, tmp_path):
    letters(shop, 1250)
    with database(engine, tmp_path) as (address, rows):
        post = Post(address, rows, tmp_path, seed=f"{engine} {piece}").run(250)
    print(engine, post, flush=True)
    # Killed every second, no worker lives long enough to look round: how late is judged in the short form.
    assert [words for words in post.found if not words.startswith("late")] == []
    assert len(post.taken) == 1250
