"""Many tablets sending while the web process is killed; counts what was lost, doubled or half stored.

They send ticks, numbers, notes and pictures, as a day's work does: a picture in pieces first, then its event.
"""

from __future__ import annotations

import hashlib
import http.client
import random
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from checklists.photos.uploads import CHUNK
from tests.soak.web import Web, call, patch
from tests.unit.checklists.bad_pictures import random_jpeg

Rows = Callable[[str], list[tuple[Any, ...]]]  # an SQL question, asked of the database itself

EVENTS = "SELECT cause FROM checklists_stepevent WHERE cause <> ''"
PHOTOS = "SELECT id, sent_sha256, file FROM checklists_photo"


@dataclass
class Storm:
    """Clients that send marked batches until each is answered; ``rows`` reads the database itself."""

    web: Web
    path: str
    sessions: list[str]
    job: int
    kinds: list[dict[str, Any]]  # what an event may say, less its id; the last one names a picture
    rows: Rows
    seed: int | str = 0
    patience_s: float = 120  # without an answer; a long run beside other work needs more
    clients: int = 4
    photographers: int = 1
    sizes: dict[str, int] = field(default_factory=dict)  # mark of a batch → its events
    acked: set[str] = field(default_factory=set)  # "mark:number" of events named by an answer
    pictures: dict[str, str] = field(default_factory=dict)  # photo named by an answer → hash of its bytes
    statuses: Counter[int] = field(default_factory=Counter)
    picture_statuses: Counter[int] = field(default_factory=Counter)
    breaks: int = 0
    turned_away: int = 0
    found: list[str] = field(default_factory=list)
    _end: threading.Event = field(default_factory=threading.Event)

    def run(self, kills: int, *, gap_s: tuple[float, float] = (0.05, 0.5), rest_s: float = 0.0) -> Storm:
        """Send under load and kill so many times at random moments; look into the database after each."""
        chance = random.Random(self.seed)
        hands = [self._client] * self.clients + [self._photographer] * self.photographers
        threads = [threading.Thread(target=hand, args=(n,), daemon=True) for n, hand in enumerate(hands)]
        for thread in threads:
            thread.start()
        for _ in range(kills):
            self._progress()
            time.sleep(chance.uniform(*gap_s))
            sure, seen = set(self.acked), dict(self.pictures)
            self.web.kill()
            self.look(sure, seen)
        self._progress()
        time.sleep(rest_s)
        self._end.set()
        for thread in threads:
            thread.join(self.patience_s)
        self.look(set(self.acked), self.pictures)
        return self

    def __str__(self) -> str:
        kept = f"{len(self.acked)} events and {len(self.pictures)} photos kept"
        return f"{kept}, {self.statuses}, pictures {self.picture_statuses}, {self.breaks} broken"

    def look(self, sure: set[str], seen: dict[str, str]) -> None:
        """Compare what is stored with what was promised."""
        self._look_at_pictures(seen)
        stored = Counter(mark for (mark,) in self.rows(EVENTS))
        self.found += [f"lost {mark}" for mark in sorted(sure - stored.keys())]
        self.found += [f"doubled {mark}" for mark, count in stored.items() if count > 1]
        by_batch = Counter(mark.partition(":")[0] for mark in stored)
        sizes = dict(self.sizes)
        self.found += [
            f"half {batch}" for batch, count in by_batch.items() if count != sizes.get(batch, count)
        ]

    def _look_at_pictures(self, seen: dict[str, str]) -> None:
        stored = {uuid.UUID(str(name)).hex: (digest, path) for name, digest, path in self.rows(PHOTOS)}
        twice = Counter(digest for digest, _ in stored.values())
        self.found += [f"doubled picture {digest}" for digest, count in twice.items() if count > 1]
        for name, digest in seen.items():
            known, path = stored.get(name, ("", ""))
            if known != digest or not (self.web.media / path).is_file():
                self.found.append(f"lost picture {name}")

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
            batch = self._batch(chance, self.kinds[:-1], chance.randint(2, 6))
            self._until_answered(batch, device, number)
            if chance.random() < 0.25:  # the answer may have been lost: a tablet would send it again
                self._until_answered(batch, device, number)

    def _photographer(self, number: int) -> None:
        """Send a picture until it is a photo, then the event that names it; again with another picture."""
        chance = random.Random(f"{self.seed}/{number}")
        device = str(uuid.UUID(int=chance.getrandbits(128), version=4))
        while not self._end.is_set():
            data = random_jpeg(chance.randint(20_000, 2 * CHUNK), chance)
            digest = hashlib.sha256(data).hexdigest()
            facts = {"id": str(uuid.UUID(int=chance.getrandbits(128), version=4)), "size": len(data)}
            photo = self._picture(data, facts | {"sha256": digest, "type": "image/jpeg"}, number)
            if not photo:
                return
            self.pictures[uuid.UUID(photo).hex] = digest
            self._until_answered(self._batch(chance, [self.kinds[-1] | {"photo": photo}], 1), device, number)

    def _picture(self, data: bytes, facts: dict[str, Any], number: int) -> str:
        """Return the photo that the server made of it; where to go on is asked after every break."""
        session, offset = self.sessions[number % len(self.sessions)], None
        while not self._end.is_set():
            try:
                if offset is None:
                    path = f"/jobs/{self.job}/uploads/"
                    status, answer = call(self.web.port, "POST", path, session=session, body=facts)
                else:
                    piece = data[offset : offset + CHUNK]
                    status, answer = patch(self.web.port, f"/uploads/{facts['id']}/", session, offset, piece)
            except (OSError, http.client.HTTPException, ValueError):
                self.breaks += 1
                offset = None
                time.sleep(0.02)
                continue
            if self._is_full(status, answer):
                continue
            self.picture_statuses[status] += 1
            if answer.get("photo"):
                return str(answer["photo"])
            offset = answer.get("offset") if status < 300 else None
        return ""

    def _is_full(self, status: int, answer: dict[str, Any]) -> bool:
        """Return whether too many wait already, after a while: a tablet comes again. No other 503 is fine."""
        is_full = status == 503 and "busy with other tablets" in answer.get("error", "")
        self.turned_away += is_full
        time.sleep(0.1 * is_full)
        return is_full

    def _batch(self, chance: random.Random, kinds: list[dict[str, Any]], size: int) -> list[dict[str, Any]]:
        mark = uuid.UUID(int=chance.getrandbits(128), version=4).hex[:12]
        self.sizes[mark] = size
        return [
            {
                "id": str(uuid.UUID(int=chance.getrandbits(128), version=4)),
                "cause": f"{mark}:{place}",
                "at": "2026-11-25T09:10:00Z",
                "design_number": 1,
            }
            | chance.choice(kinds)
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
            if self._is_full(status, answer):
                continue
            self.statuses[status] += 1
            if status == 200:
                self.acked |= {marks[name] for name in (*answer["new"], *answer["known"])}
            if status in {200, 409}:  # refused for good: the statuses tell
                return
            time.sleep(0.05)
