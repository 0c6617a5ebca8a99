"""A wire path by keyboard alone, then by hand, in a real browser: the schedule's gauge and drop follow."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from jobs.models import DesignCircuit
from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import add, opened, saved, state  # noqa: F401
from tests.browser.test_workspace_hand import design as design
from tests.browser.turns import ONE_AT_A_TIME

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_path_by_keyboard_and_one_drag(opened, design):
    page = opened
    add(page)
    page.locator("#ws-stage").focus()
    page.keyboard.press("n")
    page.locator("#ws-wire button").first.focus()
    page.keyboard.press("Enter")
    page.locator("#ws-hand-panels").focus()
    for _ in range(6):
        if not page.locator("#ws-hand-wires").is_checked():
            page.keyboard.press("ArrowRight")
    page.locator("#ws-wire-what").select_option("combiner:A")
    page.locator("[data-wire-do=add]").focus()
    page.keyboard.press("Enter")
    page.locator("#ws-stage").focus()
    for _ in range(10):
        page.keyboard.press("Shift+ArrowLeft")
    page.locator("#ws-wire-what").select_option("home:A")
    page.locator("#ws-stage").focus()
    page.keyboard.press("b")  # a bend half way
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_timeout(900)
    saved(page)
    path = state(design)["path"]
    gland, combiner, (bend,) = path["gland"], path["combiners"]["A"], path["homes"]["A"]
    # a combiner starts 8 in behind the gland and goes ten times 4 in: 48 in, 25.4 mm each
    assert combiner == [pytest.approx(gland[0] - 1219.2, abs=0.05), gland[1]]
    assert bend == [
        pytest.approx((gland[0] + combiner[0]) / 2, abs=0.06),
        pytest.approx(gland[1] + 101.6, abs=0.05),
    ]
    row = page.locator("#ws-wire-rows tr", has_text="C2")
    expect(row).to_contain_text("drawn + 10% slack")
    with ONE_AT_A_TIME:
        before = DesignCircuit.objects.get(design=design, kind="C2").run_len_m

    page.locator("#ws-stage").evaluate("(one) => one.scrollIntoView({block: 'center', behavior: 'instant'})")
    while (ring := page.locator(".ws-point-chosen").bounding_box()) is None:
        page.wait_for_timeout(50)  # a live answer is putting the plan in anew
    x, y = ring["x"] + ring["width"] / 2, ring["y"] + ring["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 20, steps=2)
    page.mouse.move(x, y - 60, steps=3)
    page.mouse.up()
    page.wait_for_timeout(900)
    saved(page)
    with ONE_AT_A_TIME:
        assert DesignCircuit.objects.get(design=design, kind="C2").run_len_m > before
    assert not barriers(page)
    page.keyboard.press("Control+z")
    page.wait_for_timeout(900)
    saved(page)
    assert state(design)["path"]["homes"]["A"] == [bend]
