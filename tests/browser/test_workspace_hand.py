"""The roof by hand in a real browser: mouse, touch, keyboard, steps back, reload, two people, keep-outs."""

from __future__ import annotations

import json

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from jobs.design.revision import design_resize
from jobs.models import Design
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName
from jobs.workspace.state import layout_state
from tests.browser.barriers import barriers
from tests.browser.turns import ONE_AT_A_TIME

pytestmark = pytest.mark.django_db(transaction=True)
# NIST SP 811 appendix B: 1 in = 25.4 mm exactly; the grid of a US shop is half an inch, with Shift 4 in.
GRID, FAR = 12.7, 101.6
#: Where each of six small panels goes from its first free place: 4 in and so many half inches each way.
STEPS = [(3, 2), (1, 4), (5, 1), (2, 3), (4, 0), (0, 5)]


@pytest.fixture
def design(golden_job, now):
    """Return the golden design with an empty roof, sized."""
    design = golden_job.designs.get()
    design.panels.all().delete()
    design.strings.all().delete()
    design_resize(design, actor=ByName("test"), at=now)
    return design


@pytest.fixture
def opened(design, erin, site, sign_in, page):
    """Return the workspace, open and answered; at the end wait until the server has nothing left to do."""
    under_way = watched(page)
    sign_in(erin)
    page.set_viewport_size({"width": 1280, "height": 1000})
    open_roof(page, site, design)
    yield page
    at_rest(page, under_way)


def watched(page):
    """Return the set of requests under way on a page, kept up to date."""
    under_way = set()
    page.on("request", lambda one: under_way.add(one))
    page.on("requestfinished", lambda one: under_way.discard(one))
    page.on("requestfailed", lambda one: under_way.discard(one))
    return under_way


def under_way_at_most(page):
    """Return a way to ask how many live questions were under way at once from now on."""
    page.evaluate("""() => {
      const ask = window.fetch;
      let now = 0;
      window.most = 0;
      window.fetch = async (address, options) => {
        if (!String(address).includes('/roof/live/')) return ask(address, options);
        window.most = Math.max(window.most, ++now);
        try { return await ask(address, options); } finally { now -= 1; }
      };
    }""")
    return lambda: page.evaluate("window.most")


def at_rest(page, under_way):
    """Leave the page when it has nothing under way: the records are wiped next."""
    for _ in range(60):
        page.wait_for_timeout(100)
        if not under_way:
            break
    page.goto("about:blank")


def open_roof(page, site, design):
    """Open the workspace and wait for its first answer."""
    with page.expect_response(lambda got: "/roof/live/" in got.url):
        page.goto(site + reverse("jobs:workspace", args=[design.pk]))


def saved(page):
    """Wait until everything is stored."""
    page.locator("#ws-state[data-state=saved]").wait_for()


def state(design):
    """Return the stored layout."""
    with ONE_AT_A_TIME:
        return layout_state(roof_state(Design.objects.get(pk=design.pk)))


def add(page, times=1):
    """Add panels with the button and wait until each is drawn."""
    page.locator("#ws-part").select_option(index=0)
    for _ in range(times):
        before = page.locator(".plan-panel").count()
        page.get_by_role("button", name="Add", exact=True).click()
        expect(page.locator(".plan-panel")).to_have_count(before + 1, timeout=30_000)


def centre_of(page, number):
    """Return the middle of a drawn panel on the screen, and pixels per millimeter."""
    page.locator("#ws-stage").evaluate("(one) => one.scrollIntoView({block: 'center', behavior: 'instant'})")
    shape = page.locator(f".plan-panel[data-panel='{number}'] > rect").first
    while (box := shape.bounding_box()) is None:  # a live answer is putting the plan in anew
        expect(shape).to_be_visible()
    scale = page.evaluate("document.querySelector('.roof-plan').getScreenCTM().a")
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, scale


