"""What a step tells and takes on the spot: a note at one tap, what the plan expects, the drawings."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.test_tablet_shell import LYING, UPRIGHT, shell  # noqa: F401
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


def field_of(checklist: Any, kind: str, key: str) -> tuple[Any, dict[str, Any]]:
    """Return the first step with a field of a kind that has this key, and the field."""
    with ONE_AT_A_TIME:
        for step in checklist.steps.filter(is_in_scope=True):
            for spec in step.fields:
                if spec["kind"] == kind and spec.get(key):
                    return step, spec
    raise AssertionError(f"no {kind} with {key}")


def test_a_note_is_one_tap_from_every_step_and_is_not_lost_by_closing(shell):  # noqa: F811
    step, _ = field_of(shell.checklist, "tick", "name")
    shell.go(f"/step/{step.pk}")
    page = shell.page
    note = page.get_by_role("button", name="Note", exact=True)
    box = note.bounding_box()
    assert box["y"] + box["height"] <= UPRIGHT["height"]  # in sight without scrolling
    note.click()
    assert page.evaluate("() => document.activeElement.id") == "note"
    page.keyboard.type("Water stain at the rear vent")
    faults = shell.measured("note")
    page.keyboard.press("Escape")
    note.click()
    assert page.locator("#note").input_value() == "Water stain at the rear vent"
    page.get_by_role("button", name="Keep the note").click()
    page.locator("dialog").wait_for(state="detached")
    page.locator(".history summary").click()
    page.get_by_text("Note: Water stain at the rear vent").wait_for()
    assert page.locator(".foot-bar > *").count() == 4
    for size in (LYING, {"width": 390, "height": 800}):
        page.set_viewport_size(size)
        assert not page.evaluate("() => document.documentElement.scrollWidth > innerWidth")
        for place in page.locator(".foot-bar > *").all():
            assert place.evaluate("(one) => one.scrollWidth <= one.clientWidth + 1"), place.inner_text()
    assert not faults


def viewed(page: Any, place: int = 0) -> list[float]:
    """Return what a drawing shows now: left, top, width, height in its own units."""
    return [float(one) for one in page.locator(".zoom-svg").nth(place).get_attribute("viewBox").split()]


PINCH = """([apart, wider]) => {
  const svg = document.querySelector(".zoom-svg");
  const { left, top, width, height } = svg.getBoundingClientRect();
  const say = (name, id, way, by) => svg.dispatchEvent(new PointerEvent(name, {
    pointerId: id, clientX: left + width / 2 + way * by, clientY: top + height / 2, bubbles: true,
  }));
  for (const [id, way] of [[1, -1], [2, 1]]) say("pointerdown", id, way, apart);
  for (const [id, way] of [[1, -1], [2, 1]]) say("pointermove", id, way, wider);
  for (const [id, way] of [[1, -1], [2, 1]]) say("pointerup", id, way, wider);
}"""


def test_the_roof_plan_is_measured_out_by_panel_without_a_network(shell):  # noqa: F811
    from checklists.tablet.download import job_download

    with ONE_AT_A_TIME:
        panels = job_download(shell.checklist)["roof"]["panels"]
    page, panel = shell.page, panels[2]
    page.context.set_offline(True)
    shell.go(f"/plan/panel:{panel['number']}")
    measures = page.get_by_role("region", name=f"Measures of Panel {panel['number']}")
    told = measures.inner_text()
    assert all(words in told for words in (panel["from_rear"], panel["from_right"], panel["size"]))
    rows = measures.locator("tbody tr").all_inner_texts()
    assert rows == [
        "\t".join((str(place), foot["from_rear"], foot["from_right"]))
        for place, foot in enumerate(panel["feet"], start=1)
    ]
    drawn = page.locator(f'[data-key="panel:{panel["number"]}"] .draw-foot-number')
    assert drawn.all_text_contents() == [str(place + 1) for place in range(len(panel["feet"]))]
    whole = viewed(page)
    page.evaluate(PINCH, [100, 200])  # twice as far apart: half as much is seen
    closer = viewed(page)
    assert closer[2] == pytest.approx(whole[2] / 2, rel=0.01)
    page.get_by_role("button", name="Whole").first.click()
    assert viewed(page) == whole
    page.get_by_role("button", name="Larger").first.click()
    left, _, wide, _ = viewed(page)
    x0, _, x1, _ = panel["box_mm"]  # the first step goes to what is chosen
    assert left <= (x0 + x1) / 2 <= left + wide
    assert not shell.faults
    faults = []
    for size in (UPRIGHT, LYING):
        page.set_viewport_size(size)
        page.wait_for_timeout(100)
        faults += shell.measured("plan") + (shell.barriers("plan") if size is UPRIGHT else [])
    assert not faults
    page.get_by_role("button", name="Entry gland").click()
    page.get_by_role("region", name="Measures of Entry gland").wait_for()
    page.locator('[data-key="panel:1"] .draw-face').dispatch_event("click")
    page.get_by_role("region", name="Measures of Panel 1").wait_for()


def test_the_drawings_are_one_tap_from_home_and_from_their_steps(shell):  # noqa: F811
    page, job = shell.page, shell.checklist.job_id
    page.context.set_offline(True)
    shell.go("")
    for name, title in (("Roof plan", "Roof plan"), ("One-line", "One-line drawing")):
        page.get_by_role("link", name=name, exact=True).click()
        page.get_by_role("heading", name=title, exact=True).wait_for()
        shell.go("")
    shell.go("/one-line")
    image = page.locator(".zoom-svg image")
    image.wait_for()
    assert page.evaluate(
        "async (href) => { const one = new Image(); one.src = href; await one.decode(); return one.width; }",
        image.get_attribute("href"),
    )
    faults = shell.measured("one-line") + shell.barriers("one-line")
    with ONE_AT_A_TIME:
        steps = {step.subject: step.pk for step in shell.checklist.steps.filter(is_in_scope=True)}
    shell.go(f"/row/{steps['panel:1']}")
    page.get_by_role("link", name="Roof plan").click()
    page.wait_for_function("(where) => location.hash === where", arg=f"#/job/{job}/plan/panel:1")
    shell.go(f"/row/{steps['circuit:C2']}")
    page.get_by_role("link", name="One-line drawing").wait_for()
    assert not faults
    assert not shell.faults
