"""Shade over the roof in a real browser: the clock and its worst hours, lost by cell, taking strings."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import centre_of, opened, saved, state  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def design(golden_job):
    """Return the golden design: four panels round an air conditioner, two strings."""
    return golden_job.designs.get()


def set_clock(page, date, minute, heading):
    """Open the clock and set it."""
    page.locator("#ws-clock-on").click()
    expect(page.locator("#ws-power tr")).to_have_count(3, timeout=60_000)  # two strings and their sum
    page.locator("#ws-clock-date").fill(date)
    page.locator("#ws-clock-heading").select_option(str(heading))
    page.locator("#ws-clock-minute").fill(str(minute))


def watts(page):
    """Return power and unshaded power of both strings together."""
    cells = page.locator(".ws-power-total td").all_inner_texts()
    return [int(words.split()[0]) for words in cells[:2]]


def middle_of_shadow(page):
    """Return how far forward on the roof the shadow of the air conditioner reaches [mm]: least and most."""
    reaches = page.locator(".ws-shadow polygon").evaluate_all(
        "(all) => all.map((one) => one.getBBox()).map(({x, width, height}) => [width * height, x, x + width])"
    )
    _, rear, front = max(reaches)
    return rear, front


def test_the_clock_runs_through_a_day(opened, design):
    set_clock(opened, "2025-03-20", 8 * 60, 90)
    sun = opened.locator("#ws-clock-sun")
    expect(sun).to_contain_text("in the E")  # the sun rises in the east at an equinox
    morning = middle_of_shadow(opened)
    power, bare = watts(opened)
    assert 0 < power < bare
    opened.locator("#ws-clock-minute").fill(str(16 * 60))
    expect(sun).to_contain_text("WSW")
    evening = middle_of_shadow(opened)
    # Nose east: the morning sun throws shadows back, the evening sun throws them forward.
    assert morning[0] < evening[0]
    assert morning[1] < evening[1]
    opened.locator("[data-clock=later]").click()
    expect(opened.locator("#ws-clock-time")).to_have_text("16:15")
    opened.locator("[data-clock=worst-year]").click()
    expect(opened.locator("#ws-clock-said")).to_contain_text("Worst hour of 2025: 2025-", timeout=60_000)
    assert opened.locator("#ws-clock-date").input_value() in opened.locator("#ws-clock-said").inner_text()
    before = opened.locator("#ws-clock-time").inner_text()
    opened.locator("[data-clock=play]").click()
    expect(opened.locator("#ws-clock-time")).not_to_have_text(before)
    expect(opened.locator("[data-clock=play]")).to_have_text("Stop")
    opened.locator("[data-clock=play]").click()
    opened.locator("#ws-clock-place").select_option("spot")
    opened.locator("#ws-clock-lat").fill("95")
    opened.locator("#ws-clock-lon").fill("-110")
    opened.locator("#ws-clock-lon").press("Tab")
    expect(opened.locator("#ws-clock-wrong")).to_contain_text("Latitude: must be a number from -90 to 90 °")
    assert opened.locator("#ws-clock-lat").input_value() == "95"


def test_who_wants_less_motion_steps_by_button(opened, design):
    opened.emulate_media(reduced_motion="reduce")
    set_clock(opened, "2025-06-21", 12 * 60, 0)
    expect(opened.locator("[data-clock=play]")).to_be_hidden()
    for name in ("earlier", "later"):
        opened.locator(f"[data-clock={name}]").focus()
        opened.keyboard.press("Enter")
    expect(opened.locator("#ws-clock-time")).to_have_text("12:00")


def test_cells_show_what_they_lose_and_the_poorest_is_named(opened, design):
    opened.locator("#ws-heat-on").click()
    expect(opened.locator("#ws-heat-words")).to_contain_text("Poorest cell: panel ", timeout=60_000)
    counts = [int(words.split()[0]) for words in opened.locator("#ws-heat-legend .num").all_inner_texts()]
    assert sum(counts) == 4 * 36  # the panels' sheet: 9 by 4 cells
    assert opened.locator(".ws-heat rect").count() == sum(counts[1:])  # each class but the first is marked
    assert opened.locator(".ws-heat-poorest").count() == 1
    sizes = opened.locator("#ws-heat-legend rect:not(.ws-heat-cell)").evaluate_all(
        "(all) => all.map((one) => Number(one.getAttribute('width')))"
    )
    assert sizes == sorted(sizes)  # a mark grows with the loss: not by color alone
    opened.locator("#ws-clock-on").click()
    expect(opened.locator("#ws-power tr")).to_have_count(3, timeout=60_000)
    assert not barriers(opened)
    opened.set_viewport_size({"width": 390, "height": 844})
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
    assert opened.evaluate("document.documentElement.dataset.cspViolations || '[]'") == "[]"


def test_taking_other_strings_is_one_step(opened, design):
    before = state(design)["strings"]
    opened.locator("#ws-ways-ask").click()
    way = opened.locator("#ws-ways li", has_text="1 → 3").first
    way.wait_for(timeout=90_000)
    assert "String" in opened.locator("#ws-blame").inner_text()
    assert "kWh a year" in way.inner_text()
    money = opened.locator("#ws-ways li", has_text="$").first.inner_text()
    gain = float(money.split("kWh")[0].split("\n")[-1].strip().lstrip("+").replace("−", "-"))
    assert f"${abs(gain) * 0.16:.2f}" in money  # the start value, 0.16 a kWh
    way.get_by_role("button", name="Use this").click()
    expect(opened.locator("#ws-own-strings li")).to_contain_text(["1 → 3", "2 → 4"])
    opened.wait_for_timeout(900)
    saved(opened)
    assert [one["panels"] for one in state(design)["strings"]] == [[1, 3], [2, 4]]
    expect(opened.locator(".plan-order line")).to_have_count(4)  # two legs, each with its paper edge
    opened.locator("[data-do=undo]").click()
    opened.wait_for_timeout(900)
    saved(opened)
    assert state(design)["strings"] == before


def test_strings_are_drawn_by_tapping_and_by_keys(opened, design):
    opened.locator("label[for=ws-hand-strings]").click()
    for number in (3, 1):
        x, y, _ = centre_of(opened, number)
        opened.mouse.click(x, y)
    expect(opened.locator("#ws-string-growing")).to_contain_text("3 → 1")
    expect(opened.locator(".ws-growing-word")).to_have_text(["1", "2"])
    opened.locator("[data-string-do=finish]").click()
    expect(opened.locator("#ws-own-strings li")).to_contain_text(["2", "4", "3 → 1"])
    opened.locator("#ws-stage").focus()
    for key in ("n", " ", "n", "n", " ", "Enter"):  # from panel 1 on: 2, then 4
        opened.keyboard.press(key)
    expect(opened.locator("#ws-own-strings li")).to_contain_text(["3 → 1", "2 → 4"])
    opened.wait_for_timeout(900)
    saved(opened)
    assert [one["panels"] for one in state(design)["strings"]] == [[3, 1], [2, 4]]
    assert not barriers(opened)
    opened.set_viewport_size({"width": 390, "height": 844})
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
