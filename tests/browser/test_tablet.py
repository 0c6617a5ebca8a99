"""The technician's pages on a tablet: sizes and contrast measured, one tap a tick, keypad, without script.

Figures: tick rows 96 px, other controls 56 px, text 20 px, contrast 12:1 by the formula of WCAG 2.2 (relative
luminance); a gloved finger, glare and a wet screen are common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from checklists.models import StepEvent
from tests.roles import step_of
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401
from tests.unit.checklists.walk import complete

pytestmark = pytest.mark.django_db(transaction=True)

MEASURE = (Path(__file__).parent / "measure_tablet.js").read_text()
SIZES = [(820, 1180), (1180, 820)]


@pytest.fixture
def at(lines_read, site, page, sign_in, bob):
    """Return a way to open a page of the install as Bob."""
    sign_in(bob)

    def go(role: str = "", subject: str = "") -> object:
        if not role:
            page.goto(f"{site}/jobs/{lines_read.job_id}/install/")
        else:
            page.goto(f"{site}/steps/{step_of(lines_read, role, subject).pk}/")
        return page

    return go


@pytest.mark.parametrize("size", SIZES)
def test_every_make_of_page_keeps_its_sizes_and_contrast(at, page, record, lena, now, checklist, size):  # noqa: F811
    page.set_viewport_size({"width": size[0], "height": size[1]})
    for role in ("", "right_vehicle", "works_before", "battery_before", "shore_before", "custody"):
        assert faults(at(role), size) == [], role
    complete(checklist, lena, now, only="ABC", skip=("roof_checked", "home_run_length", "layout_accepted"))
    record(checklist, "roof_checked", "moisture_percent", 27.0)
    record(checklist, "home_run_length", "run_len_m", 14.0, "circuit:C2")
    record(checklist, "torque", "plus_nm", 11.0, "joint:battery-1")
    record(checklist, "torque", "plus_nm", 9.0, "joint:battery-1")
    later = ["", "roof_checked", "sealant", "seal_count", "schedule_read", "second_person", "go", "leak_test"]
    for role in later:
        assert faults(at(role), size) == [], role
    for role, subject in (("home_run_length", "circuit:C2"), ("torque", "joint:battery-1")):
        assert faults(at(role, subject), size) == [], role
        with page.expect_navigation():  # its styles, too
            page.get_by_role("link", name="in one table").click()
        page.locator(".step-table").wait_for()
        assert page.evaluate(MEASURE) == [], f"table {role}"


def faults(page, size):
    """Return what is too small or too pale, everything folded being open, and whether it is too wide."""
    page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    is_wide = page.evaluate("() => document.documentElement.scrollWidth") > size[0]
    return [*page.evaluate(MEASURE), *(["too wide"] if is_wide else [])]


@pytest.mark.usefixtures("made_safe")
def test_a_tick_is_one_tap_and_two_taps_are_one(at, page, checklist):
    at("tools")
    row = page.get_by_role("button", name="Every lug pulled", exact=True)
    row.dblclick()
    page.get_by_role("button", name="Undo Every lug pulled").wait_for()
    here = step_of(checklist, "tools").events
    assert here.filter(verb="record").count() == 1
    page.get_by_role("button", name="Undo Every lug pulled").click()
    row.wait_for()
    assert [event.verb for event in here.exclude(verb="safety")] == ["record", "undo"]


def test_a_number_out_of_band_warns_while_it_is_typed(at, page):
    at("battery_before")
    field = page.get_by_role("textbox", name="Voltage at the posts")
    field.fill("9.1")
    page.get_by_text("Outside the accepted band").wait_for()
    field.fill("12.6")
    assert page.get_by_text("Outside the accepted band").count() == 0


def test_the_keypad_types_for_a_finger(browser, site, client_of, bob, lines_read):
    cookie = client_of(bob).cookies["sessionid"].value
    with browser.new_context(
        has_touch=True, is_mobile=True, viewport={"width": 820, "height": 1180}
    ) as context:
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
        page = context.new_page()
        page.goto(f"{site}/steps/{step_of(lines_read, 'battery_before').pk}/")
        field = page.get_by_role("textbox", name="Voltage at the posts")
        field.tap()
        for key in ("1", "2", "Point", "7", "Delete last", "6"):
            page.get_by_role("button", name=key, exact=True).tap()
        assert field.input_value() == "12.6"
        box = page.get_by_role("button", name="1", exact=True).bounding_box()
        assert box["height"] >= 56
        assert page.evaluate("() => document.activeElement.name") == "rest_v"


def test_everything_is_done_without_script(browser, site, client_of, bob, lines_read):
    cookie = client_of(bob).cookies["sessionid"].value
    with browser.new_context(java_script_enabled=False) as context:
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
        page = context.new_page()
        page.goto(f"{site}/steps/{step_of(lines_read, 'shore_before').pk}/")
        page.get_by_label("Correct", exact=True).check()
        page.get_by_label("Trips", exact=True).check()
        page.get_by_role("button", name="Save, next open step").click()
        assert page.locator(".step-head-code").inner_text() == step_of(lines_read, "custody").code
    assert set(StepEvent.objects.filter(verb="record").values_list("value", flat=True)) == {
        "correct",
        "trips",
    }


def test_a_photo_is_sent_as_soon_as_it_is_taken(at, page, tmp_path):
    from PIL import Image

    path = tmp_path / "front.jpg"
    Image.new("RGB", (80, 60), "teal").save(path)
    at("right_vehicle")
    camera = page.locator("#field-photo").get_by_label("Take or choose a photo")
    camera.set_input_files(path)
    page.get_by_text("1 of 2 photos").wait_for()
    assert StepEvent.objects.filter(photo__isnull=False).count() == 1
    assert page.locator(".photos img").evaluate("(img) => img.decode().then(() => img.naturalWidth)") == 80
    for height, words in ((61, "2 of 2 photos"), (62, "3 photos, 2 asked for")):
        Image.new("RGB", (80, height), "teal").save(path)
        camera.set_input_files(path)
        page.get_by_text(words).wait_for()
