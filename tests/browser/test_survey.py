"""The survey in a real browser: its pages at every width, rows added in place, text kept over a reload."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from jobs.survey import PARTS
from tests.browser.barriers import faults

pytestmark = pytest.mark.django_db(transaction=True)
KETTLE = "Kettle"


def test_survey_pages(page: Page, site: str, sign_in: Any, alice: Any, golden_job: Any):
    sign_in(alice)
    start = f"/jobs/{golden_job.pk}/survey/"
    paths = [start, *[f"{start}{slug}/" for slug in PARTS]]
    assert not [fault for path in paths for fault in faults(page, site + path)]


def test_survey_rows_in_place(page: Page, site: str, sign_in: Any, alice: Any, golden_job: Any):
    sign_in(alice)
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(f"{site}/jobs/{golden_job.pk}/survey/loads/")
    bar, names = page.locator(".live-bar"), page.locator("[data-rows=loads] [name$='-name']")
    before = bar.inner_text()

    page.select_option("#add-code-loads", label=KETTLE)
    page.get_by_role("button", name="Add this appliance").click()
    expect(names.nth(11)).to_have_value(KETTLE)
    expect(bar).not_to_have_text(before)
    risen = bar.inner_text()

    page.reload()  # nothing typed is lost, the added row included
    expect(names.nth(11)).to_have_value(KETTLE)
    expect(bar).to_have_text(risen)

    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Loads saved.")).to_be_visible()
    assert golden_job.survey.loads.filter(name=KETTLE).count() == 1

    page.get_by_role("button", name=f"Remove Appliance 12: {KETTLE}").click()
    expect(bar).to_have_text(before)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Loads saved.")).to_be_visible()
    assert not golden_job.survey.loads.filter(name=KETTLE).exists()
    assert not page.evaluate("() => document.documentElement.dataset.cspViolations || ''")


def test_survey_usual_values_and_the_question(
    page: Page, site: str, sign_in: Any, alice: Any, golden_job: Any
):
    golden_job.survey.crown_mm = None
    golden_job.survey.save()
    sign_in(alice)
    page.goto(f"{site}/jobs/{golden_job.pk}/survey/roof/")
    page.get_by_role("button", name="Fill blanks with usual values").click()
    expect(page.get_by_label("Crown", exact=True)).to_have_value("2 in")  # 25 to 75 mm, the middle
    expect(page.get_by_label("Guess: Crown")).to_be_checked()
    page.get_by_label("Roof length").first.fill("15 m")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("heading", name="Are you sure?")).to_be_visible()
    expect(page.get_by_label("Roof length").first).to_have_value("15 m")
    page.get_by_label("I checked: this value is right").check()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Roof saved.")).to_be_visible()
    golden_job.survey.refresh_from_db()
    assert (golden_job.survey.roof_length_m, "roof.crown" in golden_job.survey.guessed_fields) == (15, True)
