"""Photos over a wire that is cut, to a server that is killed: what was acknowledged is there, once.

A real server on a database file, real sockets: a connection ends in the middle of a piece, or before its
answer is read; the server is ended by SIGKILL while it reads or writes.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import os
import random
import socket
import subprocess
import sys
import time
import uuid
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from checklists.photos.uploads import CHUNK
from tests.soak.web import Web, sqlite_copy, sqlite_rows
from tests.unit.checklists.bad_pictures import MB, random_jpeg

pytestmark = pytest.mark.django_db(transaction=True)
TOKEN = "a" * 32  # any token will do where the cookie says the same


@dataclass
class Wire:
    """A device with bad luck: it cuts its own connections, and counts what it had to send again."""

    server: Web
    job_pk: int
    session: str
    dice: random.Random
    cuts: int = 0
    resent_most: int = 0
    stored: dict[str, str] = field(default_factory=dict)

    def send(self, data: bytes, cuts: int, kills: int = 0) -> None:
        """Send one picture with so many cuts and kills on the way, each at a place of its own."""
        self.id, self.data = str(uuid.uuid4()), data
        self.announce()
        places = sorted(self.dice.sample(range(1, len(data)), cuts + kills))
        kill_at = set(self.dice.sample(places, kills))
        answer, offset = {}, 0
        while "photo" not in answer:
            piece = data[offset : offset + CHUNK]
            cut = next((place for place in places if place < offset + len(piece)), None)
            if cut is None:
                answer = self.ask("PATCH", f"/uploads/{self.id}/", piece, {"Upload-Offset": str(offset)})
                assert int(answer["upload-offset"]) >= offset
                offset = int(answer["upload-offset"])
                continue
            places.remove(cut)
            offset = self.cut(piece, offset, max(cut - offset, 0), is_kill=cut in kill_at)
        self.stored[hashlib.sha256(data).hexdigest()] = answer["photo"]

    def race(self, data: bytes, hands: int) -> set[str]:
        """Send one upload from several sides at once, each as if alone; return the photos they got."""
        self.id, self.data = str(uuid.uuid4()), data
        self.announce()
        with ThreadPoolExecutor(hands) as pool:
            photos = set(pool.map(lambda _: self.hand(), range(hands)))
        self.stored[hashlib.sha256(data).hexdigest()] = min(photos)
        return photos

    def hand(self) -> str:
        answer, offset = {}, 0
        while "photo" not in answer:
            piece = self.data[offset : offset + 20_000]
            answer = self.ask("PATCH", f"/uploads/{self.id}/", piece, {"Upload-Offset": str(offset)})
            assert int(answer["upload-offset"]) >= offset, "a piece that was acknowledged is gone"
            offset = int(answer["upload-offset"])
        return answer["photo"]

    def announce(self) -> None:
        digest = hashlib.sha256(self.data).hexdigest()
        body = {"id": self.id, "sha256": digest, "size": len(self.data), "type": "image/jpeg"}
        assert self.ask("POST", f"/jobs/{self.job_pk}/uploads/", json.dumps(body).encode())["offset"] == 0

    def cut(self, piece: bytes, offset: int, most: int, *, is_kill: bool) -> int:
        """Send so much of a piece, end the connection or the server, and ask where to go on."""
        sent = piece if self.dice.random() < 0.3 else piece[:most]  # or all of it, and its answer is lost
        head = {"Upload-Offset": str(offset), "Content-Length": str(len(piece))}
        with socket.create_connection(("127.0.0.1", self.server.port)) as line:
            line.sendall(self.head("PATCH", f"/uploads/{self.id}/", head) + sent)
            if is_kill:
                time.sleep(self.dice.random() * 0.03)
                self.server.kill()
        if is_kill:
            self.server.wait()
        self.cuts += 1
        answer = self.ask("HEAD", f"/uploads/{self.id}/")
        there = int(answer["upload-offset"])
        assert there >= offset, "a piece that was acknowledged is gone"
        self.resent_most = max(self.resent_most, offset + len(sent) - there)
        return there

    def head(self, method: str, path: str, more: dict[str, str]) -> bytes:
        lines = {
            "Host": f"localhost:{self.server.port}", "Cookie": f"sessionid={self.session}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN, "Connection": "close",
        } | more  # fmt: skip
        return f"{method} {path} HTTP/1.1\r\n".encode() + b"".join(
            f"{name}: {value}\r\n".encode() for name, value in lines.items()
        ) + b"\r\n"  # fmt: skip

    def ask(self, method: str, path: str, body: bytes = b"", more: dict[str, str] | None = None) -> dict:
        """Return what is answered, headers and JSON in one; a refusal fails the test."""
        head = {"Content-Length": str(len(body)), "Content-Type": "application/json"} | (more or {})
        with socket.create_connection(("127.0.0.1", self.server.port), timeout=120) as line:
            line.sendall(self.head(method, path, head) + body)
            answer = http.client.HTTPResponse(line, method=method)
            answer.begin()
            text = answer.read()
        if answer.status == 503 and b"busy with other tablets" in text:  # many hands at once: it comes again
            time.sleep(0.1)
            return self.ask(method, path, body, more)
        # 409: a piece whose answer was lost came in after all, behind our question.
        assert answer.status < 300 or answer.status == 409, (answer.status, text[:300])
        found = {name.lower(): value for name, value in answer.getheaders()}
        return found | (json.loads(text) if text else {})


@pytest.fixture
def wire(checklist, bob, client_of, tmp_path):
    session = client_of(bob).cookies["sessionid"].value
    with Web(sqlite_copy(tmp_path / "site.sqlite3"), tmp_path) as server:
        yield Wire(server, checklist.job_id, session, random.Random(14_27))


def files(server: Web) -> set[str]:
    root = server.media
    return {path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file()}


def tidy(server: Web) -> None:
    """Let two days pass, then clean as the shop's timer does."""
    old = time.time() - 2 * 86_400
    for name in files(server):
        os.utime(server.media / name, (old, old))
    env = os.environ | {"DATABASE_URL": server.database_url, "MEDIA_ROOT": str(server.media)}
    root = Path(__file__).parents[3]
    subprocess.run([sys.executable, "manage.py", "tidy_photos"], env=env, cwd=root, check=True)


