"""A passkey, made and used in a real browser with an authenticator inside it (WebAuthn, section 11)."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.barriers import breaches, faults

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "seal-under-and-over"


def authenticator(page: Page) -> None:
    """Give the browser a key that says yes to everything."""
    wire = page.context.new_cdp_session(page)
    wire.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True,
        "hasUserVerification": True, "isUserVerified": True, "automaticPresenceSimulation": True,
    }  # fmt: skip
    wire.send("WebAuthn.addVirtualAuthenticator", {"options": options})


def test_a_passkey_signs_in_without_a_password(page: Page, site: str, bob: Any):
    bob.set_password(PASSWORD)
    bob.save()
    authenticator(page)
    page.goto(f"{site}/account/login/?next=/account/second-factor/webauthn/add/")
    page.locator("[name=login]").fill(bob.email)
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.locator("[name=password]").fill(PASSWORD)  # once more: what comes next changes how one signs in
    page.get_by_role("button", name="Confirm").click()
    page.locator("[name=passwordless]").check()
    page.get_by_role("button", name="Add the key").click()
    expect(page).to_have_url(re.compile("recovery-codes|webauthn/$"))
    assert not breaches(page)
    page.context.clear_cookies()
    page.goto(f"{site}/account/login/")
    page.get_by_role("button", name="Use a passkey").click()
    expect(page).to_have_url(f"{site}/")
    assert not breaches(page)


def test_the_pages_hold_no_barrier(page: Page, site: str, sign_in: Any, bob: Any):
    sign_in(bob)
    paths = ["/account/second-factor/", "/account/sessions/"]
    assert not [fault for path in paths for fault in faults(page, site + path)]
