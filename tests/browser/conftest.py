"""Knows how tests reach a real Chromium, and skips them with one line where there is none."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.handlers.wsgi import WSGIHandler

from checklists.plan.templates import newest_version
from config.warm import warm
from tests.browser.turns import Door
from tests.unit.checklists.conftest import open_for
from tests.unit.checklists.walk import complete, read_lines

# Playwright's sync form runs an event loop; the ORM refuses to work beside one unless told.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# The shell is the same browser without windows: half the work for the processor.
CHROMIUM = shutil.which("chromium-headless-shell") or shutil.which("chromium")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark everything here as a browser test; skip it where Chromium is missing, unless it is required."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None and not os.environ.get("REQUIRE_BROWSER"):
                item.add_marker(
                    pytest.mark.skip(reason="no Chromium here (apt-get install chromium-headless-shell)")
                )


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Return how Debian's Chromium is started."""
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture
def site(live_server: Any) -> str:
    """Return the address of the running site; cookies and caches are kept per host name."""
    return live_server.url.replace("127.0.0.1", "localhost")


@pytest.fixture
def sign_in(context: Any, site: str, client_of: Any) -> Any:
    """Return a way to be signed in as somebody without typing the password."""

    def make(user: Any) -> None:
        cookie = client_of(user).cookies["sessionid"]
        context.add_cookies([{"name": "sessionid", "value": cookie.value, "url": site}])

    return make


@pytest.fixture
def checklist(golden_job: Any, now: dt.datetime) -> Any:
    """Return the install record of the golden job, opened with the newest list of steps as a shop's are."""
    return open_for(golden_job, now, newest_version())


@pytest.fixture
def lines_read(checklist: Any, bob: Any, now: dt.datetime) -> Any:
    """Return the install, the safety lines of every phase read by Bob on the day the browser shows."""
    read_lines(checklist, bob, now, browser_days())
    return checklist


@pytest.fixture
def made_safe(lines_read: Any, bob: Any, now: dt.datetime) -> Any:
    """Return the install, checked in and made safe: roof, inside and battery are open to work."""
    complete(lines_read, bob, now, only="AB")
    return lines_read


def browser_days() -> list[str]:
    """Return the day a browser shows, the next (a test may run past midnight) and a western shop's."""
    today = dt.datetime.now(tz=dt.UTC).astimezone().date()
    return [f"{today + dt.timedelta(days=ahead):%Y-%m-%d}" for ahead in (0, 1, -1)]


@pytest.fixture(scope="session", autouse=True)
def door() -> Iterator[Door]:
    """Return the door every request to the live server goes through."""
    warm()  # on a fresh machine the first compile takes longer than a page waits
    made = Door()
    WSGIHandler.get_response = made.guard(WSGIHandler.get_response)
    yield made
    del WSGIHandler.get_response  # its parent's again


@pytest.fixture(autouse=True)
def in_turn(request: pytest.FixtureRequest, door: Door) -> Iterator[None]:
    """Shut the door before the records of a test are cleared: a page may still be asking for something."""
    if "transactional_db" in request.fixturenames or request.node.get_closest_marker("django_db"):
        request.getfixturevalue("transactional_db")
    door.is_open = True
    yield
    door.shut()