def by_mouse(page, number, along_mm, across_mm):
    """Drag a panel."""
    x, y, scale = centre_of(page, number)
    page.mouse.move(x, y - 8)
    page.mouse.down()
    page.mouse.move(x + 20, y - 28, steps=3)
    page.mouse.move(x + along_mm * scale, y - 8 - across_mm * scale, steps=4)
    page.mouse.up()


def by_touch(page, number, along_mm, across_mm):
    """Drag a panel with a finger."""
    x, y, scale = centre_of(page, number)
    finger = page.context.new_cdp_session(page)

    def send(kind, *at):
        points = [{"x": at[0], "y": at[1]}] if at else []
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    send("touchStart", x, y - 8)
    send("touchMove", x + 20, y - 28)
    send("touchMove", x + along_mm * scale, y - 8 - across_mm * scale)
    send("touchEnd")


def by_keys(page, number, along_mm, across_mm):
    """Move a panel with arrow keys alone."""
    page.locator("#ws-stage").focus()
    page.keyboard.press("Escape")
    for _ in range(number):
        page.keyboard.press("n")
    for key, distance in (("ArrowRight", along_mm), ("ArrowUp", across_mm)):
        for _ in range(int(distance // FAR)):
            page.keyboard.press(f"Shift+{key}")
        for _ in range(round(distance % FAR / GRID)):
            page.keyboard.press(key)


def far(along, across):
    """Return a move that is well more than a tap."""
    return GRID * along + FAR, GRID * across + FAR


@pytest.mark.parametrize("move", [by_mouse, by_touch, by_keys], ids=["mouse", "touch", "keyboard"])
def test_six_panels_reach_the_same_stored_design(opened, design, move):
    if move is by_keys:
        opened.locator("#ws-part").focus()
        opened.locator("[data-do=add]").focus()
        for count in range(1, 7):
            opened.keyboard.press("Enter")
            expect(opened.locator(".plan-panel")).to_have_count(count, timeout=30_000)
    else:
        add(opened, 6)
    begun = opened.evaluate("JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])).layout.panels")
    opened.locator("#ws-pull").uncheck()
    for number, (along, across) in enumerate(STEPS, start=1):
        move(opened, number, *far(along, across))
        opened.wait_for_timeout(300)
    opened.wait_for_timeout(900)
    saved(opened)
    got = [(row["number"], row["x_mm"], row["y_mm"]) for row in state(design)["panels"]]
    assert got == [
        (
            row["number"],
            round(row["x_mm"] + far(*STEPS[place])[0], 1),
            round(row["y_mm"] + far(*STEPS[place])[1], 1),
        )
        for place, row in enumerate(begun)
    ]


def test_fifty_steps_back_and_forth(opened, design):
    add(opened)
    most = under_way_at_most(opened)
    opened.locator("#ws-stage").focus()
    for step in range(49):
        opened.keyboard.press("ArrowRight" if step % 3 else "ArrowUp")
    opened.wait_for_timeout(900)
    saved(opened)
    end = state(design)
    for _ in range(50):
        opened.keyboard.press("Control+z")
    opened.wait_for_timeout(900)
    saved(opened)
    assert state(design)["panels"] == []
    assert opened.locator("[data-do=undo]").is_disabled()
    for _ in range(50):
        opened.keyboard.press("Control+y")
    opened.wait_for_timeout(900)
    saved(opened)
    assert state(design) == end
    assert most() == 1  # however fast the keys: the newest waits for the one that is asked


def test_a_reload_in_the_middle_loses_nothing(opened, design, site):
    add(opened, 2)
    opened.locator("#ws-stage").focus()
    opened.keyboard.press("Shift+ArrowRight")
    open_roof(opened, site, design)  # before the rest that lets it be stored
    opened.locator("[data-panel='2']").wait_for()
    saved(opened)
    assert len(state(design)["panels"]) == 2
    opened.locator("[data-do=undo]").click()
    opened.locator("[data-do=undo]").click()
    expect(opened.locator(".plan-panel")).to_have_count(1)


def test_a_dropped_connection_loses_nothing(opened, design):
    opened.context.set_offline(True)
    opened.locator("#ws-part").select_option(index=0)
    opened.get_by_role("button", name="Add", exact=True).click()
    opened.locator("#ws-state[data-state=offline]").wait_for()
    opened.context.set_offline(False)
    saved(opened)
    assert len(state(design)["panels"]) == 1


@pytest.mark.parametrize("keeps", ["mine", "theirs"])
def test_two_people_on_one_revision_choose(opened, design, site, browser, client_of, alice, keeps):
    other = browser.new_context()
    with ONE_AT_A_TIME:
        cookie = client_of(alice).cookies["sessionid"].value
    other.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
    second = other.new_page()
    under_way = watched(second)
    open_roof(second, site, design)
    add(opened, 2)
    opened.wait_for_timeout(900)
    saved(opened)
    theirs = state(design)
    second.locator("#ws-part").select_option(index=0)
    second.get_by_role("button", name="Add", exact=True).click()
    second.locator("#ws-conflict").wait_for()
    assert state(design) == theirs
    assert "on their roof, not on yours" in second.locator("#ws-differences").inner_text()
    assert not barriers(second)
    second.locator(f"#ws-{'keep-mine' if keeps == 'mine' else 'take-theirs'}").click()
    saved(second)
    assert len(state(design)["panels"]) == (1 if keeps == "mine" else 2)
    at_rest(second, under_way)
    other.close()


def test_a_drag_into_a_keep_out_is_told_with_the_distance(opened, design):
    with ONE_AT_A_TIME:
        thing = design.job.survey.obstacles.filter(kind__startswith="air_conditioner").first()
    add(opened)
    opened.locator("#ws-pull").uncheck()
    panel = opened.evaluate("JSON.parse(localStorage.getItem(Object.keys(localStorage)[0])).layout.panels[0]")
    by_mouse(opened, 1, thing.x_m * 1000 - panel["x_mm"], thing.y_m * 1000 - panel["y_mm"])
    rule = opened.locator("#ws-rules li", has_text="Panel 1 lies").first
    rule.wait_for()
    assert "Block" in rule.inner_text()
    assert " in over " in rule.inner_text()
    assert opened.locator(".ws-wrong").count() == 1


def test_a_number_is_typed_and_a_wrong_one_is_named_and_kept(opened, design):
    add(opened)
    field = opened.locator("#ws-x_mm")
    field.fill("4' 2 1/2\"")
    field.press("Enter")
    opened.wait_for_timeout(900)
    saved(opened)
    # NIST SP 811 appendix B: 1 in = 25.4 mm exactly; 50.5 in
    assert state(design)["panels"][0]["x_mm"] == pytest.approx(1282.7)
    field.fill("900 ft")
    field.press("Tab")
    assert "From the rear: must be a length from" in opened.locator("#ws-wrong").inner_text()
    assert field.input_value() == "900 ft"


def test_it_is_accessible_and_fits(opened):
    add(opened, 2)
    for width in (320, 820, 1280, 2560):
        opened.set_viewport_size({"width": width, "height": 900})
        assert not barriers(opened), width
        assert opened.evaluate("document.documentElement.scrollWidth") <= width
    assert json.loads(opened.evaluate("document.documentElement.dataset.cspViolations || '[]'")) == []


def test_the_plan_on_screen_is_the_printed_plan(opened, design, shop):
    from jobs.engine.stored import design_in_full
    from jobs.roof.plan import plan_svg

    add(opened, 3)
    opened.wait_for_timeout(900)
    saved(opened)
    with ONE_AT_A_TIME:
        printed = plan_svg(roof_state(design_in_full(design.pk)), shop_units=shop.units)
    shown = """(text) => {
      const made = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
      const marks = (svg) => [...svg.querySelectorAll('*')].map((one) => one.tagName + ' ' +
        [...one.attributes].map((a) => `${a.name}=${a.value}`).sort().join(' ') +
        (one.children.length ? '' : one.textContent));
      return JSON.stringify(marks(made)) === JSON.stringify(marks(document.querySelector('.roof-plan')));
    }"""
    assert opened.evaluate(shown, printed)
