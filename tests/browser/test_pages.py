"""The office pages at desk, tablet and phone width: no barrier axe finds, no sideways scroll, policy kept."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.barriers import faults

pytestmark = pytest.mark.django_db(transaction=True)


def test_office_pages(page: Page, site: str, sign_in: Any, alice: Any, golden_job: Any):
    sign_in(alice)
    job, part = golden_job.pk, golden_job.designs.first().panels.first().part_id
    paths = [
        "/", "/?lane=design", "/search/?q=a1", "/search/?q=trailer", "/jobs/new/", f"/jobs/{job}/",
        f"/jobs/{job}/edit/", f"/jobs/{job}/papers/", f"/jobs/{job}/log/", "/customers/", "/customers/new/",
        f"/customers/{golden_job.vehicle.customer_id}/", f"/vehicles/{golden_job.vehicle_id}/",
        f"/vehicles/{golden_job.vehicle_id}/edit/", "/catalogue/", "/catalogue/new/", "/catalogue/new/panel/",
        f"/catalogue/{part}/", f"/catalogue/{part}/edit/", "/tables/parts/import/",
        "/tables/customers/import/", "/shop/", "/people/", "/people/new/",
        f"/people/{alice.membership.pk}/", "/account/password/change/",
    ]  # fmt: skip
    assert not [fault for path in paths for fault in faults(page, site + path)]


def test_pages_before_sign_in(page: Page, site: str, db: None):
    paths = ["/account/login/", "/account/password/reset/", "/account/signup/"]
    assert not [fault for path in paths for fault in faults(page, site + path)]
