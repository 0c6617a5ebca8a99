"""The technician's pages on a tablet: sizes and contrast measured, one tap a tick, keypad, without script.

Figures: tick rows 96 px, other controls 56 px, text 20 px, contrast 12:1 by the formula of WCAG 2.2 (relative
luminance); a gloved finger, glare and a wet screen are common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from checklists.models import StepEvent
from tests.unit.checklists.conftest import checklist, entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

MEASURE = (Path(__file__).parent / "measure_tablet.js").read_text()
SIZES = [(820, 1180), (1180, 820)]


@pytest.fixture
def at(checklist, site, page, sign_in, bob):  # noqa: F811
    """Return a way to open a page of the install as Bob."""
    sign_in(bob)

    def go(code: str = "", subject: str = "") -> object:
        if not code:
            page.goto(f"{site}/jobs/{checklist.job_id}/install/")
        else:
            pk = checklist.steps.get(code=code, subject=subject).pk
            page.goto(f"{site}/steps/{pk}/")
        return page

    return go


@pytest.mark.parametrize("size", SIZES)
def test_every_make_of_page_keeps_its_sizes_and_contrast(at, page, record, checklist, size):  # noqa: F811
    record(checklist, "arrival_moisture", "moisture_percent", 27.0)
    record(checklist, "wire_length", "run_len_m", 14.0, "circuit:C2")
    record(checklist, "torque", "plus_nm", 11.0, "joint:battery-1")
    record(checklist, "torque", "plus_nm", 9.0, "joint:battery-1")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    pages = ["", "A1", "A3", "A4", "A8", "A10", "D12", "J2", "J3", "J5", "K5"]
    for code in pages:
        at(code)
        page.evaluate("() => document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        assert page.evaluate(MEASURE) == [], code
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0], code
    for code, subject in (("F1", "circuit:C2"), ("G6", "joint:battery-1")):
        at(code, subject)
        assert page.evaluate(MEASURE) == [], code
        page.get_by_role("link", name="in one table").click()
        page.locator(".step-table").wait_for()
        assert page.evaluate(MEASURE) == [], f"table {code}"


def test_a_tick_is_one_tap_and_two_taps_are_one(at, page):
    at("A4")
    row = page.get_by_role("button", name="Every light and appliance tried")
    row.dblclick()
    page.get_by_role("button", name="Undo Every light and appliance tried").wait_for()
    assert StepEvent.objects.count() == 1
    page.get_by_role("button", name="Undo Every light and appliance tried").click()
    row.wait_for()
    assert [event.verb for event in StepEvent.objects.all()] == ["record", "undo"]


def test_a_number_out_of_band_warns_while_it_is_typed(at, page):
    at("A5")
    field = page.get_by_role("textbox", name="Rest voltage")
    field.fill("9.1")
    page.get_by_text("Outside the accepted band").wait_for()
    field.fill("12.6")
    assert page.get_by_text("Outside the accepted band").count() == 0


def test_the_keypad_types_for_a_finger(browser, site, client_of, bob, checklist):  # noqa: F811
    cookie = client_of(bob).cookies["sessionid"].value
    with browser.new_context(
        has_touch=True, is_mobile=True, viewport={"width": 820, "height": 1180}
    ) as context:
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
        page = context.new_page()
        page.goto(f"{site}/steps/{checklist.steps.get(code='A5').pk}/")
        field = page.get_by_role("textbox", name="Rest voltage")
        field.tap()
        for key in ("1", "2", "Point", "7", "Delete last", "6"):
            page.get_by_role("button", name=key, exact=True).tap()
        assert field.input_value() == "12.6"
        box = page.get_by_role("button", name="1", exact=True).bounding_box()
        assert box["height"] >= 56
        assert page.evaluate("() => document.activeElement.name") == "rest_v"


def test_everything_is_done_without_script(browser, site, client_of, bob, checklist):  # noqa: F811
    cookie = client_of(bob).cookies["sessionid"].value
    with browser.new_context(java_script_enabled=False) as context:
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": site}])
        page = context.new_page()
        page.goto(f"{site}/steps/{checklist.steps.get(code='A7').pk}/")
        page.get_by_label("Correct", exact=True).check()
        page.get_by_label("Trips", exact=True).check()
        page.get_by_role("button", name="Save, next open step").click()
        assert page.locator(".step-head-code").inner_text() == "A8"
    assert set(StepEvent.objects.values_list("value", flat=True)) == {"correct", "trips"}


def test_a_photo_is_sent_as_soon_as_it_is_taken(at, page, tmp_path):
    from PIL import Image

    path = tmp_path / "front.jpg"
    Image.new("RGB", (80, 60), "teal").save(path)
    at("A9")
    page.get_by_label("Take or choose a photo").set_input_files(path)
    page.get_by_text("1 of 1 photo").wait_for()
    assert StepEvent.objects.filter(photo__isnull=False).count() == 1
    assert page.locator(".photos img").evaluate("(img) => img.decode().then(() => img.naturalWidth)") == 80
    Image.new("RGB", (80, 61), "teal").save(path)
    page.get_by_label("Take or choose a photo").set_input_files(path)
    page.get_by_text("2 photos, 1 asked for").wait_for()
