"""Nothing moves under the finger while a page loads: at most 0.05 at a phone's and a tablet's width.

Layout shift as the browser counts it (https://web.dev/articles/cls: 0.1 is good), without what follows a
touch. Fonts come late here, as on a slow network, so that the faces shown meanwhile are measured too.
"""

from __future__ import annotations

import time
from typing import Any

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)

MOST = 0.05
WIDTHS = (360, 820)
WATCH = """() => {
  window.moved = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries())
      if (!entry.hadRecentInput)
        window.moved.push([entry.value, ...entry.sources.map((each) => each.node?.outerHTML?.slice(0, 90))]);
  }).observe({ type: 'layout-shift', buffered: true });
}"""


def moved(page: Page, address: str, width: int) -> float:
    """Return how much of a page moved while it loaded at a width."""
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(address, wait_until="load")
    page.evaluate("document.fonts.ready")
    page.wait_for_timeout(300)
    seen = page.evaluate("window.moved")
    return float(sum(value for value, *_ in seen))


@pytest.fixture
def watched(page: Page) -> Page:
    """Return a page that counts what moves, on a network where fonts are late."""

    def late(route: Any) -> None:
        time.sleep(0.25)
        route.continue_()

    page.add_init_script(f"({WATCH})()")
    page.route("**/*.woff2", late)
    return page


def test_office_pages_stand_still(watched: Page, site: str, sign_in: Any, alice: Any, checklist: Any):
    sign_in(alice)
    job = checklist.job
    design = job.designs.first().pk
    paths = [
        "/", f"/jobs/{job.pk}/", f"/jobs/{job.pk}/install/", f"/designs/{design}/",
        f"/designs/{design}/roof/",
        f"/jobs/{job.pk}/survey/", "/customers/", "/catalogue/",
    ]  # fmt: skip
    found = {(path, width): moved(watched, site + path, width) for path in paths for width in WIDTHS}
    too_much = {where: value for where, value in found.items() if value > MOST}
    assert not too_much


def test_the_sign_in_stands_still(watched: Page, site: str, db: None):
    assert max(moved(watched, site + "/account/login/", width) for width in WIDTHS) <= MOST
