"""Hours and parts to load without a network: browser killed, server gone, each told once, times put right."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.browser.barriers import barriers
from tests.browser.test_tablet_offline import server, tablet  # noqa: F401
from tests.roles import step_of
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)
MEASURE = (Path(__file__).parent / "measure_tablet.js").read_text()


def show(tablet: Any, where: str) -> None:  # noqa: F811
    tablet.go(where)
    tablet.page.wait_for_function("(where) => document.body.dataset.shown === where", arg=where)


def events(server: Any, verb: str) -> list[tuple[str, Any]]:  # noqa: F811
    rows = server.rows(
        "select field, value from checklists_stepevent where verb = ? and step_id is null", verb
    )
    return [(field, json.loads(value)) for field, value in rows]


def faults(page: Any) -> list[str]:
    page.evaluate("() => document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    wide = page.evaluate("() => document.documentElement.scrollWidth > innerWidth")
    return [*page.evaluate(MEASURE), *map(str, barriers(page)), *(["too wide"] if wide else [])]


def test_a_day_of_hours_and_loads_is_told_once(server, tablet, checklist):  # noqa: F811
    tablet.open()
    tablet.take(checklist.job_id)
    home = f"#/job/{checklist.job_id}"
    server.stop()
    assert tablet.is_cut_off()
    page = tablet.page
    show(tablet, home)
    page.get_by_role("link", name="Hours").click()
    page.get_by_role("button", name="D Start").click()
    page.get_by_role("button", name="Stop Bob Test").wait_for()
    page.get_by_role("button", name="E Start").click()  # the next start ends the one before
    page.get_by_text("(ended by the next start)").wait_for()
    page.get_by_role("button", name="Stop Bob Test").click()
    page.get_by_text("No clock runs on this job.").wait_for()
    page.locator("summary", has_text="Put it right").first.click()
    page.get_by_label("Why").first.fill("Phone call in between")
    page.get_by_role("button", name="Save the hours").first.click()
    page.get_by_text("Phone call in between").wait_for()

    show(tablet, f"{home}/load")
    lines = page.locator("button.tick")
    count = lines.count()
    lines.first.click()
    page.get_by_text(f"1 of {count} loaded.").wait_for()
    details = page.locator("details.change").first
    details.locator("summary").click()
    form = details.locator(".word-row").nth(1)
    form.get_by_label("Missing").fill("2")
    form.get_by_label("Note").fill("only two came")
    form.get_by_role("button", name="Missing").click()
    page.get_by_text("only two came").wait_for()

    tablet.kill()
    tablet.open(f"{home}/load")
    tablet.page.get_by_text("only two came").wait_for()
    assert tablet.kept()["outbox"] == 6
    show(tablet, "#/queue")
    tablet.page.get_by_text("Clock of Bob Test started, phase D").wait_for()
    server.start()
    tablet.page.get_by_role("button", name="Send now").click()
    tablet.wait_until_sent()
    assert [field for field, _ in events(server, "start")] == ["D", "E"]
    assert len(events(server, "stop")) == len(events(server, "correct")) == 1
    assert [value for _, value in events(server, "short")] == [{"missing": 2, "note": "only two came"}]
    assert len(events(server, "load")) == 1


def test_the_views_keep_their_sizes_and_have_no_barriers(server, tablet, checklist):  # noqa: F811
    tablet.open()
    tablet.take(checklist.job_id)
    home = f"#/job/{checklist.job_id}"
    show(tablet, f"{home}/hours")
    tablet.page.get_by_role("button", name="D Start").click()
    tablet.page.get_by_role("button", name="Stop Bob Test").wait_for()
    for size in ({"width": 820, "height": 1180}, {"width": 1180, "height": 820}):
        tablet.page.set_viewport_size(size)
        for where in (f"{home}/hours", f"{home}/load", f"{home}/contacts", home):
            show(tablet, where)
            assert faults(tablet.page) == [], where
    call = tablet.page.locator('a[href="tel:911"]')
    show(tablet, f"{home}/contacts")
    call.wait_for()
    assert tablet.page.locator("#page section").first.locator('a[href="tel:911"]').count() == 1


def test_what_is_open_before_go_names_its_circuit(server, tablet, checklist):  # noqa: F811
    tablet.open()
    tablet.take(checklist.job_id)
    step = step_of(checklist, "schedule_read")
    show(tablet, f"#/job/{checklist.job_id}/step/{step.pk}")
    found = tablet.page.locator(".open-list")
    found.get_by_role("heading", name="Still open before Go").wait_for()
    assert found.get_by_role("heading", name="Circuit C2").count() == 1
    assert found.locator("li").count() > 20
