"""Things on the roof by hand in a real browser: add, drag, undo, numbers, keys, outline, reload."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import design, opened, saved, state  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


def hand(page, name):
    """Let the hand move things of a kind."""
    page.locator(f"label[for=ws-hand-{name}]").click()


def thing(design, kind="dome"):
    """Return the first stored thing of a kind."""
    return next(one for one in state(design)["obstacles"] if one["kind"] == kind)


def test_a_thing_is_added_dragged_resized_turned_and_undone(opened, design):
    page = opened
    before = state(design)["obstacles"]
    hand(page, "things")
    page.locator("#ws-kind").select_option("skylight")
    page.locator("[data-thing-do=add]").click()
    saved(page)
    (made,) = [one for one in state(design)["obstacles"] if one not in before]
    assert (made["length_mm"], made["width_mm"], made["guess"]) == (762.0, 558.8, True)  # 30 by 22 in
    shape = page.locator(f"[data-thing='{made['key']}'] .plan-obstacle")
    shape.wait_for()
    page.locator("#ws-stage").evaluate("(one) => one.scrollIntoView({block: 'center', behavior: 'instant'})")
    page.locator("#ws-pull").uncheck()
    box, scale = shape.bounding_box(), page.evaluate("document.querySelector('.roof-plan').getScreenCTM().a")
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 30, y - 10, steps=3)
    page.mouse.move(x + 1016 * scale, y - 203.2 * scale, steps=3)
    page.mouse.up()
    page.locator("#ws-thing-length_mm").fill("3'")
    page.locator("#ws-thing-length_mm").press("Enter")
    page.locator("[data-thing-do=turn]").click()
    page.wait_for_timeout(900)
    saved(page)
    moved = next(one for one in state(design)["obstacles"] if one["key"] == made["key"])
    assert (moved["x_mm"], moved["y_mm"]) == (round(made["x_mm"] + 1016, 1), round(made["y_mm"] + 203.2, 1))
    # 40 in along and 8 in across, on the half-inch grid of a US shop
    # NIST SP 811 appendix B: 1 ft = 304.8 mm exactly
    assert (moved["length_mm"], moved["width_mm"]) == (558.8, pytest.approx(914.4))
    for _ in range(4):
        page.keyboard.press("Control+z")
    page.wait_for_timeout(900)
    saved(page)
    assert state(design)["obstacles"] == before
    assert not barriers(page)


def test_a_wrong_height_is_named_and_kept_and_keys_do_the_rest(opened, design):
    page = opened
    before = state(design)["obstacles"]
    hand(page, "things")
    page.locator("#ws-stage").focus()
    page.keyboard.press("n")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowUp")
    field = page.locator("#ws-thing-height_mm")
    field.fill("40 ft")
    field.press("Tab")
    said = page.locator("#ws-thing-wrong").inner_text()
    assert said.startswith("Height: must be from")
    assert "you typed “40 ft”" in said
    assert field.input_value() == "40 ft"
    page.wait_for_timeout(900)
    saved(page)
    first = min(before, key=lambda one: (one["x_mm"], one["y_mm"]))
    now = next(one for one in state(design)["obstacles"] if one["key"] == first["key"])
    assert (now["x_mm"], now["y_mm"]) == (round(first["x_mm"] + 101.6, 1), round(first["y_mm"] + 12.7, 1))
    page.locator("#ws-stage").focus()
    page.keyboard.press("Delete")
    expect(page.locator("#ws-thing-list li")).to_have_count(len(before) - 1)
