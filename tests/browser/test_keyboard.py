"""A quote accepted and three steps of an install recorded by keyboard alone."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from checklists.models import StepEvent
from jobs.models import Quote

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


@pytest.fixture
def first_list(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open install records with the first list, whose steps are single pages of choices and ticks."""
    monkeypatch.setattr("checklists.office.opening.newest_version", lambda: "1")


def test_three_steps_are_recorded(
    first_list: None,
    page: Page,
    site: str,
    sign_in: Any,
    bob: Any,
    accepted_quote: Quote,
    settings: Any,
    tmp_path: Any,
):
    settings.MEDIA_ROOT = tmp_path
    sign_in(bob)
    steps = accepted_quote.job.checklist.steps
    page.goto(site + reverse("checklists:step_detail", args=[steps.get(code="A3").pk]))
    tab_to(page, "No tank")  # choices
    page.keyboard.press("Space")
    tab_to(page, "No slides")
    page.keyboard.press("ArrowRight")  # on to "In", as radio buttons do
    tab_to(page, "Plugged in")
    page.keyboard.press("Space")
    tab_to(page, "Save, next open step")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_contain_text("A4")
    tab_to(page, "Every light and appliance tried")  # a tick
    page.keyboard.press("Enter")
    expect(page.get_by_text("Bob Test").first).to_be_visible()
    tab_to(page, "Save, next open step")
    page.keyboard.press("Enter")

    expect(page.locator("h1")).to_contain_text("A5")
    tab_to(page, "Rest voltage")  # a number
    page.keyboard.type("12.6")
    tab_to(page, "Save, next open step")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("A6")

    events = StepEvent.objects.filter(step__checklist__job=accepted_quote.job).select_related("step")
    stored = {(one.step.code, one.field): one.value for one in events}
    assert stored == {
        ("A3", "fuel"): "none",
        ("A3", "slides"): "in",
        ("A3", "plug"): "in",
        ("A4", "tried"): True,
        ("A5", "rest_v"): 12.6,
    }
