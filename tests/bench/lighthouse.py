"""Has Lighthouse look at pages of the shipped server as a phone sees them, by hand: needs node and Chromium.

``uv run --group dev python tests/bench/lighthouse.py FOLDER`` (``npm install lighthouse`` in that folder).
Goals: performance 95 of the board, 85 of a design, all else 100; layout shift 0.05 at most.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
FLAGS = "--headless --no-sandbox --disable-gpu"


def main() -> None:
    """Make the shop, serve it as shipped, print what Lighthouse says of each page."""
    sys.path.insert(0, str(ROOT))
    from tests.bench.house import own_database, serving
    from tests.bench.load import shop_pages

    with own_database() as folder:
        paths, cookie = shop_pages()
        head = folder / "head.json"
        head.write_text(json.dumps({"Cookie": cookie}))
        with serving() as port:
            for name, path in (paths | {"tablet": "/tablet/", "sign-in": "/account/login/"}).items():
                if name != "static":
                    address = f"http://localhost:{port}{path}"
                    warmed(address, cookie)
                    print(f"{name:8s} {told(looked_at(address, head))}", flush=True)


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
