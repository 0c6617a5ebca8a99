"""Knows how a test has a server that can be stopped and a tablet whose browser can be killed.

The server is a process of its own on a database file, copied from the tests' database in memory. The tablet
is Chromium with a profile on disk: killed by SIGKILL and opened again it has only what it had written down.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection

from tests.browser.conftest import CHROMIUM, FLAGS


class Server:
    """The site as a process on a database file; stopped, nothing answers at its address."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "site.sqlite3"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://localhost:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None
        with sqlite3.connect(self.file) as target:
            connection.ensure_connection()
            connection.connection.backup(target)
        target.close()

    def start(self) -> None:
        """Start it and wait until it answers."""
        env = os.environ | {
            "DATABASE_URL": f"sqlite:///{self.file}", "MEDIA_ROOT": str(self.folder / "media"),
            "DEBUG": "1", "SECRET_KEY": settings.SECRET_KEY,
        }  # fmt: skip
        command = [sys.executable, "-m", "gunicorn", "config.wsgi", "-w", "1", "--threads", "8",
                   "-b", f"127.0.0.1:{self.port}", "--log-level", "error"]  # fmt: skip
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                command, env=env, cwd=settings.BASE_DIR, stdout=log, stderr=log, start_new_session=True
            )
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                urllib.request.urlopen(f"{self.url}/tablet.webmanifest", timeout=5).close()
                return
            except OSError:
                time.sleep(0.1)
        raise AssertionError((self.folder / "server.log").read_text()[-2000:])

    def stop(self) -> None:
        """Stop it at once, as a power cut would."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def rows(self, query: str, *facts: Any) -> list[tuple[Any, ...]]:
        """Return what the file holds, whether the server runs or not."""
        with sqlite3.connect(self.file, timeout=20) as file:
            found = file.execute(query, facts).fetchall()
        file.close()
        return found


class Tablet:
    """One tablet: a browser with a profile on disk, signed in as one person."""

    def __init__(self, playwright: Any, profile: Path, url: str, session: str) -> None:
        self.playwright, self.profile, self.url, self.session = playwright, profile, url, session
        self.flags: list[str] = []
        self.context: Any = None
        self.page: Any = None

    def open(self, path: str = "") -> float:
        """Open the browser and the shell; return the seconds until the first view stood. [s]"""
        self.context = self.playwright.chromium.launch_persistent_context(
            self.profile, executable_path=CHROMIUM, args=[*FLAGS, *self.flags],
            viewport={"width": 820, "height": 1180},
        )  # fmt: skip
        self.sign_in()
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        begun = time.monotonic()
        self.page.goto(f"{self.url}/tablet/{path}")
        self.page.locator("#page h1").wait_for()
        return time.monotonic() - begun

    def sign_in(self) -> None:
        """Put the session in place; a killed browser may not have written its cookies down yet."""
        self.context.add_cookies([{"name": "sessionid", "value": self.session, "url": self.url}])

    def kill(self) -> None:
        """Kill the browser: no goodbye, no flush."""
        for pid in self._pids():
            os.kill(pid, signal.SIGKILL)
        with contextlib.suppress(Exception):  # whatever a driver says when its browser is gone
            self.context.close()
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.profile / name).unlink(missing_ok=True)

    def _pids(self) -> list[int]:
        """Return the processes of this very profile."""
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                try:
                    line = (entry / "cmdline").read_bytes().decode(errors="replace")
                except OSError:
                    continue
                if f"--user-data-dir={self.profile}" in line:
                    found.append(int(entry.name))
        return found

    def close(self) -> None:
        """Close the browser in peace."""
        self.context.close()

    def take(self, job: int) -> None:
        """Take a job along, as the button does, and wait until the worker keeps the shell."""
        self.page.get_by_role("button", name=re.compile("Take along|Take again")).first.click()
        self.page.locator(f'a[href="#/job/{job}"]').wait_for()
        self.page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")

    def go(self, where: str) -> None:
        """Show another view, as a link would."""
        self.page.evaluate("(where) => { location.hash = where; }", where)
        self.page.wait_for_function("() => document.querySelector('#page h1')")

    def is_cut_off(self) -> bool:
        """Return whether a question to the server fails; asked past the worker and every cache."""
        return bool(
            self.page.evaluate(
                "() => fetch('/tablet/hello/?now=' + Date.now(), { cache: 'no-store' })"
                ".then(() => false, () => true)"
            )
        )

    def kept(self) -> dict[str, int]:
        """Return how many rows each store holds."""
        return dict(
            self.page.evaluate(
                """async () => {
                  const open = indexedDB.open('coachlight');
                  const db = await new Promise((ok) => { open.onsuccess = () => ok(open.result); });
                  const count = (name) => new Promise((ok) => {
                    const asked = db.transaction(name).objectStore(name).count();
                    asked.onsuccess = () => ok(asked.result);
                  });
                  const out = {};
                  for (const name of ['events', 'outbox', 'uploads', 'jobs']) out[name] = await count(name);
                  db.close();
                  return out;
                }"""
            )
        )

    def wait_until_sent(self, seconds: float = 60) -> float:
        """Return how long it took until nothing waits here. [s]"""
        begun = time.monotonic()
        while time.monotonic() - begun < seconds:
            if self.kept()["outbox"] == 0:
                return time.monotonic() - begun
            time.sleep(0.1)
        raise AssertionError(f"still waiting: {self.kept()}, {self.page.locator('#state').inner_text()}")
