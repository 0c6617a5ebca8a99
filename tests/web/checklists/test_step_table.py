"""The table of all steps of one code on the web: filled as planned, saved together, asked again when off."""

from __future__ import annotations

import re

import pytest

from checklists.models import StepEvent
from checklists.record.read import work_of
from tests.unit.checklists.conftest import (  # noqa: F401
    checklist,
    entry,
    media,
    open_for,
    record,
    second_list,
)
from tests.unit.checklists.walk import complete

pytestmark = pytest.mark.django_db
SENT = "8a6e0804-2bd0-4672-b79d-d97027f9071a"


@pytest.fixture
def table(client_of, bob, checklist):  # noqa: F811
    """Return a way to ask the table of a code for its page, and to post to it, as Bob."""
    client = client_of(bob)

    class Table:
        def __init__(self, code: str) -> None:
            self.steps = list(checklist.steps.filter(code=code, is_in_scope=True))
            self.url = f"/steps/{self.steps[0].pk}/table/"

        def page(self) -> str:
            return client.get(self.url).content.decode()

        def post(self, **values: str):
            hidden = dict(re.findall(r'name="(r\d+-submission)" value="([^"]+)"', self.page()))
            return client.post(f"{self.url}record/", hidden | values)

        def name(self, subject: str, field: str) -> str:
            return f"r{next(step.pk for step in self.steps if step.subject == subject)}-{field}"

    return Table


def values(field: str) -> dict[str, object]:
    return {row.step.subject: row.value for row in StepEvent.objects.filter(field=field)}


@pytest.fixture
def unlocked(monkeypatch):
    """Open every step: locks are tested with the holds."""
    monkeypatch.setattr("checklists.rules.holds.Holds.locks", lambda holds, step: ())


def test_every_row_is_on_one_page_and_all_are_saved_together(table, unlocked):
    lengths = table("F1")
    names = [lengths.name(step.subject, "run_len_m") for step in lengths.steps]
    page = lengths.page()
    assert all(f'name="{name}"' in page for name in names)
    answer = lengths.post(**dict.fromkeys(names, "6 m"))
    assert answer.status_code == 302
    assert values("run_len_m") == {step.subject: 6.0 for step in lengths.steps}
    assert len(set(StepEvent.objects.values_list("received_at", flat=True))) == 1


def test_one_cell_that_cannot_be_read_saves_none(table, unlocked):
    lengths = table("F1")
    first, second = (lengths.name(step.subject, "run_len_m") for step in lengths.steps[:2])
    answer = lengths.post(**{first: "6 m", second: "six"})
    assert answer.status_code == 422
    assert 'value="6 m"' in answer.content.decode()  # what was typed stays on the page
    assert not StepEvent.objects.exists()


def test_as_planned_fills_the_page_and_saves_nothing(table, unlocked):
    fitted = table("F2")
    answer = fitted.post(as_planned="1")
    assert answer.status_code == 200
    assert not StepEvent.objects.exists()
    page = answer.content.decode()
    for step in fitted.steps:
        planned = next(field["expected"] for field in step.fields if field["name"] == "size")
        own = page[page.index(f'name="{fitted.name(step.subject, "size")}"') :]
        assert f'value="{planned}" selected' in own[: own.index("</select>")]


def test_as_planned_keeps_what_was_typed_and_ticks_nothing(table, unlocked):
    torque = table("G6")
    name = torque.name("joint:battery-1", "plus_nm")
    page = torque.post(as_planned="1", **{name: "10 N·m"}).content.decode()
    assert f'name="{name}" value="10 N·m"' in page
    assert "checked" not in page  # a mark painted is an act, not a plan


def test_as_planned_chooses_all_feet_of_a_panel(client_of, bob, second_list, unlocked):  # noqa: F811
    client = client_of(bob)
    panel = second_list.steps.get(code="D4", subject="panel:1")
    url = f"/steps/{panel.pk}/table/"
    hidden = dict(re.findall(r'name="(r\d+-submission)" value="([^"]+)"', client.get(url).text))
    page = client.post(f"{url}record/", hidden | {"as_planned": "1"}).text
    assert f'name="tick" value="r{panel.pk}-foot" checked' in page


def test_the_readings_stand_below_the_table_that_asks_for_them(client_of, bob, second_list):  # noqa: F811
    client = client_of(bob)
    string = second_list.steps.get(code="K2", subject="string:1")
    assert "Expected against measured" in client.get(f"/steps/{string.pk}/table/").text


def test_going_on_leads_to_the_table_and_not_to_its_first_row(client_of, bob, second_list, now):  # noqa: F811
    complete(second_list, bob, now, only="AB")
    roof, marks = (second_list.steps.filter(code=code).first() for code in ("C1", "C2"))
    client = client_of(bob)
    gone = {"not_here": "other", "not_here_why": "Roof looked at in the survey."}
    answer = client.post(
        f"/steps/{roof.pk}/record/", {"submission": SENT, "safety": "1", "next": "1", **gone}
    )
    assert answer.url == f"/steps/{marks.pk}/table/"
    overview = client.get(f"/jobs/{second_list.job_id}/install/").text
    assert re.search(rf'href="/steps/{marks.pk}/table/">\s*Go on', overview)


def test_a_value_out_of_band_is_asked_about_again_before_it_is_saved(table, unlocked):
    torque = table("G6")
    name = torque.name("joint:battery-1", "plus_nm")
    answer = torque.post(**{name: "1 N·m"})
    assert answer.status_code == 422
    assert "Look again before it is saved" in answer.content.decode()
    assert not StepEvent.objects.exists()
    assert torque.post(**{name: "1 N·m", "sure": "1"}).status_code == 302
    assert values("plus_nm") == {"joint:battery-1": 1.0}


def test_a_locked_table_says_why_and_has_no_input(table):
    page = table("F1").page()
    assert "This step is locked" in page
    assert "run_len_m" not in page


def test_rows_that_do_not_apply_say_so_with_their_reason(client_of, bob, second_list, unlocked):  # noqa: F811
    client = client_of(bob)
    steps = list(second_list.steps.filter(code="F1", is_in_scope=True).exclude(subject=""))
    url = f"/steps/{steps[0].pk}/table/"
    page = client.get(url).content.decode()
    hidden = dict(re.findall(r'name="(r\d+-submission)" value="([^"]+)"', page))
    post = hidden | {"leave": f"r{steps[0].pk}", "not_here": "not_in_work"}
    refused = client.post(f"{url}record/", post)
    assert "Read the safety lines above first" in refused.content.decode()
    assert client.post(f"{url}record/", post | {"safety": "1"}).status_code == 302
    mark = work_of(second_list).install.mark(
        next(s for s in work_of(second_list).install.steps if s.pk == steps[0].pk)
    )
    assert mark.is_done
    assert "Does not apply:" in client.get(url).content.decode()


def test_a_code_with_one_step_has_its_own_page(table):
    alone = table("A4")
    assert alone.page() == ""  # sent on
