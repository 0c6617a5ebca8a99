"""The roof for every hand and eye: two fingers, large text, forced colors, no network, few clicks."""
# ruff: noqa: F811 (fixtures of the other roof tests)

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from jobs.autolayout.run import layout_search_work
from jobs.models import LayRun, Obstacle
from tests.browser.barriers import barriers
from tests.browser.test_workspace_hand import (  # noqa: F401
    add,
    centre_of,
    design,
    open_roof,
    opened,
    saved,
    state,
)
from tests.browser.turns import ONE_AT_A_TIME

pytestmark = pytest.mark.django_db(transaction=True)


def view(page):
    """Return what the stage shows: x, y, width, height [mm]."""
    box = page.locator(".roof-plan").get_attribute("viewBox")
    return [float(value) for value in box.split()]


def fingers(page):
    """Return a way to put fingers on the glass, and the middle of the stage."""
    page.locator("#ws-stage").evaluate("(one) => one.scrollIntoView({block: 'center', behavior: 'instant'})")
    box = page.locator("#ws-stage").bounding_box()
    session = page.context.new_cdp_session(page)

    def send(kind, *points):
        touches = [{"x": x, "y": y, "id": place} for place, (x, y) in enumerate(points)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

    return send, box["x"] + box["width"] / 2, box["y"] + box["height"] / 4


def test_two_fingers_look_closer_and_one_moves_the_view(opened, design):
    add(opened)
    opened.wait_for_timeout(900)
    saved(opened)
    before, stored = view(opened), state(design)
    send, x, y = fingers(opened)
    send("touchStart", (x - 40, y), (x + 40, y))
    for spread in (50, 60, 80):
        send("touchMove", (x - spread, y), (x + spread, y))
    send("touchEnd")
    closer = view(opened)
    # Fingers 80 px apart end 160 px apart: half as much of the roof is seen, round the same middle.
    assert closer[2] == pytest.approx(before[2] / 2, rel=0.02)
    scale = before[2] / opened.locator(".roof-plan").bounding_box()["width"]
    send("touchStart", (x, y))
    for step in (10, 40, 80):
        send("touchMove", (x + step, y))
    send("touchEnd")
    moved = view(opened)
    assert moved[2] == closer[2]
    assert moved[0] == pytest.approx(closer[0] - 80 * scale / 2, abs=8 * scale)
    send("touchStart", (x - 80, y), (x + 80, y))
    send("touchMove", (x - 20, y), (x + 20, y))
    send("touchEnd")
    assert view(opened) == before
    assert state(design) == stored  # looking changes nothing


def test_at_twice_the_size_nothing_is_cut_off(opened):
    add(opened, 2)
    opened.set_viewport_size({"width": 640, "height": 400})  # 1280 by 800 at 200 %
    assert opened.evaluate("document.documentElement.scrollWidth") <= 640
    assert not barriers(opened)
    for button in opened.locator("#ws-tools button:visible, #ws-below button:visible").all():
        box = button.bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 640


def test_forced_colours_and_still_screens_are_honoured(opened):
    add(opened)
    opened.emulate_media(forced_colors="active", reduced_motion="reduce")
    by = "(one) => getComputedStyle(one)"
    colours = opened.locator("body").evaluate(
        f"{by.replace('(one) =>', '(one) => [')}.backgroundColor, {by[9:]}.color]"
    )
    assert colours[0] != colours[1]
    # The drawing keeps its own colors on white: its strings are told apart by them and by their lines.
    assert opened.locator("#ws-stage").evaluate(f"{by}.forcedColorAdjust") == "none"
    assert opened.locator("#ws-stage").evaluate(f"{by}.backgroundColor") == "rgb(255, 255, 255)"
    moving = """() => [...document.querySelectorAll('*')].filter((one) => {
      const style = getComputedStyle(one);
      const long = (value) => value.split(',').some((part) => parseFloat(part) > 0.01);
      const plays = style.animationName !== 'none' && long(style.animationDuration);
      return long(style.transitionDuration) || plays;
    }).map((one) => one.className || one.tagName)"""
    assert opened.evaluate(moving) == []
    assert not barriers(opened)


def test_a_closed_page_without_network_loses_nothing(opened, design, site):
    opened.context.set_offline(True)
    opened.locator("#ws-part").select_option(index=0)
    opened.locator("[data-do=add]").click()
    opened.locator("#ws-state[data-state=offline]").wait_for()
    assert "numbers update" in opened.locator("#ws-state").inner_text()
    opened.locator("#ws-stage").focus()
    opened.keyboard.press("Shift+ArrowRight")
    opened.keyboard.press("+")  # looking closer needs nobody
    held = opened.evaluate("JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])).layout.panels")
    assert state(design)["panels"] == []
    opened.goto("about:blank")  # what the page kept may be sent as soon as there is a network
    opened.context.set_offline(False)
    open_roof(opened, site, design)
    saved(opened)
    assert state(design)["panels"] == held


@pytest.fixture
def fresh(design):
    """Return the design on a fresh vehicle: an air conditioner, two vents, a dome and a ladder."""
    survey = design.job.survey
    # Clearances in round meters, so that three rows of panels just fit; 16 in to walk leaves room for two.
    survey.walkway_width_mm, survey.front_clearance_mm, survey.edge_clearance_mm = 400, 300, 150
    survey.save()
    survey.obstacles.all().delete()
    for kind, x, y, length, width, height, keep in (
        ("air_conditioner", 3.7, 0.73, 1.07, 0.74, 0.33, 0.15),
        ("vent", 0.75, 0.87, 0.46, 0.46, 0.15, 0.1),
        ("vent", 6.9, 0.87, 0.46, 0.46, 0.15, 0.1),
        ("dome", 5.9, 1.5, 0.5, 0.5, 0.4, 0.1),
        ("ladder", 0.0, 0.2, 0.15, 0.5, 0.05, 0.0),
    ):
        Obstacle.objects.create(
            survey=survey, kind=kind, x_m=x, y_m=y, length_m=length, width_m=width, height_m=height,
            keep_out_m=keep, is_round=kind == "dome",
        )  # fmt: skip
    return design


def clicking():
    """Return a list of clicks, and a way to click that counts."""
    clicks = []

    def click(place):
        place.click()
        clicks.append(place)

    return clicks, click


def good_plan(page, design, least_panels):
    """Hold screen and records against what a good plan is: several panels, all wired, nothing refused."""
    expect(page.locator("#ws-strings .verdict")).to_contain_text("Pass", timeout=30_000)
    expect(page.locator("#ws-year")).to_contain_text("kWh a year", timeout=30_000)
    expect(page.locator("#ws-year-words")).to_contain_text("% lost against a roof without shade")
    saved(page)
    stored = state(design)
    assert len(stored["panels"]) >= least_panels
    wired = sorted(number for row in stored["strings"] for number in row["panels"])
    assert wired == [one["number"] for one in stored["panels"]]
    assert not page.locator("#ws-rules .verdict-block").count()
    assert not page.locator("#ws-rules", has_text="too narrow").count()  # a person still gets everywhere
    lost = float(page.locator("#ws-year-words").inner_text().split("%")[0])
    assert 0 < lost < 10  # something stands on this roof, and a good plan keeps clear of it


def test_from_an_empty_roof_to_a_good_string_plan_in_few_clicks(fresh, erin, site, sign_in, page):
    """With every model the shop lays: the card with cautions tells them, another passes and is taken."""
    clicks, click = clicking()
    sign_in(erin)
    page.goto(site + reverse("jobs:design_detail", args=[fresh.pk]))
    click(page.get_by_role("link", name="Roof by hand").first)
    click(page.locator("#ws-lay-open"))
    click(page.locator("[data-lay-start]"))
    page.locator(".lay-progress").wait_for()
    with ONE_AT_A_TIME:
        layout_search_work(LayRun.objects.get().pk, clock=timezone.now)
    page.locator(".lay[data-open=no]").wait_for()
    most = page.locator(".lay-card", has=page.get_by_role("heading", name="Most energy"))
    for words in (
        "9 × Rigid panel P100, 100 W",
        "3S3P",
        "Caution",
        "Over 60 V",  # F9: 3 × 22.3 V × (1 + 0.0029 × 55) = 77.6 V on the coldest morning
        "At its best 7.19% of the array's power is cut off",  # F12: 1 − 50 A × 14.2 V / (0.85 × 900 W)
    ):
        expect(most).to_contain_text(words)
    title = "Fewest panels for nine tenths of it"
    lean = page.locator(".lay-card", has=page.get_by_role("heading", name=title))
    expect(lean.locator(".verdict")).to_contain_text("Pass")
    click(page.get_by_role("button", name=f"Take: {title}"))
    good_plan(page, fresh, least_panels=6)
    assert len(clicks) <= 40
    page.goto("about:blank")


def test_by_hand_alone_a_good_string_plan_takes_few_clicks(fresh, erin, site, sign_in, page):
    """New panels leave the ways open by themselves; their strings are tapped."""
    clicks, click = clicking()
    sign_in(erin)
    page.set_viewport_size({"width": 1280, "height": 800})
    open_roof(page, site, fresh)
    page.locator("#ws-part").select_option(label="Rigid panel P100, 100 W")
    clicks += [None, None]  # a list is opened and a line chosen
    for count in range(1, 5):
        click(page.locator("[data-do=add]"))
        expect(page.locator(".plan-panel")).to_have_count(count, timeout=30_000)
    click(page.locator("label[for=ws-hand-strings]"))
    for one, other in ((1, 2), (3, 4)):
        for number in (one, other):
            x, y, _ = centre_of(page, number)  # a live answer may put the plan in anew at any moment
            page.mouse.click(x, y)
            clicks.append((x, y))
        click(page.locator("[data-string-do=finish]"))
        expect(page.locator("#ws-own-strings li").last).to_contain_text(f"{one} → {other}")
    page.wait_for_timeout(900)
    good_plan(page, fresh, least_panels=4)
    assert len(clicks) <= 40
    page.goto("about:blank")
