"""All hands of the roof one after the other: nothing stays on, nothing is lost, every step goes back."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.test_workspace_hand import (  # noqa: F401
    add,
    by_mouse,
    centre_of,
    design,
    open_roof,
    opened,
    saved,
    state,
)

pytestmark = pytest.mark.django_db(transaction=True)


def hand(page, name):
    """Choose what the hand moves; its button keeps the focus, as after a real press."""
    page.locator(f"label[for=ws-hand-{name}]").click()


def steps(page):
    """Return how many steps back there are."""
    return page.evaluate("JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])).past.length")


def tap(page, number):
    """Tap a panel where it lies on the screen: a live answer may put the plan in anew at any moment."""
    x, y, _ = centre_of(page, number)
    page.mouse.click(x, y)


def tapped(page, *numbers):
    """Tap panels in order and finish the string."""
    for number in numbers:
        tap(page, number)
    page.keyboard.press("Enter")  # the roof has the focus after a tap


def drawn(page):
    """Wait until the plan shows the panels where the layout has them: a hand taps what it sees."""
    page.wait_for_function("""() => {
      const { roof } = JSON.parse(document.getElementById('workspace-start').textContent);
      const { panels } = JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])).layout;
      return panels.every((one) => {
        const rect = document.querySelector(`.plan-panel[data-panel='${one.number}'] > rect`);
        const [x, y, high] = ['x', 'y', 'height'].map((name) => Number(rect?.getAttribute(name)));
        return Math.abs(x - one.x_mm) < 1 && Math.abs(roof.width - y - high - one.y_mm) < 1;
      });
    }""")


def at_rest(page):
    """Wait until everything is stored."""
    page.wait_for_timeout(900)
    saved(page)


def test_all_hands_together(opened, design, site):
    page, begun = opened, state(design)
    add(page, 3)
    by_mouse(page, 1, 0, -150)
    page.locator("#ws-list input").first.check()
    for box in page.locator("#ws-list input").all():
        box.check()
    page.locator(".ws-more summary").click()
    page.locator("[data-do=align-front]").click()
    page.locator("[data-do=align-rear]").click()  # the menu stays for another
    page.locator("#ws-stage").press("Escape")
    expect(page.locator(".ws-menu")).to_be_hidden()
    page.locator("[data-do=undo]").click()
    page.locator("[data-do=undo]").click()  # as they lay
    drawn(page)
    hand(page, "strings")
    tapped(page, 1, 2)
    expect(page.locator("#ws-own-strings li")).to_have_count(1)
    tap(page, 3)
    hand(page, "things")  # a string that was begun is forgotten with its hand
    page.locator("[data-thing-do=add]").click()
    page.locator("#ws-stage").press("ArrowRight")
    hand(page, "wires")
    page.get_by_role("button", name="Add point").click()
    hand(page, "strings")
    expect(page.locator("#ws-string-growing")).to_contain_text("Tap panels")
    hand(page, "panels")
    at_rest(page)
    end, count = state(design), steps(page)
    assert len(end["panels"]) == 3
    assert [row["panels"] for row in end["strings"]] == [[1, 2]]
    assert len(end["obstacles"]) == len(begun["obstacles"]) + 1
    assert end["path"] != begun["path"]
    for _ in range(count):  # the button of the hand has the focus: the keys still go to the roof
        page.keyboard.press("Control+z")
    at_rest(page)
    assert state(design) == begun
    for _ in range(count):
        page.keyboard.press("Control+y")
    at_rest(page)
    assert state(design) == end
    open_roof(page, site, design)
    assert steps(page) == count
    assert state(design) == end
