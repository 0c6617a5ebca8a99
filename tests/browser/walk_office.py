"""Knows the owner's walk at the desk: the call, the survey, the design."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import expect

from tests.browser import walk_values as typed
from tests.browser.walk_pages import Walker


def take_the_call(walker: Walker) -> str:
    """Open a job for a new caller and return its path."""
    walker.open("/", "board-empty")
    walker.press("New job", walker.page.locator("body"))
    walker.look("job-create")
    walker.fill({**typed.CUSTOMER, **typed.VEHICLE, **typed.JOB})
    walker.press("Open the job")
    walker.look("job-new")
    path = walker.page.url.removeprefix(walker.site)
    assert re.fullmatch(r"/jobs/\d+/", path)
    return path


def survey(walker: Walker, job: str) -> None:
    """Fill in every page of the field sheet."""
    walker.open(f"{job}survey/", "survey")
    _page(walker, job, "roof", typed.ROOF)
    _page(walker, job, "obstacles", {"guess_obstacles": False}, obstacles=typed.THINGS)
    _page(walker, job, "wire", typed.GLAND, wire_legs=typed.LEGS)
    _page(
        walker,
        job,
        "equipment",
        {**typed.POWER, "absent_kinds": ["generator"]},
        existing_items=typed.EQUIPMENT,
    )
    _page(walker, job, "weight", typed.WEIGHT)
    _page(walker, job, "loads", {"guess_loads": False}, loads=typed.LOADS)
    _page(walker, job, "travel", typed.TRAVEL, stops=[typed.STOP])
    _tick_all_photos(walker, job)
    walker.open(f"{job}survey/", "survey-full")


def _page(walker: Walker, job: str, part: str, values: dict[str, Any], **rows: list[dict[str, Any]]) -> None:
    walker.open(f"{job}survey/{part}/")
    walker.fill(values)
    for prefix, filled in rows.items():
        for row in filled:
            _add_row(walker, prefix, row)
    walker.look(f"survey-{part}")
    _save(walker, part)


def _add_row(walker: Walker, prefix: str, values: dict[str, Any]) -> None:
    walker.page.locator(f'button[name="act"][value="add:{prefix}"]').click()
    row = walker.page.locator(f'[data-rows="{prefix}"] [data-row-slip]').last
    if row.locator("details").count():
        row.locator("summary").click()
    walker.fill({f"-{name}": value for name, value in values.items()}, row, ends="$=")


def _save(walker: Walker, part: str) -> None:
    walker.press("Save")
    errors = walker.page.locator(".errors, .invalid-feedback")
    assert not errors.count(), f"{part}: {errors.all_inner_texts()}"
    expect(walker.page.get_by_text(" saved.")).to_be_visible()


def _tick_all_photos(walker: Walker, job: str) -> None:
    walker.open(f"{job}survey/site/")
    walker.fill(typed.SITE)
    for box in walker.page.locator('[name="photos_taken"]').all():
        box.check()
    walker.look("survey-site")
    _save(walker, "site")


def design(walker: Walker, job: str) -> str:
    """Make a revision: panels, strings, power, circuits; return its path."""
    walker.open(f"{job}survey/")
    walker.press("Mark as surveyed")
    walker.open(f"{job}designs/", "design-list-empty")
    walker.press("New revision")
    walker.look("design-new")
    path = walker.page.url.removeprefix(walker.site)
    _panels(walker, path)
    _strings(walker, path)
    _power(walker, path)
    _circuits(walker, path)
    return path


def _panels(walker: Walker, path: str) -> None:
    walker.open(f"{path}panels/")
    for number, (x, y) in enumerate(typed.PANELS):
        if number:
            walker.page.get_by_role("button", name="Add a panel").click()
        walker.fill({f"panels-{number}-part": {"label": typed.P200}})
        walker.fill({f"panels-{number}-x_m": x, f"panels-{number}-y_m": y})
    walker.look("design-panels")
    walker.press("Save and size")


def _strings(walker: Walker, path: str) -> None:
    walker.open(f"{path}strings/")
    walker.fill({"controllers-0-part": {"label": typed.CONTROLLER}, "controllers-0-label": "A"})
    walker.press("Save and stay here")
    walker.look("design-strings")
    walker.press("Wire it 2S2P")


def _power(walker: Walker, path: str) -> None:
    walker.open(f"{path}power/")
    walker.fill(
        {
            "bank-part": {"label": typed.BATTERY},
            "bank-quantity": "3",
            "inverter-part": {"label": typed.INVERTER},
            "inverter-hours_on_per_day": "8",
            "sources-0-what": {"label": typed.CHARGER},
        }
    )
    walker.look("design-power")
    walker.press("Save and size")
    walker.open(f"{path}basis/")
    walker.fill({"basis-gear_mass_kg": "18.5 kg"})
    walker.look("design-basis")
    walker.press("Save and size")


def _circuits(walker: Walker, path: str) -> None:
    """The circuits are there, on the survey's legs: set what the owner decides, take the other proposals."""
    walker.open(f"{path}circuits/")
    rows = walker.page.locator('[data-rows="circuits"] fieldset')
    labels = [row.locator('[name$="-label"]').input_value() for row in rows.all()]
    for label, values in typed.CIRCUITS.items():
        row = rows.nth(labels.index(label))
        row.locator("summary", has_text="Fuse or breaker, cable").click()
        walker.fill({f"-{name}": value for name, value in values.items()}, row, ends="$=")
    walker.look("design-circuits")
    walker.press("Save and stay here")
    walker.press("Use all proposals")
