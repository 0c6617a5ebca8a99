"""A quote accepted and three steps of an install recorded by keyboard alone."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from checklists.models import StepEvent
from jobs.models import Quote
from tests.roles import role_of, step_of
from tests.unit.checklists.walk import complete

pytestmark = pytest.mark.django_db(transaction=True)


def tab_to(page: Page, words: str, most: int = 40) -> None:
    """Press Tab until something named so has the focus; a person would give up sooner or later too."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if words in page.evaluate(
            "() => { const one = document.activeElement;"
            " return [one.innerText, one.getAttribute('aria-label'), one.labels?.[0]?.innerText].join(' '); }"
        ):
            return
    raise AssertionError(f"Tab never reached “{words}”.")


def test_the_customer_accepts_from_the_top_of_the_page(page: Page, site: str, sent_quote: Quote):
    page.goto(f"{site}/q/{sent_quote.token}/")
    tab_to(page, "Your answer")  # the link at the top leads there, past all the lines
    page.keyboard.press("Enter")
    tab_to(page, "Your full name")
    page.keyboard.type("Gus Pardee")
    tab_to(page, "My typed name is my signature")
    page.keyboard.press("Space")
    tab_to(page, "I accept this quote")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Accepted by Gus Pardee")


def test_three_steps_are_recorded(
    page: Page,
    site: str,
    sign_in: Any,
    bob: Any,
    accepted_quote: Quote,
    settings: Any,
    tmp_path: Any,
    now: Any,
):
    settings.MEDIA_ROOT = tmp_path
    sign_in(bob)
    checklist = accepted_quote.job.checklist
    page.goto(site + reverse("checklists:step_detail", args=[step_of(checklist, "works_before").pk]))
    tab_to(page, "I have read these lines")  # the safety lines
    page.keyboard.press("Space")
    for line in ("Road lights", "Slides", "Water pump", "12 V lights", "LP gas, CO", "Asked who"):  # lines
        tab_to(page, line)
        page.keyboard.press("Space")
    tab_to(page, "Everything works")  # of several, none
    page.keyboard.press("Space")
    tab_to(page, "Save, next open step")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_contain_text("Battery before")
    tab_to(page, "Voltage at the posts")  # a number
    page.keyboard.type("12.6")
    tab_to(page, "Under 4 hours")
    page.keyboard.press("ArrowRight")  # on to "4 hours or more", as radio buttons do
    tab_to(page, "Save and stay")  # pictures are still missing
    page.keyboard.press("Enter")
    expect(page.get_by_text("Bob Test").first).to_be_visible()
    tab_to(page, "On to A5")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_contain_text("Shore power before")
    tab_to(page, "Correct")  # choices
    page.keyboard.press("Space")
    tab_to(page, "Trips")
    page.keyboard.press("Space")
    tab_to(page, "Save, next open step")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Custody")

    events = StepEvent.objects.filter(step__checklist=checklist, verb="record").select_related("step")
    assert {(role_of(one.step), one.field): one.value for one in events} == {
        ("works_before", "tried"): "road_lights,moving,house,power,alarms,sleeps",
        ("works_before", "not_working"): "none",
        ("battery_before", "rest_v"): 12.6,
        ("battery_before", "rest_time"): "from_4",
        ("shore_before", "polarity"): "correct",
        ("shore_before", "gfci"): "trips",
    }

    complete(checklist, bob, now, only="AB")
    page.goto(site + reverse("checklists:step_detail", args=[step_of(checklist, "tools").pk]))
    tab_to(page, "I have read these lines")
    page.keyboard.press("Space")
    tab_to(page, "Every lug pulled")  # a tick
    page.keyboard.press("Enter")
    expect(page.get_by_text("Bob Test").first).to_be_visible()
    assert StepEvent.objects.get(step=step_of(checklist, "tools"), field="tugged").value is True
