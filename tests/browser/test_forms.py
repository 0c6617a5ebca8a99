"""Nothing typed is lost: reload, back, a lost network; and the page keeps to its content policy."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Customer

pytestmark = pytest.mark.django_db(transaction=True)


def no_breaches(page: Page) -> bool:
    """Return whether the page has broken no rule of its content policy."""
    return page.evaluate("() => document.documentElement.dataset.cspViolations || ''") == ""


def test_typed_text_comes_back_after_a_reload(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(f"{site}/customers/new/")
    page.get_by_label("Name").fill("Ann Example")
    page.get_by_label("Address").fill("18 Millrace Lane")
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("Ann Example")
    expect(page.get_by_label("Address")).to_have_value("18 Millrace Lane")
    expect(page.get_by_text("was not saved and has been put back")).to_be_visible()
    page.get_by_role("button", name="Discard it").click()
    expect(page.get_by_label("Name")).to_have_value("")
    assert no_breaches(page)


def test_leaving_a_changed_form_is_asked_about(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    page.goto(f"{site}/customers/new/")
    page.get_by_label("Name").press_sequentially("Ann")
    page.get_by_role("link", name="Catalog").click()
    page.wait_for_url(re.compile("catalogue"))
    assert asked == ["beforeunload"]


def test_saved_text_does_not_come_back(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    page.goto(f"{site}/customers/new/")
    page.get_by_label("Name").fill("Ann Example")
    page.get_by_label("Phone", exact=False).first.fill("303 555 0171")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name="Ann Example")).to_be_visible()
    assert not asked
    page.goto(f"{site}/customers/new/")
    expect(page.get_by_label("Name")).to_have_value("")


def test_typed_text_survives_a_lost_network(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(f"{site}/customers/new/")
    page.get_by_label("Name").fill("Ann Example")
    page.get_by_label("Address").fill("18 Millrace Lane")
    page.context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    page.wait_for_timeout(300)
    page.context.set_offline(False)
    page.goto(f"{site}/customers/new/")
    expect(page.get_by_label("Address")).to_have_value("18 Millrace Lane")


def test_typed_text_survives_being_signed_out(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    page.goto(f"{site}/customers/new/")
    page.get_by_label("Name").fill("Ann Example")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile("/customers/new/|login"))
    sign_in(alice)
    page.goto(f"{site}/customers/new/")
    expect(page.get_by_label("Name")).to_have_value("Ann Example")


def test_a_refused_form_leads_to_its_fields(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    page.goto(f"{site}/customers/new/")
    page.get_by_role("button", name="Save").click()
    errors = page.get_by_role("alert")
    expect(errors).to_be_focused()
    errors.get_by_role("link").first.click()
    expect(page.get_by_label("Name")).to_be_focused()


def test_the_search_answers_while_typing(page: Page, site: str, sign_in: Any, alice: Any, shop: Any):
    Customer.objects.create(shop=shop, name="Ann Example", phone="303 555 0171")
    sign_in(alice)
    page.goto(f"{site}/search/")
    page.get_by_role("searchbox").press_sequentially("ann ex")
    expect(page.get_by_role("link", name="Ann Example")).to_be_visible()
    expect(page).to_have_url(re.compile(r"\?q=ann"))
    assert no_breaches(page)


def test_everything_is_reached_by_keyboard(page: Page, site: str, sign_in: Any, alice: Any):
    sign_in(alice)
    page.goto(f"{site}/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="New job")).to_be_focused()
