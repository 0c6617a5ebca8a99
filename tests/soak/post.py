"""Letters on their way while workers are killed: counts what was lost, sent too often, or left too long."""

from __future__ import annotations

import asyncio
import contextlib
import datetime as dt
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from aiosmtpd.controller import Controller

from tests.soak.storm import Rows
from tests.soak.web import ROOT, free_port

#: A silent worker is missed after 40 s and looked for every 5 s: what it left goes on within a minute. [s]
MINUTE_S = 60.0
#: A letter waits so long for the one before it. [s]
PACE_S = 0.2
#: Workers start within this time; then the first letter is due. [s]
START_S = 6.0
#: How long the mail server takes over a letter, and over a slow one where silence is noticed after 40 s. [s]
TAKES_S, SLOW_S = 0.3, 80.0
STATES = "SELECT state, COUNT(*) FROM jobs_outboxmail GROUP BY state"
LETTERS = "SELECT subject, state, attempts FROM jobs_outboxmail"
SENDING = "SELECT touched_at FROM jobs_outboxmail WHERE state = 'sending'"


def letters(shop: Any, count: int, first: str = "Letter") -> None:
    """Store numbered letters, to be copied; they fall due when workers start."""
    from jobs.models import OutboxMail

    at = dt.datetime.now(dt.UTC)
    facts = {"shop": shop, "to": "gus@mail.example", "body": "x", "at": at, "touched_at": at, "due_at": at}
    OutboxMail.objects.bulk_create(
        OutboxMail(subject=f"{'Letter' if n else first} {n}", **facts) for n in range(count)
    )


@dataclass
class Post:
    """Two worker processes, a mail server that takes its time, and letters that fall due one by one."""

    address: str
    rows: Rows
    folder: Path
    hurry: float = 1
    build: str = ""
    seed: int | str = 0
    kills: int = 0
    taken: Counter[str] = field(default_factory=Counter)
    found: list[str] = field(default_factory=list)
    longest_s: float = 0.0
    patience_s: float = 600
    began: dt.datetime = dt.datetime.min
    cut_off: int = 0
    on_taken: Callable[[str], object] = lambda subject: None
    _master: Any = None

    def run(self, kills: int, *, gap_s: tuple[float, float] = (0.3, 1.5)) -> Post:
        """Kill one worker after the other at random moments, let the rest be done, then compare."""
        self.kills, chance = kills, random.Random(self.seed)
        with self.working():
            self._until(lambda: self.taken, 120)
            for _ in range(kills):
                time.sleep(chance.uniform(*gap_s))
                self._until(self.pids, 60)
                self.kill(chance.choice(self.pids()))
                self._look()
            self.settle()
        self.compare()
        return self

    @contextlib.contextmanager
    def working(self) -> Any:
        """Run mail server and workers; end them as an operator does, at the last."""
        port, self.began = free_port(), dt.datetime.now(dt.UTC) + dt.timedelta(seconds=START_S)
        controller = Controller(self, hostname="127.0.0.1", port=port)
        controller.start()
        env = os.environ | {
            "DATABASE_URL": self.address, "MAIL_HOST": "127.0.0.1", "MAIL_PORT": str(port),
            "MAIL_TIMEOUT": "200", "MAIL_TLS": "none", "VAR_DIR": str(self.folder / "var"), "DEBUG": "0",
            "LOG_LEVEL": "ERROR",
        }  # fmt: skip
        command = [
            sys.executable, "-m", "tests.soak.worker", "--hurry", str(self.hurry), "--build", self.build,
            "--due-from", self.began.isoformat(), "--pace", str(PACE_S), "--lanes", "mail",
        ]  # fmt: skip
        with (self.folder / "workers.log").open("w") as told:
            self._master = subprocess.Popen(command, cwd=ROOT, env=env, stdout=told, stderr=told)
        try:
            self._until(lambda: len(self.pids()) == 2, 120)
            yield
            self._master.terminate()
            self._wrong(self._master.wait(120) == 0, "a worker did not end well")
        finally:
            for pid in [*self.pids(), self._master.pid]:
                self.kill(pid)
            self._master.wait()
            controller.stop()

    def pids(self) -> list[int]:
        """Return the worker processes."""
        children = Path(f"/proc/{self._master.pid}/task/{self._master.pid}/children")
        with contextlib.suppress(FileNotFoundError):
            return [int(pid) for pid in children.read_text().split()]
        return []

    def kill(self, pid: int) -> None:
        """Kill a process as a power cut would; the master starts a new one."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)

    def kill_all(self) -> None:
        """Kill every worker process at once."""
        for pid in self.pids():
            self.kill(pid)

    def settle(self) -> None:
        """Wait until every letter has its end."""
        self._until(lambda: not self._open(), self.patience_s)

    def compare(self) -> None:
        """Set what the mail server took against what the rows say."""
        extra = sum(count - 1 for count in self.taken.values())
        self._wrong(extra <= self.kills, f"doubled: {extra} after {self.kills} kills")
        for subject, state, attempts in self.rows(LETTERS):
            self._wrong(state == "sent", f"unsent {subject}: {state} after {attempts} tries")
            self._wrong(state != "sent" or bool(self.taken[subject]), f"lost {subject}")
            self.cut_off += attempts - 1
        limit_s = MINUTE_S / self.hurry + 10 * (self.hurry > 1)  # a hurried minute is shorter than a hiccup
        self._wrong(self.longest_s <= limit_s, f"late: a letter lay {self.longest_s:.0f} s")

    def _look(self) -> None:
        """Look how long letters lie that a dead worker had: a live one touches its own every 10 s."""
        now = dt.datetime.now(dt.UTC)
        for (touched_at,) in self.rows(SENDING):
            at = dt.datetime.fromisoformat(str(touched_at))
            at = at if at.tzinfo else at.replace(tzinfo=dt.UTC)
            self.longest_s = max(self.longest_s, (now - at).total_seconds())

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.cut_off} letters cut off, {sum(self.taken.values())} taken of"
            f" {len(self.taken)}, the longest lay {self.longest_s:.0f} s"
        )

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        """Take a letter, slowly."""
        subject = envelope.content.decode().partition("Subject: ")[2].partition("\r\n")[0]
        takes_s = SLOW_S / self.hurry if subject.startswith("Slow") else TAKES_S
        await asyncio.sleep(takes_s / 2)  # whoever dies now has sent nothing ...
        self.taken[subject] += 1
        self.on_taken(subject)
        await asyncio.sleep(takes_s / 2)  # ... and now does not know that he has
        return "250 OK"

    def _until(self, is_so: Callable[[], object], patience_s: float) -> None:
        deadline = time.monotonic() + patience_s
        while not is_so() and time.monotonic() < deadline:
            self._look()
            time.sleep(0.1)

    def _open(self) -> int:
        return sum(count for state, count in self.rows(STATES) if state in ("waiting", "sending"))

    def _wrong(self, is_right: bool, words: str) -> None:
        if not is_right:
            self.found.append(words)
