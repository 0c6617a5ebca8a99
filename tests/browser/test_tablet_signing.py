"""Signing on the tablet: custody at arrival, drawn; at the hand-over the cautions stand above the places."""

from __future__ import annotations

import json
from typing import Any

import pytest

from checklists.models import StepEvent
from tests.browser.test_tablet_shell import UPRIGHT, Shell
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shell(page: Any, site: str, sign_in: Any, bob: Any, checklist: Any) -> Shell:
    """Return the shell, signed in as Bob, with a job taken along."""
    sign_in(bob)
    page.set_viewport_size(UPRIGHT)
    made = Shell(page, site, checklist)
    made.take()
    return made


def test_the_customer_signs_at_arrival(shell):
    """The name is offered, the strokes arrive as they were drawn, and an empty pad is no signature."""
    page = shell.page
    shell.step("custody")
    page.locator("button.tick", has_text="I keep to these").click()
    shell.state("All sent")
    page.wait_for_timeout(1200)  # what came back from the server is drawn
    assert page.get_by_text("I keep to these").count() == 0
    page.get_by_label("Printed name").wait_for()
    faults = shell.measured("custody") + shell.barriers("custody")
    page.get_by_role("button", name="Sign", exact=True).click()
    page.get_by_text("Draw the signature, or tick that the typed name is it.").wait_for()
    box = page.locator(".signature canvas").bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 90, steps=8)
    page.mouse.up()
    with ONE_AT_A_TIME:
        name = shell.checklist.job.vehicle.customer.name
    page.get_by_role("button", name="Sign", exact=True).click()
    shell.state("All sent")
    shell.step("custody")
    page.get_by_alt_text(f"Signature of {name}").wait_for()
    faults += shell.measured("signed") + shell.barriers("signed")
    with ONE_AT_A_TIME:
        value = StepEvent.objects.get(field="signed").value
    assert value["name"] == name
    assert value["ink"].startswith("M")
    assert not faults + shell.faults


def test_what_is_not_as_it_should_be_stands_above_the_places_to_sign(shell, record):  # noqa: F811
    with ONE_AT_A_TIME:
        record(shell.checklist, "shore_before", "gfci", "none")
    shell.open()
    shell.page.reload()
    shell.go("/hand-over")
    shown = shell.page.locator("#standing-cautions")
    shown.get_by_text("No working GFCI").wait_for()
    shell.page.wait_for_timeout(1200)  # nothing is drawn anew while it is measured
    places = shell.page.locator("section h2", has_text="Customer: received")
    assert shown.bounding_box()["y"] < places.first.bounding_box()["y"]
    assert not shell.measured("hand-over") + shell.barriers("hand-over") + shell.faults


def test_a_signature_holds_for_the_cautions_that_were_shown():
    """What is hashed names each of them, so that nobody signs without."""
    from tests.js import run_js

    script = """
      import { contentOf } from "./rules/hand_over.js";
      const texts = { care: ["Care"], cautions: [], warranty: [] };
      const job = { job: {}, steps: [], texts, design_number: 1 };
      const view = { job, states: new Map() };
      answer([[], ["A5 Reversed"]].map((cautions) => contentOf(view, [], cautions)));
    """
    bare, warned = map(json.loads, run_js(script, None))
    assert bare[4] == ["Care"]
    assert warned[4] == ["Care", "Caution: A5 Reversed"]
