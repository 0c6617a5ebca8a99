"""Settings of the soak tests' gunicorn: a worker may be started as a build broken on purpose."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any


def when_ready(server: Any) -> None:
    """Read all of the app in the master: a web process started after a kill answers at once."""
    from django.urls import get_resolver

    assert get_resolver().url_patterns


def post_fork(server: Any, worker: Any) -> None:
    """Apply the broken build that is asked for now, if any."""
    name = Path(os.environ["SOAK_BUILD"]).read_text()
    if name:
        from tests.soak.broken import BUILDS

        for patch in BUILDS[name]():
            patch.__enter__()
