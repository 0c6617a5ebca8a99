"""Many tablets sending while the web process is killed; counts what was lost, doubled or half stored."""

from __future__ import annotations

import http.client
import random
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.soak.web import Web, call

Rows = Callable[[], list[tuple[str, str]]]


@dataclass
class Storm:
    """Clients that send marked batches until each is answered; ``rows`` reads the database itself."""

    web: Web
    path: str
    sessions: list[str]
    steps: list[int]
    rows: Rows
    seed: int | str = 0
    patience_s: float = 120  # without an answer; a long run beside other work needs more
    clients: int = 4
    sizes: dict[str, int] = field(default_factory=dict)  # mark of a batch → its events
    acked: set[str] = field(default_factory=set)  # "mark:number" of events named by an answer
    statuses: Counter[int] = field(default_factory=Counter)
    breaks: int = 0
    found: list[str] = field(default_factory=list)
    _end: threading.Event = field(default_factory=threading.Event)

    def run(self, kills: int, *, gap_s: tuple[float, float] = (0.05, 0.5), rest_s: float = 0.0) -> Storm:
        """Send under load and kill so many times at random moments; look into the database after each."""
        chance = random.Random(self.seed)
        threads = [threading.Thread(target=self._client, args=(n,), daemon=True) for n in range(self.clients)]
        for thread in threads:
            thread.start()
        for _ in range(kills):
            self._progress()
            time.sleep(chance.uniform(*gap_s))
            sure = set(self.acked)
            self.web.kill()
            self.look(sure)
        self._progress()
        time.sleep(rest_s)
        self._end.set()
        for thread in threads:
            thread.join(self.patience_s)
        self.look(set(self.acked))
        return self

    def look(self, sure: set[str]) -> None:
        """Compare what is stored with what was promised."""
        stored = Counter(mark for _, mark in self.rows())
        self.found += [f"lost {mark}" for mark in sorted(sure - stored.keys())]
        self.found += [f"doubled {mark}" for mark, count in stored.items() if count > 1]
        by_batch = Counter(mark.partition(":")[0] for mark in stored)
        sizes = dict(self.sizes)
        self.found += [
            f"half {batch}" for batch, count in by_batch.items() if count != sizes.get(batch, count)
        ]

    def _progress(self) -> None:
        """Wait until something more was answered: the server is up and works."""
        before, deadline = len(self.acked), time.monotonic() + self.patience_s
        while len(self.acked) == before and time.monotonic() < deadline:
            time.sleep(0.01)
        assert len(self.acked) > before, f"nothing is answered: {self.statuses}, {self.breaks} broken"

    def _client(self, number: int) -> None:
        chance = random.Random(f"{self.seed}/{number}")
        device = str(uuid.UUID(int=chance.getrandbits(128), version=4))
        while not self._end.is_set():
            batch = self._batch(chance, number)
            self._until_answered(batch, device, number)
            if chance.random() < 0.25:  # the answer may have been lost: a tablet would send it again
                self._until_answered(batch, device, number)

    def _batch(self, chance: random.Random, number: int) -> list[dict[str, Any]]:
        mark = uuid.UUID(int=chance.getrandbits(128), version=4).hex[:12]
        size = chance.randint(2, 6)
        self.sizes[mark] = size
        return [
            {
                "id": str(uuid.UUID(int=chance.getrandbits(128), version=4)),
                "step": chance.choice(self.steps),
                "verb": "note",
                "value": f"by client {number}",
                "cause": f"{mark}:{place}",
                "at": "2026-11-25T09:10:00Z",
                "design_number": 1,
            }
            for place in range(size)
        ]

    def _until_answered(self, batch: list[dict[str, Any]], device: str, number: int) -> None:
        session = self.sessions[number % len(self.sessions)]
        body = {"device": device, "device_name": f"client {number}", "events": batch}
        marks = {event["id"]: event["cause"] for event in batch}
        deadline = time.monotonic() + self.patience_s
        while time.monotonic() < deadline:
            try:
                status, answer = call(
                    self.web.port, "POST", self.path, session=session, body=body, timeout=self.patience_s
                )
            except (OSError, http.client.HTTPException, ValueError):
                self.breaks += 1
                time.sleep(0.02)
                continue
            self.statuses[status] += 1
            if status == 200:
                self.acked |= {marks[name] for name in (*answer["new"], *answer["known"])}
                return
            time.sleep(0.05)
