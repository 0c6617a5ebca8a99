"""Designs in a real browser: axe, 320 px, strict policy, rows added by script, numbers opened by keyboard."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.design.revision import design_resize
from jobs.shop.actor import ByName
from tests.browser.barriers import DESK, barriers, faults_shown

pytestmark = pytest.mark.django_db(transaction=True)
PARTS = ["panels", "strings", "power", "circuits", "basis"]


@pytest.fixture
def design(golden_job, now):
    """Return the golden design, sized, with something to see: a guess and a proposal."""
    design = golden_job.designs.get()
    design.circuits.filter(label="C3").update(size="", fuse_a=None, confidence="guess")
    design_resize(design, actor=ByName("test"), at=now)
    return design


def addresses(design) -> list[str]:
    """Return every page of a design."""
    return [
        reverse("jobs:design_list", args=[design.job_id]),
        reverse("jobs:design_detail", args=[design.pk]),
        *(reverse("jobs:design_edit", args=[design.pk, part]) for part in PARTS),
    ]


def test_pages_are_accessible_and_fit(design, erin, site, sign_in, page):
    sign_in(erin)
    for address in addresses(design):
        page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
        page.goto(site + address)
        page.evaluate("document.querySelectorAll('main details').forEach((one) => { one.open = true; })")
        assert not faults_shown(page), address


def test_a_number_opens_by_keyboard(design, erin, site, sign_in, page):
    sign_in(erin)
    page.goto(site + reverse("jobs:design_detail", args=[design.pk]))
    line = page.locator("summary", has_text="Days without charging").first
    line.focus()
    page.keyboard.press("Enter")
    opened = page.locator("details.check[open]").first
    assert "With numbers" in opened.inner_text()
    assert "Source" in opened.inner_text()


def test_another_row_is_added_by_script_and_saved(design, erin, site, sign_in, page):
    sign_in(erin)
    page.goto(site + reverse("jobs:design_edit", args=[design.pk, "panels"]))
    page.get_by_role("button", name="Add a panel").click()
    row = page.locator("[name='panels-5-part']")
    assert row.evaluate("(one) => one === document.activeElement")
    row.select_option(label="Rigid panel P100, 100 W")
    page.locator("[name='panels-5-x_m']").fill("2 in")
    page.locator("[name='panels-5-y_m']").fill("6 in")
    page.get_by_role("button", name="Save and size").click()
    page.wait_for_url("**" + reverse("jobs:design_detail", args=[design.pk]))
    assert design.panels.count() == 5
    assert page.locator(".plan-panel").count() == 5


def test_only_an_inverter_that_charges_asks_for_what_chargers_have(design, erin, site, sign_in, page):
    sign_in(erin)
    page.goto(site + reverse("jobs:design_edit", args=[design.pk, "power"]))
    asked = page.locator("[name='inverter-temp_comp_mv_per_c'], [name='inverter-either_or']")
    choice = page.locator("[name='inverter-part']")
    assert [one.is_visible() for one in asked.all()] == [False, False]
    choice.select_option(label="Inverter-charger 3000 W, 12 V")
    assert [one.is_visible() for one in asked.all()] == [True, True]
    page.locator("[name='inverter-either_or']").fill("transfer")
    choice.select_option(label="Sine inverter 1000 W, 12 V")
    assert [one.is_visible() for one in asked.all()] == [False, True]  # what was typed is never hidden


def test_the_words_of_a_choice_fit_on_a_narrow_screen(design, erin, site, sign_in, page):
    sign_in(erin)
    page.set_viewport_size({"width": 820, "height": 1180})
    page.goto(site + reverse("jobs:design_edit", args=[design.pk, "panels"]))
    room = """(one) => {
      const style = getComputedStyle(one), pen = document.createElement("canvas").getContext("2d");
      pen.font = style.font;
      const widest = Math.max(...[...one.options].map((each) => pen.measureText(each.text).width));
      return one.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - widest;
    }"""
    assert page.get_by_label("Row direction").evaluate(room) >= 0


def test_what_was_refused_leads_to_its_field(design, erin, site, sign_in, page):
    sign_in(erin)
    page.goto(site + reverse("jobs:design_edit", args=[design.pk, "panels"]))
    page.locator("[name='panels-2-x_m']").fill("far")
    page.get_by_role("button", name="Save and size").click()
    page.locator(".errors a", has_text="Panel 3").click()
    assert page.evaluate("document.activeElement.name") == "panels-2-x_m"
    assert page.locator("[name='panels-2-x_m']").input_value() == "far"
    assert not barriers(page)
