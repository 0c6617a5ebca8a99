"""Who has read the safety lines of a phase: asked once a person, phase and day, and told at the hold."""

from __future__ import annotations

import uuid

import pytest

from checklists.models import StepEvent
from checklists.record.events import RecordRefused, events_record
from checklists.record.read import work_of
from checklists.rules.entries import Entry
from tests.roles import step_of


@pytest.fixture
def checklist(opened):
    return opened("2")


def reads(checklist, person, now, day="2026-11-25", role="right_vehicle"):
    entry = Entry(id=uuid.uuid4(), step=step_of(checklist, role).pk, verb="safety", value=day)
    return events_record(checklist=checklist, entries=[entry], actor=person, at=now)


def says(checklist):
    holds = work_of(checklist).holds
    custody = next(hold for hold in holds.all() if hold.step.role == "custody")
    return [item.sentence for item in custody.items if "safety lines" in item.sentence]


def test_a_hold_names_who_worked_without_having_read_the_lines(checklist, record, bob, now):
    assert says(checklist) == []  # nobody has worked yet
    record(checklist, "right_vehicle", "odometer_km", 80_000)
    assert says(checklist) == ["Bob Test has not read the safety lines of A"]
    reads(checklist, bob, now)
    assert says(checklist) == []


def test_another_day_and_another_person_are_asked_again(checklist, bob, now):
    reads(checklist, bob, now)
    install = work_of(checklist).install
    step = install.step("walk_round")
    assert not install.must_read(step, "Bob Test", "2026-11-25")
    assert install.must_read(step, "Bob Test", "2026-11-26")
    assert install.must_read(step, "Lena Test", "2026-11-25")
    assert install.must_read(install.step("locked_out"), "Bob Test", "2026-11-25")  # another phase


@pytest.mark.parametrize("day", ["yesterday", "2026-13-01", 7, None])
def test_lines_are_read_on_a_day(checklist, bob, now, day):
    with pytest.raises(RecordRefused, match="on a day like"):
        reads(checklist, bob, now, day=day)
    assert not StepEvent.objects.exists()


def test_the_go_says_again_what_is_live(checklist):
    go = work_of(checklist).install.step("go")
    text = " ".join(go.traits.safety)
    assert "This step is live" in text
    assert "lithium battery" in text


def test_the_first_version_keeps_its_tick(opened):
    install = work_of(opened("1")).install
    assert not install.must_read(install.step("sources_off"), "Bob Test", "2026-11-25")
