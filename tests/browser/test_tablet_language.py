"""The tablet in Spanish: turned by one tap, kept, there without a network, nothing cut off.

The work recorded is the same in either language; what is signed is what was written.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from checklists.models import StepEvent
from tests.unit.checklists.conftest import media  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

CLIPPED = """() => [...document.querySelectorAll('#page button, #page a.btn, #page h1, #page h2, .tab-bar *')]
  .filter((each) => each.offsetParent && !each.closest('.visually-hidden')
    && (each.scrollWidth > each.clientWidth + 1 && getComputedStyle(each).display !== 'inline'))
  .map((each) => each.className + ': ' + each.textContent.slice(0, 60))"""
WAYS = ["", "/plan", "/one-line", "/seals", "/circuits", "/contacts", "/hours", "/load", "/hand-over"]


def shot(page: Any, name: str) -> None:
    """Keep a picture where SHOTS names a folder, to be looked at."""
    if folder := os.environ.get("SHOTS"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


@pytest.fixture
def tablet(checklist, site, page, sign_in, bob, media):  # noqa: F811
    """Return the tablet of Bob with the job on it, turned to Spanish."""
    sign_in(bob)
    page.set_viewport_size({"width": 820, "height": 1180})
    page.goto(f"{site}/tablet/")
    page.get_by_role("button", name="Take along").click()
    page.locator(f'a[href="#/job/{checklist.job_id}"]').wait_for()
    page.get_by_role("button", name="Español").click()
    page.get_by_role("heading", name="Trabajos en esta tableta").wait_for()
    return page


def go(page: Any, checklist: Any, where: str) -> None:
    """Show a view of the job."""
    address = f"#/job/{checklist.job_id}{where}"
    page.evaluate("(where) => { location.hash = where; }", address)
    page.wait_for_function("(where) => document.body.dataset.shown === where", arg=address)


def test_every_view_is_in_spanish_and_nothing_is_cut_off(tablet, checklist):
    assert tablet.evaluate("() => document.documentElement.lang") == "es"
    shot(tablet, "home")
    for where in WAYS:
        go(tablet, checklist, where)
        shot(tablet, f"way{where.replace('/', '-')}")
        assert tablet.evaluate(CLIPPED) == [], where
        assert tablet.evaluate("() => document.documentElement.scrollWidth") <= 820, where
    for code in ("A1", "A2", "A3", "A5", "B1", "D2", "G5", "I7", "J1", "L2", "M1"):
        step = checklist.steps.filter(code=code, is_in_scope=True).first()
        if step is None:
            continue
        go(tablet, checklist, f"/step/{step.pk}")
        shot(tablet, f"step-{code}")
        assert tablet.evaluate(CLIPPED) == [], code
        assert tablet.evaluate("() => document.documentElement.scrollWidth") <= 820, code


def test_what_is_recorded_is_the_same(tablet, checklist):
    step = checklist.steps.get(code="A3")
    go(tablet, checklist, f"/step/{step.pk}")
    tablet.get_by_role("button", name="Leídas; las cumplo").click()
    tablet.get_by_role("button", name="Luces de camino y frenos").click()
    tablet.locator(".line-on").wait_for()
    tablet.wait_for_function("() => /Todo enviado/.test(document.getElementById('state').textContent)")
    keys = {key for spec in step.fields for key, _ in spec.get("lines", ())}
    found = [event.value for event in StepEvent.objects.filter(verb="record")]
    assert len(found) == 1
    assert found[0] in keys


def test_a_choice_made_before_it_is_known_who_holds_the_tablet_is_theirs(page, site, sign_in, bob):
    sign_in(bob)  # whose words in the office are English
    page.route("**/tablet/hello/*", lambda route: route.abort())
    page.goto(f"{site}/tablet/")
    page.get_by_role("heading", name="not known who is signed in").wait_for()
    page.get_by_role("button", name="Español").click()
    page.get_by_role("heading", name="Trabajos en esta tableta").wait_for()
    page.unroute("**/tablet/hello/*")
    page.reload()
    page.get_by_role("heading", name="Bob Test").wait_for()
    page.reload()
    page.get_by_role("heading", name="Bob Test").wait_for()
    assert page.evaluate("() => document.documentElement.lang") == "es"


def test_the_choice_is_kept_without_a_network(tablet, checklist, context):
    tablet.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    tablet.wait_for_function("() => navigator.serviceWorker.controller")
    context.set_offline(True)
    tablet.reload()
    tablet.get_by_role("heading", name="Trabajos en esta tableta").wait_for()
    go(tablet, checklist, "")
    tablet.get_by_text("Recepción").first.wait_for()
    tablet.goto(tablet.url.split("#")[0] + "#/")
    tablet.get_by_role("button", name="English").click()
    tablet.get_by_role("heading", name="Jobs on this tablet").wait_for()
    context.set_offline(False)
