"""What a step tells and takes on the spot: a note at one tap, what the plan expects, the drawings."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.test_tablet_shell import LYING, UPRIGHT, shell  # noqa: F401
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.conftest import checklist, entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


def field_of(checklist: Any, kind: str, key: str) -> tuple[Any, dict[str, Any]]:  # noqa: F811
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
