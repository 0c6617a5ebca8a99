"""The office pages at desk, tablet and phone width: no barrier axe finds, no sideways scroll, policy kept."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)

WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
TABLET = 820
WIDTHS = ((1280, 800), (TABLET, 1180), (320, 700))


def faults(page: Page, url: str) -> list[str]:
    """Return what is wrong with a page at every width."""
    found = []
    for width, height in WIDTHS:
        page.set_viewport_size({"width": width, "height": height})
        answer = page.goto(url)
        assert answer is not None
        assert answer.status == 200
        wide = page.evaluate(
            "() => document.documentElement.scrollWidth > document.documentElement.clientWidth"
        )
        found += [f"{url} scrolls sideways at {width}"] if wide else []
        if width != TABLET:  # axe is slow; the tablet page is the desk page, narrower
            found += [f"{url} {width}: {v['id']} {v['nodes'][0]['target']}" for v in _violations(page)]
    breaches = page.evaluate("() => document.documentElement.dataset.cspViolations || ''")
    return found + ([f"{url}: {breaches}"] if breaches else [])


def _violations(page: Page) -> list[dict[str, Any]]:
    response = Axe().run(page, options=WCAG).response
    assert response["passes"], "axe looked at nothing"
    return response["violations"]


def test_office_pages(page: Page, site: str, sign_in: Any, alice: Any, golden_job: Any):
    sign_in(alice)
    job, part = golden_job.pk, golden_job.designs.first().panels.first().part_id
    paths = [
        "/", "/?lane=design", "/search/?q=a1", "/search/?q=trailer", "/jobs/new/", f"/jobs/{job}/",
        f"/jobs/{job}/edit/", f"/jobs/{job}/papers/", f"/jobs/{job}/log/", "/customers/", "/customers/new/",
        f"/customers/{golden_job.vehicle.customer_id}/", f"/vehicles/{golden_job.vehicle_id}/",
        f"/vehicles/{golden_job.vehicle_id}/edit/", "/catalogue/", "/catalogue/new/", "/catalogue/new/panel/",
        f"/catalogue/{part}/", f"/catalogue/{part}/edit/", "/shop/", "/people/", "/people/new/",
        f"/people/{alice.membership.pk}/", "/account/password/change/",
    ]  # fmt: skip
    assert not [fault for path in paths for fault in faults(page, site + path)]


def test_pages_before_sign_in(page: Page, site: str, db: None):
    paths = ["/account/login/", "/account/password/reset/", "/account/signup/"]
    assert not [fault for path in paths for fault in faults(page, site + path)]
