"""A TCP proxy that spoils requests on purpose, one fault a connection."""

from __future__ import annotations

import contextlib
import random
import socket
import threading
import time
from collections import Counter

FAULTS = ("drop_before", "drop_after", "duplicate", "reorder", "truncate", "delay", "drip")


class FaultProxy:
    """Listens on ``port`` and forwards to ``upstream``; a tenth of the requests meets each fault."""

    def __init__(self, upstream: int, requests: int, seed: int) -> None:
        self.chance = random.Random(seed)
        share = max(1, round(requests / 10))
        plan = [fault for fault in FAULTS for _ in range(share)]
        plan += [""] * max(0, requests - len(plan))
        self.chance.shuffle(plan)
        self.upstream, self.plan, self.total = upstream, plan, len(plan)
        self.faults: Counter[str] = Counter()
        self.statuses: Counter[int] = Counter()  # every answer of the server, delivered or not
        self.passed = 0
        self._lock = threading.Lock()
        self._door = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.port = int(self._door.getsockname()[1])
        threading.Thread(target=self._serve, daemon=True).start()

    @property
    def is_done(self) -> bool:
        """Return whether every planned fault has been used."""
        return not self.plan

    def close(self) -> None:
        """Stop listening."""
        self._door.close()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                client, _ = self._door.accept()
                threading.Thread(target=self._one, args=(client,), daemon=True).start()

    def _one(self, client: socket.socket) -> None:
        with contextlib.suppress(OSError), client:
            client.settimeout(300)
            request = read_message(client)
            if not request:
                return
            with self._lock:
                fault = self.plan.pop() if self.plan else ""
                seed = self.chance.random()
            self.faults[fault] += 1
            if fault == "drop_before":
                return
            answer = self._forward(request, fault, random.Random(seed))
            self.passed += 1
            if fault == "drop_after":
                return
            if fault == "truncate" and seed < 0.5:  # the other half cuts the request instead
                answer = answer[: int(len(answer) * seed)]
            for piece in pieces(answer) if fault == "drip" else [answer]:
                client.sendall(piece)

    def _forward(self, request: bytes, fault: str, chance: random.Random) -> bytes:
        if fault == "delay":
            time.sleep(chance.uniform(0.02, 0.2))
        elif fault == "reorder":  # let another one pass first
            seen, deadline = self.passed, time.monotonic() + 0.4
            while self.passed == seen and time.monotonic() < deadline:
                time.sleep(0.005)
        elif fault == "duplicate":
            twin = threading.Thread(target=self._ask, args=([request],), daemon=True)
            twin.start()
            answer = self._ask([request])
            twin.join(300)
            return answer
        elif fault == "truncate" and chance.random() < 0.6:
            return self._ask([request[: chance.randrange(1, len(request))]])
        return self._ask(pieces(request) if fault == "drip" else [request])

    def _ask(self, parts: list[bytes]) -> bytes:
        """Send a request to the server in parts, close that side, and return what it answers."""
        answer = b""
        with (
            contextlib.suppress(OSError),
            socket.create_connection(("127.0.0.1", self.upstream), 300) as link,
        ):
            for part in parts:
                link.sendall(part)
                if len(parts) > 1:
                    time.sleep(0.002)
            link.shutdown(socket.SHUT_WR)
            while part := link.recv(65536):
                answer += part
        if answer.startswith(b"HTTP/1."):
            self.statuses[int(answer.split(b" ", 2)[1])] += 1
        return answer


def pieces(message: bytes) -> list[bytes]:
    """Return a message in about forty parts."""
    size = max(1, len(message) // 40)
    return [message[place : place + size] for place in range(0, len(message), size)]


def read_message(link: socket.socket) -> bytes:
    """Return one HTTP request, head and body."""
    data = b""
    while b"\r\n\r\n" not in data:
        part = link.recv(65536)
        if not part:
            return b""
        data += part
    head, _, body = data.partition(b"\r\n\r\n")
    length = next(
        (
            int(line.split(b":")[1])
            for line in head.split(b"\r\n")
            if line.lower().startswith(b"content-length:")
        ),
        0,
    )
    while len(body) < length:
        part = link.recv(65536)
        if not part:
            return b""
        body += part
    return head + b"\r\n\r\n" + body
