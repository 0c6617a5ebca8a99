"""Runs the modules of a page outside a browser, all questions of a test in one go."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
NODE = shutil.which("node") or shutil.which("nodejs")
needs_node = pytest.mark.skipif(NODE is None, reason="needs node: apt-get install nodejs")


def run_js(script: str, data: Any, *, folder: Path | None = None, seconds: int = 120) -> Any:
    """Return what a module script answers; it finds ``data`` by that name and calls ``answer(value)``.

    ``folder`` holds the tablet's modules, another one than ours when a test broke a copy.
    """
    assert NODE is not None
    where = folder or ROOT / "static" / "js" / "tablet"
    head = (
        'import fs from "node:fs";\n'
        'const data = JSON.parse(fs.readFileSync(0, "utf8"));\n'
        "const answer = (value) => fs.writeFileSync(1, JSON.stringify(value));\n"
    )
    text = script.replace('from "./', f'from "{where.as_uri()}/')
    done = subprocess.run(
        [NODE, "--input-type=module", "-e", head + text],
        input=json.dumps(data),
        capture_output=True,
        text=True,
        timeout=seconds,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)
