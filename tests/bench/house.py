"""A shop of its own for a measurement: an empty database in a folder that goes, and the shipped server."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@contextlib.contextmanager
def own_database() -> Iterator[Path]:
    """Have this process use a database of its own with the settings of a shop; yield its folder."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"VAR_DIR": folder, "DATABASE_URL": f"sqlite:///{folder}/bench.sqlite3", "DEBUG": "0"}
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        yield Path(folder)


@contextlib.contextmanager
def serving() -> Iterator[int]:
    """Run the shipped server on this process's database and yield its port."""
    from tests.soak.web import free_port

    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "-c", str(ROOT / "config/deploy/gunicorn.py")]
    server = subprocess.Popen(command, cwd=ROOT, env=os.environ | {"BIND": f"127.0.0.1:{port}"})
    try:
        yield port
    finally:
        server.terminate()
        server.wait(40)
