"""One step on the web: a value out of band is asked about again, and a row leads back to its table."""

from __future__ import annotations

import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from checklists.models import StepEvent
from checklists.record.read import work_of
from tests.roles import step_of
from tests.unit.checklists.walk import complete, picture

READ = {"safety": "1"}


@pytest.fixture
def unlocked(monkeypatch):
    """Open every step: locks are tested with the holds."""
    monkeypatch.setattr("checklists.rules.holds.Holds.locks", lambda holds, step: ())


@pytest.fixture
def shown(client_of, bob, second_list, unlocked):
    """Return a way to ask for the page of a step, and to post to it, as Bob."""
    client = client_of(bob)

    class Page:
        def __init__(self, role: str, subject: str = "") -> None:
            self.pk = step_of(second_list, role, subject).pk

        def text(self) -> str:
            return client.get(reverse("checklists:step_detail", args=[self.pk])).content.decode()

        def post(self, **data):
            body = {"submission": str(uuid.uuid4()), **READ, **data}
            return client.post(reverse("checklists:step_record", args=[self.pk]), body)

    return Page


def value(checklist, role, name, subject=""):
    return work_of(checklist).install.value(role, name, subject)


def test_a_value_out_of_band_is_asked_about_again_with_its_card(shown, second_list):
    """Above 1 V is not de-energized (the list's own limit): never saved by the first press."""
    dead = shown("proven_dead")
    answer = dead.post(bus_v="12.4", tick="")
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Look again before it is saved" in text
    card = next(row["says"] for row in step_of(second_list, "proven_dead").card if row["when"] == "high")
    assert card[:30] in text
    assert 'value="12.4' in text  # what was typed stays on the page
    assert re.search(r'id="safety"[^>]* checked', text)  # read once, not once more
    assert not StepEvent.objects.exists()
    assert dead.post(bus_v="12.4", sure="1").status_code == 302
    assert value(second_list, "proven_dead", "bus_v") == 12.4


def test_a_value_in_band_is_saved_at_once(shown, second_list):
    assert shown("proven_dead").post(bus_v="0.2").status_code == 302
    assert value(second_list, "proven_dead", "bus_v") == 0.2


def test_a_tick_pressed_beside_a_bad_value_is_not_lost(shown):
    sealed = shown("cable_entry")
    answer = sealed.post(torque_nm="20 N·m", tick="strain")
    assert answer.status_code == 422
    assert '<input type="hidden" name="tick" value="strain">' in answer.content.decode()


@pytest.mark.parametrize("reason", ["none_aboard", "not_in_work", "no_shore"])
def test_a_plain_reason_is_one_big_button(shown, second_list, reason):
    step = shown("cable_entry")
    assert re.search(rf'<button class="choice" name="not_here" value="{reason}"', step.text())
    assert step.post(not_here=reason).status_code == 302
    assert value(second_list, "cable_entry", "not_here") == reason
    assert 'name="not_here" value="' not in step.text().partition("field-not_here")[0]


@pytest.mark.parametrize(
    ("reason", "more", "words"),
    [
        ("other", {"not_here_why": "Customer did it"}, "say why"),
        ("no_sun", {"not_here_visit": "2026-12-01"}, "for which day"),
    ],
)
def test_some_reasons_ask_for_one_thing_more(shown, second_list, reason, more, words):
    step = shown("cable_entry")
    answer = step.post(not_here=reason)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not StepEvent.objects.exists()
    assert step.post(not_here=reason, **more).status_code == 302
    assert value(second_list, "cable_entry", "not_here") == reason


def test_what_the_maker_forbids_is_photographed(shown, second_list):
    step = shown("cable_entry")
    assert "add a photo of what the maker says" in step.post(not_here="maker_forbids").content.decode()
    shot = SimpleUploadedFile("a.jpg", picture().read(), "image/jpeg")
    assert step.post(not_here="maker_forbids", not_here_photo=shot).status_code == 302
    assert {"not_here", "not_here_photo"} == set(
        StepEvent.objects.filter(verb="record").values_list("field", flat=True)
    )


