"""Automatic layouts in a real browser: searched, compared, stopped, taken as one step, and without script."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from jobs.autolayout.run import layout_search_work
from jobs.models import LayRun, Part
from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import add, design, opened, saved, state  # noqa: F401
from tests.browser.turns import ONE_AT_A_TIME

pytestmark = pytest.mark.django_db(transaction=True)


def only(page, sku):
    """Let only one model be laid."""
    with ONE_AT_A_TIME:
        part = Part.objects.filter(sku=sku).first()
    for box in page.locator(".lay-models input").all():
        box.set_checked(box.get_attribute("value") == str(part.pk))


def work():
    """Do what a background worker does."""
    with ONE_AT_A_TIME:
        layout_search_work(LayRun.objects.get().pk, clock=timezone.now)


def asked(page):
    """Ask for layouts and wait until the search is in the queue."""
    page.locator("#ws-lay-open").click()
    page.locator(".lay-ask").wait_for()
    only(page, "P400")
    page.locator("[data-lay-start]").click()
    page.locator(".lay-progress").wait_for()


def test_layouts_are_compared_and_one_is_taken_as_one_step(opened, design):
    page = opened
    add(page)
    asked(page)
    assert len(state(design)["panels"]) == 1  # what was placed is stored before the search reads it
    work()
    page.locator(".lay[data-open=no]").wait_for()
    assert not barriers(page)
    card = page.locator(".lay-card").first
    count = card.locator(".lay-plan circle").count()
    for words in ("kWh", "Worst direction", "Holes for feet", "Leads on the roof", "$"):
        assert words in card.inner_text()
    card.get_by_role("button").click()
    expect(page.locator(".plan-panel")).to_have_count(count, timeout=30_000)
    page.wait_for_timeout(800)
    saved(page)
    laid = state(design)
    assert len(laid["panels"]) == count > 1
    assert laid["strings"]
    page.locator("[data-do=undo]").click()
    expect(page.locator(".plan-panel")).to_have_count(1, timeout=30_000)
    page.wait_for_timeout(800)
    saved(page)
    assert len(state(design)["panels"]) == 1


def test_a_search_is_stopped_and_a_wrong_limit_is_named_and_kept(opened, design):
    page = opened
    asked(page)
    page.locator("[data-lay=stop] button").click()
    page.locator(".lay[data-open=no]").wait_for()
    with ONE_AT_A_TIME:
        assert LayRun.objects.get().state == "stopped"
    page.locator("#id_lay-panels_max").fill("many")
    page.locator("[data-lay-start]").click()
    page.locator(".lay .errors").wait_for()
    assert "Most panels: must be a whole number" in page.locator(".lay .errors").inner_text()
    assert page.locator("#id_lay-panels_max").input_value() == "many"
    page.locator("#ws-lay-close").click()
    assert page.locator("#ws-lay-sheet").is_hidden()


def test_without_script_the_plan_stands_still_and_forms_do_the_work(design, erin, site, browser, client_of):
    with ONE_AT_A_TIME:
        cookie = client_of(erin).cookies["sessionid"].value
    context = browser.new_context(java_script_enabled=False, viewport={"width": 820, "height": 1180})
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
    page = context.new_page()
    page.goto(site + reverse("jobs:workspace", args=[design.pk]))
    assert page.locator(".roof-plan").is_visible()
    assert page.locator("#ws-tools").is_hidden()
    page.get_by_role("link", name="have them laid automatically").click()
    only(page, "P400")
    page.locator("[data-lay-start]").click()
    assert page.locator(".lay-progress").is_visible()
    work()
    page.get_by_role("link", name="Check again").click()
    page.locator(".lay-card").first.get_by_role("button").click()
    assert page.locator(".plan-panel").count() == len(state(design)["panels"]) > 1
    page.get_by_role("link", name="Panels", exact=True).first.click()
    assert page.locator("form [name$=x_m]").first.is_visible()
    context.close()
