"""An id that was used before: the same content is known, any other content is refused, nothing is lost."""

from __future__ import annotations

import uuid
from dataclasses import replace

import pytest

from checklists.models import Photo, StepEvent
from checklists.photos.photos import Picture, photo_keep
from checklists.record.events import RecordRefused, events_record
from checklists.rules.entries import Entry
from checklists.rules.reducer import Event, reduce_events
from tests.roles import step_of
from tests.unit.checklists.walk import drawn


def store(checklist, bob, now, *entries):
    return events_record(checklist=checklist, entries=entries, actor=bob, at=now)


@pytest.fixture
def photos(checklist, bob, now) -> list[Photo]:
    """Return two pictures of this job."""
    return [
        photo_keep(checklist=checklist, picture=Picture(sha * 64, drawn()), actor=bob, at=now)
        for sha in ("a", "b")
    ]


def pairs(checklist, photos, other: uuid.UUID):
    """Return events, each with another content under the same id, by what differs."""
    rest = step_of(checklist, "rest_volts").pk
    value = Entry(id=uuid.UUID(int=1), step=rest, field="rest_v", value=12.6)
    note = Entry(id=uuid.UUID(int=2), step=rest, verb="note", value="old dent")
    undo = Entry(id=uuid.UUID(int=3), step=rest, verb="undo", undoes=other)
    picture = Entry(
        id=uuid.UUID(int=4), step=step_of(checklist, "damage_found").pk, field="photo", photo=photos[0].pk
    )
    tick = Entry(
        id=uuid.UUID(int=5), step=step_of(checklist, "appliances_tried").pk, field="tried", value=True
    )
    elsewhere = step_of(checklist, "arrival_moisture").pk
    return {
        "value": (value, replace(value, value=12.7)),
        "field": (value, replace(value, field="soc_percent")),
        "step": (value, replace(value, step=elsewhere, field="moisture_percent")),
        "verb": (value, replace(value, verb="note", field="", value="12.6")),
        "note": (note, replace(note, value="old dent by the door")),
        "note's step": (note, replace(note, step=elsewhere)),
        "undone": (undo, replace(undo, undoes=uuid.UUID(int=9))),
        "undo's step": (undo, replace(undo, step=elsewhere)),
        "photo": (picture, replace(picture, photo=photos[1].pk)),
        "tick": (tick, replace(tick, verb="note", value="True", field="")),
    }


@pytest.mark.parametrize(
    "what",
    ["value", "field", "step", "verb", "note", "note's step", "undone", "undo's step", "photo", "tick"],
)
def test_one_id_with_another_content_is_refused(checklist, bob, now, photos, what):
    one, other = pairs(checklist, photos, uuid.UUID(int=8))[what]
    store(checklist, bob, now, one)
    before = list(StepEvent.objects.values())
    assert store(checklist, bob, now, one).known == (one.id,)
    with pytest.raises(RecordRefused, match="used before for something else") as refused:
        store(checklist, bob, now, other)
    assert refused.value.bad == (one.id,)
    with pytest.raises(RecordRefused, match="twice with different content"):
        store(checklist, bob, now, replace(one, id=uuid.UUID(int=77)), replace(other, id=uuid.UUID(int=77)))
    assert list(StepEvent.objects.values()) == before


@pytest.mark.parametrize(("sent", "again"), [(12.6, 12.6), (7, 7.0)])
def test_the_same_number_written_otherwise_is_the_same_event(checklist, bob, now, entry, sent, again):
    made = entry(checklist, "rest_volts", "rest_v", sent)
    store(checklist, bob, now, made)
    assert store(checklist, bob, now, replace(made, value=again)).known == (made.id,)


def test_a_trimmed_text_is_the_same_event(checklist, bob, now, entry):
    made = entry(checklist, "damage_found", "damage", "  none \n")
    store(checklist, bob, now, made)
    assert store(checklist, bob, now, made).known == (made.id,)


# --- what stands --------------------------------------------------------------------------------------------


def event(number: int, value: object = 1, **more) -> Event:
    return Event(id=uuid.UUID(int=number), step=1, verb="record", field="x", **({"value": value} | more))


def test_a_value_that_names_an_id_to_undo_takes_nothing_back():
    """Only an undo undoes; what else is written beside an id does not."""
    stray = event(2, 2, undoes=uuid.UUID(int=1))
    state = reduce_events([event(1), stray])[1]
    assert {one.id.int for one in state.standing} == {1, 2}


def test_who_recorded_it_is_named_and_no_blank_among_them():
    rows = [event(1, 1, by_name="Bob"), event(2, 1, by_name=""), event(3, 1, by_name="Ada")]
    assert reduce_events(rows)[1].by_names == ("Ada", "Bob")


@pytest.mark.parametrize("order", [(3, 9), (9, 3)])
def test_a_step_was_last_touched_when_its_newest_value_came(now, order):
    rows = [event(place, 1, received_at=now.replace(hour=hour)) for place, hour in enumerate(order)]
    rows.append(event(7, 1))  # a value that came before times were kept
    assert reduce_events(rows)[1].last_at == now.replace(hour=9)
    assert reduce_events(rows[2:])[1].last_at is None


def test_a_step_is_begun_by_its_first_value(checklist, record):
    work = record(checklist, "rest_volts", "rest_v", 12.6).work
    install = work.install
    assert install.mark(install.step("rest_volts")).is_begun
    assert not install.mark(install.step("damage_found")).is_begun


@pytest.mark.parametrize(("months", "is_past"), [((9, 11), True), ((11, 9), True), ((9, 9), False)])
def test_a_tube_recorded_twice_is_as_old_as_its_last_look(now, months, is_past):
    """Use before October, seen in September and again in November: by November it is past."""
    from checklists.rules.fields import specs_from_json
    from checklists.rules.judging import judge_step

    (spec,) = specs_from_json(
        [{"name": "use_by", "kind": "text", "format": "month", "not_past": True, "label": "Use before",
          "fail_says": "past its month", "required": True}]
    )  # fmt: skip
    rows = [
        Event(
            id=uuid.UUID(int=place), step=1, verb="record", field="use_by", value="2026-10",
            received_at=now.replace(month=month),
        )
        for place, month in enumerate(months)
    ]  # fmt: skip
    mark = judge_step((spec,), reduce_events(rows)[1])
    assert ("past its month" in "".join(mark.sentences)) == is_past