def test_a_step_that_always_applies_offers_no_reason(shown):
    assert "Does not apply …" not in shown("custody").text()


def test_a_row_goes_back_to_its_table_at_its_place(shown, client_of, bob):
    row = shown("panel_serial", "panel:2")
    assert "Save, back to the table" in row.text()
    answer = row.post(serial="SN-2", back="1")
    assert answer.url == f"/steps/{row.pk}/table/#row-{row.pk}"
    table = client_of(bob).get(f"/steps/{row.pk}/table/").content.decode()
    assert f'<tr id="row-{row.pk}">' in table
    assert row.post(not_here="not_in_work").url.endswith(f"#row-{row.pk}")


def test_going_on_from_step_to_step_skips_nothing(client_of, bob, alice, second_list, now):
    """The bar leads through every page of the list in its order: tables as tables, each once."""
    client = client_of(bob)
    steps = work_of(second_list).install.in_scope
    codes = list(dict.fromkeys(step.code for step in steps))
    url, seen = f"/steps/{steps[0].pk}/", []
    while url:
        text = client.get(url).content.decode()
        seen.append(re.search(r'<span class="step-head-code">(\w+)</span>', text)[1])
        bar = text[text.index('class="step-bar"') : text.index("</nav>", text.index('class="step-bar"'))]
        found = re.search(r'href="([^"]+)" aria-label="On to', bar)
        url = found[1] if found else ""
    assert seen == codes


def test_a_table_is_left_when_its_open_rows_are_done(client_of, bob, second_list, now):
    complete(second_list, bob, now, only="AB")
    step = second_list.steps.filter(code="C2", is_in_scope=True).first()
    work = work_of(second_list)
    nexts = [s for s in work.install.in_scope if not work.holds.locks(s) and s.code > "B9"]
    assert nexts[0].code == "C1"
    text = client_of(bob).get(f"/steps/{step.pk}/table/").content.decode()
    assert "Save all, next open step" in text


def test_the_licensed_badge_stands_in_the_list_and_on_the_step(client_of, bob, second_list):
    client = client_of(bob)
    text = client.get(f"/jobs/{second_list.job_id}/install/").content.decode()
    licensed = {s.code for s in work_of(second_list).install.in_scope if s.traits.is_licensed}
    assert licensed
    assert text.count("for the licensed person") == len(licensed)
    wired = step_of(second_list, "ac_wired")
    assert "for the licensed person" in client.get(f"/steps/{wired.pk}/").content.decode()


def test_a_fresh_go_is_one_tick_after_rewiring(client_of, alice, second_list, now):
    """The page offers the tick again and says what was done; one tap gives it."""
    complete(second_list, alice, now, only="ABCDEFGHI")
    client = client_of(alice)
    go, tied = step_of(second_list, "go"), step_of(second_list, "runs_secured")
    spec = next(field for field in tied.fields if field["name"] == "secured")
    keys = [key for key, _ in spec["lines"]]
    standing = work_of(second_list).install.states[tied.pk]["secured"].standing[0].id
    half = {"secured": keys[:-1], "seen_secured": str(standing)}
    body = {"submission": str(uuid.uuid4()), **READ}
    client.post(f"/steps/{tied.pk}/record/", body | half)
    client.post(f"/steps/{tied.pk}/record/", body | {"secured": keys, "submission": str(uuid.uuid4())})
    text = client.get(f"/steps/{go.pk}/").content.decode()
    assert "was recorded again after Go" in text
    assert '<button class="tick" name="tick" value="go">' in text
    client.post(f"/steps/{go.pk}/record/", body | {"tick": "go", "submission": str(uuid.uuid4())})
    assert "was recorded again after Go" not in client.get(f"/steps/{go.pk}/").content.decode()