def assert_all_is_there(wire: Wire) -> None:
    query = "SELECT sent_sha256, id, file, small FROM checklists_photo"
    rows = sqlite_rows(wire.server.folder / "site.sqlite3", query)
    assert {digest: str(uuid.UUID(pk)) for digest, pk, *_ in rows} == wire.stored
    assert len(rows) == len(wire.stored), "a photo twice"
    assert wire.resent_most <= CHUNK
    assert files(wire.server) >= {name for *_, file, small in rows for name in (file, small)}
    tidy(wire.server)
    assert files(wire.server) == {name for *_, file, small in rows for name in (file, small)}


def test_a_dozen_photos_over_cut_wires_and_a_killed_server(wire):
    for size in (0.1, 0.1, 0.2, 0.3, 0.3, 0.5, 0.6, 0.8, 1.0, 1.2, 15):
        wire.send(random_jpeg(int(size * MB), wire.dice), cuts=wire.dice.randint(1, 3))
    wire.send(random_jpeg(MB, wire.dice), cuts=1, kills=2)
    assert wire.cuts >= 14
    assert len(wire.race(random_jpeg(MB, wire.dice), hands=6)) == 1
    assert_all_is_there(wire)


@pytest.mark.full
@pytest.mark.parametrize("part", range(5))
def test_two_hundred_photos_over_cut_wires_and_a_killed_server(wire, part):
    """Five parts of some minutes: ``pytest -n 0 -s -m full``."""
    wire.dice.seed(part)
    for number in range(40):
        size = int(0.1 * MB * 150 ** wire.dice.random())  # 0.1 to 15 MB, as many small ones as large
        wire.send(random_jpeg(size, wire.dice), wire.dice.randint(1, 5), kills=number % 20 == 7)
    print(f"\n{wire.cuts} cuts, most sent again {wire.resent_most / 1024:.0f} kB")
    assert_all_is_there(wire)
