"""Letters on their way while workers are killed: each arrives, twice only where a worker died with it.

A slow SMTP server on this machine takes them; two worker processes carry them; one is killed again and again
and started anew. The long form, a few minutes on each engine: a silent worker is missed after 40 s.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller

from jobs.models import OutboxMail
from tests.soak.postgres import postgres_copy
from tests.soak.web import ROOT, free_port, sqlite_copy, sqlite_rows

pytestmark = [pytest.mark.full, pytest.mark.django_db(transaction=True)]

LETTERS, KILLS = 60, 5
#: Queued, cut off, silent for 40 s, found at the next round of a keeper: within a minute or so each.
PATIENCE_S = 300
UNSENT = "SELECT COUNT(*) FROM jobs_outboxmail WHERE state <> 'sent'"


class Slow:
    """A server that takes its time, and counts what it took by subject."""

    def __init__(self) -> None:
        self.taken: Counter[str] = Counter()

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        import asyncio

        await asyncio.sleep(0.4)
        text = envelope.content.decode()
        self.taken[text.partition("Subject: ")[2].partition("\r\n")[0]] += 1
        return "250 OK"


@pytest.fixture
def server() -> Iterator[tuple[Slow, int]]:
    slow, port = Slow(), free_port()
    controller = Controller(slow, hostname="127.0.0.1", port=port)
    controller.start()
    yield slow, port
    controller.stop()


@contextlib.contextmanager
def database(engine: str, folder: Path) -> Iterator[tuple[str, Any]]:
    """Yield the address of a copy of this test's records, and a reader of it."""
    if engine == "postgres":
        with postgres_copy(folder) as found:
            yield found
        return
    path = folder / "soak.sqlite3"
    yield sqlite_copy(path), lambda query: sqlite_rows(path, query)


@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_every_letter_arrives_whichever_worker_dies(engine, shop, server, tmp_path):
    slow, port = server
    at = dt.datetime.now(dt.UTC)
    facts = {"shop": shop, "to": "gus@mail.example", "body": "x", "at": at, "touched_at": at, "due_at": at}
    OutboxMail.objects.bulk_create(OutboxMail(subject=f"Letter {n}", **facts) for n in range(LETTERS))
    with database(engine, tmp_path) as (address, rows):
        env = {
            **os.environ, "DATABASE_URL": address, "MAIL_HOST": "127.0.0.1", "MAIL_PORT": str(port),
            "MAIL_TLS": "none", "VAR_DIR": str(tmp_path / "var"),
        }  # fmt: skip
        command = [sys.executable, "manage.py", "worker", "--lanes", "mail"]
        workers = [subprocess.Popen(command, cwd=ROOT, env=env) for _ in "two"]
        chance, begun = random.Random(engine), time.monotonic()
        for _ in range(KILLS):
            time.sleep(chance.uniform(4, 9))
            victim = chance.randrange(2)
            workers[victim].kill()
            workers[victim].wait()
            workers[victim] = subprocess.Popen(command, cwd=ROOT, env=env)
        while rows(UNSENT)[0][0] and time.monotonic() - begun < PATIENCE_S:
            time.sleep(1)
        for worker in workers:
            worker.terminate()
        for worker in workers:
            assert worker.wait(30) == 0
        assert rows(UNSENT)[0][0] == 0
    assert set(slow.taken) == {f"Letter {n}" for n in range(LETTERS)}
    assert sum(count - 1 for count in slow.taken.values()) <= KILLS
