"""A real gunicorn on a real database, whose web process can be killed at any moment."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
CSRF = "s" * 32


@dataclass
class Web:
    """One gunicorn master; its worker is the web process."""

    database_url: str
    folder: Path
    threads: int = 8
    workers: int = 1
    port: int = 0
    statuses: list[int] = field(default_factory=list)
    _master: Any = None

    def __enter__(self) -> Web:
        self.port = free_port()
        self._build_file.write_text("")
        env = os.environ | {
            "DATABASE_URL": self.database_url, "SOAK_BUILD": str(self._build_file), "LOG_LEVEL": "ERROR",
            "MEDIA_ROOT": str(self.media), "WATCH_CSP": "0", "PYTHONPATH": str(ROOT),
        }  # fmt: skip
        command = [
            sys.executable, "-m", "gunicorn", "config.wsgi", "--preload", "--worker-class", "gthread",
            "-w", str(self.workers), "--threads", str(self.threads), "--bind", f"127.0.0.1:{self.port}",
            "-c", str(Path(__file__).with_name("gunicorn_conf.py")), "--log-level", "critical",
            "--timeout", "120",
        ]  # fmt: skip
        self._log = (self.folder / "gunicorn.log").open("w")
        self._master = subprocess.Popen(command, cwd=ROOT, env=env, stdout=self._log, stderr=self._log)
        self.wait()
        return self

    def __exit__(self, *_: object) -> None:
        for pid in [*self.pids(), self._master.pid]:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self._master.wait()
        self._log.close()

    @property
    def media(self) -> Path:
        """Return the folder of the photos."""
        return self.folder / "media"

    @property
    def _build_file(self) -> Path:
        return self.folder / "build"

    def pids(self) -> list[int]:
        """Return the web processes."""
        children = Path(f"/proc/{self._master.pid}/task/{self._master.pid}/children")
        with contextlib.suppress(FileNotFoundError):
            return [int(pid) for pid in children.read_text().split()]
        return []

    def kill(self) -> None:
        """Kill every web process as a power cut would; the master starts new ones."""
        for pid in self.pids():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)

    def build(self, name: str) -> None:
        """Go on as a build broken on purpose; an empty name is the real one."""
        self._build_file.write_text(name)
        before = set(self.pids())
        self.kill()
        deadline = time.monotonic() + 60
        while not set(self.pids()) - before and time.monotonic() < deadline:
            time.sleep(0.02)
        self.wait()

    def wait(self) -> None:
        """Wait until it answers."""
        deadline = time.monotonic() + 600
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError, http.client.HTTPException, ValueError):
                if call(self.port, "GET", "/tablet/hello/")[0] == 401:
                    return
            assert self._master.poll() is None, (self.folder / "gunicorn.log").read_text()[-2000:]
            time.sleep(0.05)
        raise AssertionError("the server does not answer")


def free_port() -> int:
    """Return a port nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def call(
    port: int,
    method: str,
    path: str,
    *,
    session: str = "",
    body: Any = None,
    timeout: float = 300,
    page: bool = False,
) -> tuple[int, Any]:
    """Return status and JSON (or the ``page``'s text) of one request; raise when the line breaks it."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
    cookies = f"csrftoken={CSRF}" + (f"; sessionid={session}" if session else "")
    headers = {
        "Cookie": cookies,
        "X-CSRFToken": CSRF,
        "Content-Type": "application/json",
        "Connection": "close",
    }
    try:
        link.request(method, path, None if body is None else json.dumps(body).encode(), headers)
        answer = link.getresponse()
        data = answer.read()
        if answer.getheader("Content-Length") and len(data) != int(answer.getheader("Content-Length")):
            raise http.client.IncompleteRead(data)
        # An answer cut off in its head has no length to miss, and no JSON: a ValueError.
        return answer.status, data.decode() if page else json.loads(data)
    finally:
        link.close()


def patch(port: int, path: str, session: str, offset: int, piece: bytes) -> tuple[int, dict[str, Any]]:
    """Send one piece of a picture; return status and answer, the server's count of bytes as ``offset``."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    headers = {
        "Cookie": f"csrftoken={CSRF}; sessionid={session}", "X-CSRFToken": CSRF, "Upload-Offset": str(offset),
        "Content-Type": "application/offset+octet-stream", "Connection": "close",
    }  # fmt: skip
    try:
        link.request("PATCH", path, piece, headers)
        answer = link.getresponse()
        data = answer.read()
        told = json.loads(data) if data else {"offset": int(answer.headers["Upload-Offset"])}
        return answer.status, told
    finally:
        link.close()


#: What was made of a kind, SQLite's own left out.
MADE = "SELECT name, sql FROM sqlite_master WHERE type = ? AND sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"


def sqlite_copy(path: Path) -> str:
    """Write the tests' database, as it is inside this test, to a file; return its address."""
    import pytest
    from django.db import connection

    if connection.vendor != "sqlite":
        pytest.skip("this copies a SQLite database")
    connection.ensure_connection()
    own = connection.connection  # read through its own link: the test has committed nothing
    with contextlib.closing(sqlite3.connect(path)) as copy:
        for kind in ("table", "index", "trigger", "view"):
            for name, sql in own.execute(MADE, [kind]).fetchall():
                copy.execute(sql)
                if kind == "table":
                    _copy_rows(own, copy, name)
        copy.execute("DELETE FROM sqlite_sequence")
        _copy_rows(own, copy, "sqlite_sequence")
        copy.commit()
    return f"sqlite:///{path}"


def _copy_rows(own: Any, copy: Any, table: str) -> None:
    """Write each row as SQLite itself quotes it: no value passes through Python."""
    names = [row[1] for row in own.execute(f'PRAGMA table_info("{table}")')]
    quoted = " || ',' || ".join(f'quote("{name}")' for name in names)
    for (row,) in own.execute(f'SELECT {quoted} FROM "{table}"').fetchall():
        copy.execute(f'INSERT INTO "{table}" VALUES ({row})')


def sqlite_rows(path: Path, query: str) -> list[tuple[Any, ...]]:
    """Return what a question finds in a database file, read beside whoever writes it."""
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=20)) as link:
        return link.execute(query).fetchall()
