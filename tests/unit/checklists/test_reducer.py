"""The reducer: one answer for one set of events, whatever the order, whoever's clock.

The laws are those of a multi-value register (Shapiro, Preguiça, Baquero, Zawirski, "A comprehensive study of
convergent and commutative replicated data types", INRIA RR-7506, 2011, section 3.2.2), with undo added by us.
"""

from __future__ import annotations

import random
import uuid

from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.rules.reducer import NOTE, RECORD, UNDO, Event, canonical, reduce_events


def name(number: int) -> uuid.UUID:
    return uuid.UUID(int=number)


def value(number: int, what: object, *, replaces: tuple[int, ...] = (), step: int = 1, field: str = "torque"):
    return Event(
        id=name(number),
        step=step,
        verb=RECORD,
        field=field,
        value=what,
        replaces=frozenset(name(each) for each in replaces),
        by_name=f"person {number}",
    )


def undo(number: int, target: int, step: int = 1):
    return Event(id=name(number), step=step, verb=UNDO, undoes=name(target))


def stands(events) -> list[object]:
    return sorted(reduce_events(events)[1]["torque"].values, key=canonical)


def test_a_value_stands():
    assert stands([value(1, 10.0)]) == [10.0]


def test_the_same_event_twice_is_one():
    assert reduce_events([value(1, 10.0), value(1, 10.0)]) == reduce_events([value(1, 10.0)])


def test_a_value_that_saw_the_old_one_takes_its_place():
    state = reduce_events([value(1, 10.0), value(2, 9.8, replaces=(1,))])[1]["torque"]
    assert state.value == 9.8
    assert state.redo_count == 1
    assert not state.is_conflict


def test_two_values_that_never_saw_each_other_both_stand():
    state = reduce_events([value(1, 11.0), value(2, 9.0)])[1]["torque"]
    assert state.is_conflict
    assert state.value is None
    assert sorted(state.values) == [9.0, 11.0]


def test_two_people_with_the_same_value_agree():
    state = reduce_events([value(1, 10), value(2, 10.0)])[1]["torque"]
    assert not state.is_conflict
    assert state.value == 10


def test_a_third_value_that_saw_both_settles_it():
    assert stands([value(1, 11.0), value(2, 9.0), value(3, 10.1, replaces=(1, 2))]) == [10.1]


def test_an_undo_brings_the_value_before_back():
    events = [value(1, 10.0), value(2, 9.8, replaces=(1,)), undo(3, 2)]
    assert stands(events) == [10.0]


def test_an_undone_value_in_the_middle_does_not_wake_what_it_replaced():
    events = [value(1, 1.0), value(2, 2.0, replaces=(1,)), value(3, 3.0, replaces=(2,)), undo(4, 2)]
    assert stands(events) == [3.0]


def test_an_undo_may_arrive_before_what_it_undoes():
    assert 1 not in reduce_events([undo(2, 1)])
    assert not reduce_events([undo(2, 1), value(1, 10.0)])[1]["torque"].is_recorded


def test_an_undo_of_an_undo_does_nothing():
    assert not reduce_events([value(1, 10.0), undo(2, 1), undo(3, 2)])[1]["torque"].is_recorded


def test_values_that_replace_each_other_hide_nothing():
    assert stands([value(1, 1.0, replaces=(2,)), value(2, 2.0, replaces=(1,))]) == [1.0, 2.0]


def test_pictures_add_up_and_never_disagree():
    photos = [Event(id=name(n), step=1, verb=RECORD, field="photo", photo=name(100 + n)) for n in (1, 2)]
    state = reduce_events(photos)[1]["photo"]
    assert len(state.photos) == 2
    assert not state.is_conflict


def test_notes_stay_until_taken_back():
    note = Event(id=name(5), step=1, verb=NOTE, value="dry")
    assert [each.value for each in reduce_events([note])[1].notes] == ["dry"]
    assert 1 not in reduce_events([note, undo(6, 5)])


@st.composite
def histories(draw: st.DrawFn) -> list[Event]:
    """Return a history of up to 14 events on two fields: values that saw some earlier ones, and undos."""
    events: list[Event] = []
    for number in range(1, draw(st.integers(1, 14)) + 1):
        earlier = list(range(1, number))
        if earlier and draw(st.integers(0, 3)) == 0:
            events.append(undo(number, draw(st.sampled_from(earlier))))
            continue
        seen = draw(st.sets(st.sampled_from(earlier), max_size=3)) if earlier else set()
        field = draw(st.sampled_from(["torque", "length"]))
        what = draw(st.sampled_from([9.0, 10.0, 11.0]))
        events.append(value(number, what, replaces=tuple(seen), field=field))
    return events


@settings(max_examples=300, deadline=None)
@given(histories(), st.integers(0, 2**32))
def test_order_and_repeats_of_arrival_do_not_matter(events, seed):
    shuffled = [*events, *events[: len(events) // 2]]
    random.Random(seed).shuffle(shuffled)
    assert reduce_events(shuffled) == reduce_events(events)


@settings(max_examples=200, deadline=None)
@given(histories())
def test_a_recorded_value_is_never_lost_without_an_undo_or_a_successor(events):
    """A plain second model: a value is gone only when undone, or when a live value reaches it."""
    undone = {event.undoes for event in events if event.verb == UNDO}
    records = [event for event in events if event.verb == RECORD]
    live = {event.id for event in records if event.id not in undone}
    by_id = {event.id: event for event in records}

    def reaches(event: Event, target: uuid.UUID, field: str, depth: int = 0) -> bool:
        if depth > len(records):
            return False
        return any(
            each == target
            or (
                each in by_id
                and by_id[each].field == field
                and reaches(by_id[each], target, field, depth + 1)
            )
            for each in event.replaces
        )

    state = reduce_events(events)
    for event in records:
        field = state[1][event.field] if 1 in state else None
        stands_now = field is not None and event.id in {each.id for each in field.standing}
        covered = any(
            by_id[other].field == event.field
            and other != event.id
            and reaches(by_id[other], event.id, event.field)
            for other in live
        )
        assert stands_now == (event.id in live and not covered)
