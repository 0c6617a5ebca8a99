"""Has Lighthouse look at pages of the shipped server as a phone sees them, by hand: needs node and Chromium.

``uv run --group dev python tests/bench/lighthouse.py FOLDER`` (``npm install lighthouse`` in that folder).
Goals: performance 95 of the board, 85 of a design, all else 100; layout shift 0.05 at most.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
FLAGS = "--headless --no-sandbox --disable-gpu"


def main() -> None:
    """Make the shop, serve it as shipped, print what Lighthouse says of each page."""
    sys.path.insert(0, str(ROOT))
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"VAR_DIR": folder, "DATABASE_URL": f"sqlite:///{folder}/bench.sqlite3", "DEBUG": "0"}
        os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
        from tests.bench.load import shop_pages

        paths, cookie = shop_pages()
        head = Path(folder) / "head.json"
        head.write_text(json.dumps({"Cookie": cookie}))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = int(free.getsockname()[1])
        command = [sys.executable, "-m", "gunicorn", "-c", str(ROOT / "config/deploy/gunicorn.py")]
        server = subprocess.Popen(command, cwd=ROOT, env=os.environ | {"BIND": f"127.0.0.1:{port}"})
        try:
            for name, path in (paths | {"tablet": "/tablet/", "sign-in": "/account/login/"}).items():
                if name != "static":
                    address = f"http://localhost:{port}{path}"
                    warmed(address, cookie)
                    print(f"{name:8s} {told(looked_at(address, head))}", flush=True)
        finally:
            server.terminate()
            server.wait(40)


def warmed(address: str, cookie: str) -> None:
    """Ask for a page until the server is there."""
    for _ in range(60):
        try:
            urllib.request.urlopen(urllib.request.Request(address, headers={"Cookie": cookie}), timeout=30)
        except OSError:
            time.sleep(0.5)
        else:
            return


def looked_at(address: str, head: Path) -> dict[str, Any]:
    """Return what Lighthouse found at an address."""
    command = ["npx", "lighthouse", address, "--quiet", f"--chrome-flags={FLAGS}", "--output=json"]
    chromium = shutil.which("chromium") or ""
    found = subprocess.run(
        [*command, f"--extra-headers={head}"],
        cwd=sys.argv[1],
        env=os.environ | {"CHROME_PATH": chromium},
        capture_output=True,
        check=True,
    )
    answer: dict[str, Any] = json.loads(found.stdout)
    return answer


def told(found: dict[str, Any]) -> str:
    """Return the marks and the layout shift in one line."""
    marks = {name: each["score"] for name, each in found["categories"].items()}
    words = "  ".join(f"{name} {round((score or 0) * 100)}" for name, score in marks.items())
    return f"{words}  shift {found['audits']['cumulative-layout-shift']['numericValue']:.3f}"


if __name__ == "__main__":
    main()
