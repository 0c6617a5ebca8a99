"""One picture for several fields, chosen without a network: sent once, standing at each of them."""

from __future__ import annotations

import io
from typing import Any

import pytest
from PIL import Image

from tests.browser.tablet_kit import Server, Tablet
from tests.browser.test_tablet_shell import MEASURE
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def server(lines_read, tmp_path, bob, client_of):
    """Return the site on a file, running."""
    session = client_of(bob).cookies["sessionid"].value  # before the database is copied
    made = Server(tmp_path)
    made.session = session
    try:
        made.start()
        yield made
    finally:
        made.stop()


@pytest.fixture
def tablet(server, playwright, tmp_path):
    """Return a tablet of this server."""
    made = Tablet(playwright, tmp_path / "profile", server.url, server.session)
    yield made
    made.kill()


def places(checklist: Any) -> list[tuple[int, str]]:
    """Return the first three steps that ask for a photo, which nothing locks, with the label of its field."""
    found: dict[int, str] = {}
    for step in checklist.steps.filter(is_in_scope=True):
        for spec in step.fields:
            if spec["kind"] == "photo" and not spec["name"].startswith("not_here"):
                found.setdefault(step.pk, spec["label"])
    return list(found.items())[:3]


def picture() -> dict[str, Any]:
    out = io.BytesIO()
    Image.effect_noise((640, 480), 60).convert("RGB").save(out, "JPEG")
    return {"name": "roof.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def again(page: Any, label: str) -> None:
    """Let the first photo on offer stand at this field, too."""
    page.get_by_role("button", name=f"Use a photo already taken: {label}").first.click()
    page.locator(".photo-pick img").first.wait_for()
    assert page.evaluate(MEASURE) == []
    page.locator(".photo-pick").first.click()
    page.locator(".photos li").first.wait_for()


def test_a_photo_serves_several_fields_and_is_sent_once(server, tablet, checklist):
    (first, _), (second, label), (third, other) = places(checklist)
    tablet.open()
    tablet.take(checklist.job_id)
    server.stop()
    assert tablet.is_cut_off()
    page = tablet.page
    tablet.go(f"#/job/{checklist.job_id}/step/{first}")
    page.locator("input[type=file]").first.set_input_files([picture()])
    page.locator(".photos li").first.wait_for()
    tablet.go(f"#/job/{checklist.job_id}/step/{second}")
    again(page, label)
    kept = tablet.kept()
    assert (kept["outbox"], kept["uploads"]) == (2, 1)
    tablet.kill()
    tablet.open("#/queue")
    server.start()
    tablet.page.get_by_role("button", name="Send now").click()
    tablet.wait_until_sent()
    page = tablet.page
    tablet.go(f"#/job/{checklist.job_id}/step/{third}")  # once more, the picture being on the server by now
    again(page, other)
    tablet.wait_until_sent()
    assert server.rows("select count(*) from checklists_photo") == [(1,)]
    rows = server.rows("select step_id, photo_id from checklists_stepevent where photo_id is not null")
    assert sorted(step for step, _ in rows) == sorted([first, second, third])
    assert len({photo for _, photo in rows}) == 1
