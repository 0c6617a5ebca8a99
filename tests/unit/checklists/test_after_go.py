"""Rewiring after Go closes Go: a Go is only given for what was there before it.

The rule is the trade's: after work on a circuit it is proven again before it is energized (29 CFR
1910.333(b)(2)(v): tests and inspections before circuits are re-energized). Times and steps are told by hand.
"""

from __future__ import annotations

import datetime as dt
import random
import uuid
from dataclasses import replace
from typing import Any

import pytest

from checklists.rules.after_go import rests_on
from checklists.rules.holds import Holds
from checklists.rules.install import Install
from checklists.rules.reducer import Event, reduce_events
from checklists.rules.work_order import Office, Placed, done_while_locked, places
from tests.js import needs_node, run_js
from tests.unit.checklists import paper_job as paper
from tests.unit.checklists.test_gates import ended

WHOLE = frozenset({"panels", "screwed", "battery", "inverter", "shore", "dc_dc"})
DAY = dt.datetime(2026, 11, 25, 15, 0, tzinfo=dt.UTC)  # 08:00 in Denver
GO = dt.timedelta(hours=5)  # 13:00 there
AFTER = dt.timedelta(hours=6, minutes=5)  # 14:05 there


class Day:
    """A whole job done well in order by one tablet, the Go given at 13:00; then whatever a test adds."""

    def __init__(self) -> None:
        self.install = replace(ended(WHOLE), time_zone="America/Denver")
        self.placed: list[Placed] = []
        codes = [step.code for step in self.install.in_scope]
        for place, step in enumerate(self.install.in_scope):
            is_before = place < codes.index("I5")
            at = DAY + (dt.timedelta(minutes=place) if is_before else GO + dt.timedelta(seconds=place))
            state = self.install.states[step.pk]
            for event in (*state.standing, *state.acks):
                self.add(replace(event, done_at=at, received_at=at), at)

    def add(self, event: Event, at: dt.datetime, source: str = "one", got: Any = None) -> None:
        count = len(self.placed) + 1
        self.placed.append(Placed(event, source, at, at, got or at, count, count))

    def again(self, role: str, name: str, value: Any = None, subject: str = "", **more: Any) -> Event:
        """Record a value a second time, in place of what stands."""
        step = self.step(role, subject, name)
        standing = self.now().states[step.pk][name].standing
        at = DAY + more.pop("after", AFTER)
        made = Event(
            id=uuid.uuid4(), step=step.pk, verb="record", field=name,
            value=standing[0].value if value is None and standing else value,
            replaces=frozenset(each.id for each in standing if each.photo is None),
            by_name=paper.WHO, by_role="owner", done_at=at, received_at=at,
        )  # fmt: skip
        made = replace(made, **{key: more.pop(key) for key in ("photo", "verb", "undoes") if key in more})
        self.add(made, at, **more)
        return made

    def undo(self, event: Event, after: dt.timedelta) -> None:
        at = DAY + after
        self.add(Event(uuid.uuid4(), event.step, "undo", undoes=event.id, by_name=paper.WHO, done_at=at), at)

    def give(self, after: dt.timedelta, **more: Any) -> None:
        self.again("go", "go", True, after=after, **more)

    def step(self, role: str, subject: str = "", name: str = "") -> Any:
        """Return the step of a role, that with this field where there are several."""
        found = [s for s in self.install.in_scope if s.role == role and subject in ("", s.subject)]
        return next((s for s in found if any(spec.name == name for spec in s.specs)), found[0])

    def now(self) -> Install:
        found = paper.with_states(self.install, reduce_events(each.event for each in self.placed))
        return replace(found, order=places(self.placed))

    @property
    def go(self) -> Any:
        holds = Holds(self.now())
        return next(hold for hold in holds.all() if hold.step.role == "go")

    def told(self) -> list[str]:
        return [f"{item.step.code} {item.sentence}" for item in self.go.items]

    def locked(self) -> set[str]:
        holds = Holds(self.now())
        return {step.phase for step in self.install.in_scope if holds.locks(step)}


def test_wiring_recorded_again_after_the_go_asks_for_a_fresh_go():
    """In band, even the same value: somebody was at the wires again. J and K lock, what is done stays."""
    day = Day()
    assert day.go.is_passed
    day.again("runs_secured", "secured")
    title = day.step("runs_secured").title
    assert day.told() == [
        "I5 Go: missing",
        f"F2 {title} was recorded again after Go at 14:05 by Alice Test: check and give Go again",
    ]
    assert not any(item.can_be_overridden for item in day.go.items if item.step.code == "F2")
    assert {"J", "K"} <= day.locked()
    assert not day.locked() & set("ABCDEFGHI")
    done = Holds(day.now()).install
    assert all(done.state(s).standing for s in day.install.of_role("battery_live"))
    day.give(dt.timedelta(hours=6, minutes=20))
    assert day.go.is_passed
    assert day.locked() == set()


@pytest.mark.parametrize(
    ("role", "name"),
    [
        ("wire_runs", "run_len_m"), ("wire_runs", "size"), ("strings_built", "fuse"), ("battery", "serial"),
        ("polarity_proven", "voc_v"), ("main_fuse", "fuse_a"), ("protection", "fuse_a"),
        ("torque", "plus_nm"), ("torque_pv", "torque_nm"), ("chassis_bond", "size"),
        ("bond_continuity", "resistance_ohm"), ("home_run_length", "run_len_m"), ("panel_serial", "serial"),
        ("ac_wired", "breaker_a"), ("ac_dead_check", "hot_ground"), ("neutral_kind", "kind"),
        ("bond_fitted", "bond"), ("battery_complete", "complete"),
    ],
)  # fmt: skip
def test_what_bears_on_energized_work_closes_the_go(role, name):
    day = Day()
    subject = next(
        s.subject for s in day.install.in_scope if s.role == role and any(f.name == name for f in s.specs)
    )
    day.again(role, name, subject=subject)
    assert not day.go.is_passed


@pytest.mark.parametrize(
    ("role", "name"),
    [
        ("right_vehicle", "odometer_km"), ("walk_round", "damage"), ("seal_over", "temp_air_c"),
        ("custody", "signed"), ("labels", "labels"), ("licensed_person", "licence_no"),
        ("battery_live", "bus_v"), ("leak_test", "method"), ("second_person", "tidy"),
    ],
)  # fmt: skip
def test_what_changes_no_wire_leaves_it_open(role, name):
    day = Day()
    subject = next(
        s.subject for s in day.install.in_scope if s.role == role and any(f.name == name for f in s.specs)
    )
    day.again(role, name, subject=subject)
    assert day.go.is_passed


def test_a_photo_or_a_note_added_later_leaves_it_open():
    day = Day()
    day.again("runs_secured", "photo", photo=uuid.uuid4())
    day.again("runs_secured", "", "Tied once more for the picture", verb="note")
    assert day.go.is_passed


def test_a_value_taken_back_again_leaves_what_the_go_was_given_for():
    day = Day()
    slip = day.again("torque", "plus_nm")
    assert not day.go.is_passed
    day.undo(slip, AFTER + dt.timedelta(minutes=1))
    assert day.go.is_passed


def test_an_optional_value_taken_back_after_the_go_closes_it():
    """A string fuse that is taken out again is another string; nothing asks for its size."""
    day = Day()
    subject = day.step("strings_built").subject
    fuse = day.again("strings_built", "fuse_a", 15.0, subject, after=dt.timedelta(hours=1))
    day.placed.sort(key=lambda each: each.done_at)
    day.placed = [replace(each, sequence=place) for place, each in enumerate(day.placed, start=1)]
    assert day.go.is_passed
    day.undo(fuse, AFTER)
    assert any("was taken back after Go at 14:05 by Alice Test" in words for words in day.told())


def test_the_day_is_named_where_it_is_another():
    day = Day()
    day.again("runs_secured", "secured", after=AFTER + dt.timedelta(days=1))
    assert any("after Go on Nov 26 at 14:05 by Alice Test" in words for words in day.told())


def test_a_second_tablet_is_judged_by_when_it_was_done_and_not_by_when_it_came():
    """Wired at 12:50 by a tablet that sends at 17:00: it was there at the Go. Wired at 14:05: it was not."""
    evening = DAY + dt.timedelta(hours=9)
    early, late = Day(), Day()
    early.again("runs_secured", "secured", after=dt.timedelta(hours=4, minutes=50), source="two", got=evening)
    late.again("runs_secured", "secured", source="two", got=evening)
    assert early.go.is_passed
    assert not late.go.is_passed


def test_a_go_on_the_first_tablet_after_rewiring_on_the_second_counts():
    day = Day()
    day.again("runs_secured", "secured", source="two", got=DAY + dt.timedelta(hours=9))
    day.give(dt.timedelta(hours=6, minutes=20))
    assert day.go.is_passed


def test_one_tablets_own_sequence_counts_more_than_its_clock():
    """The clock of the tablet was put back by hours after the Go: its sequence still tells the order."""
    day = Day()
    day.again("runs_secured", "secured", after=dt.timedelta(hours=3))
    assert not day.go.is_passed


def test_live_work_before_the_fresh_go_is_told_as_done_while_locked():
    day = Day()
    day.again("runs_secured", "secured")
    early = day.again("battery_live", "bus_v", after=AFTER + dt.timedelta(minutes=5))
    day.give(dt.timedelta(hours=6, minutes=20))
    good = day.again("battery_live", "bus_v", after=AFTER + dt.timedelta(minutes=30))
    told = done_while_locked(day.install, day.placed, Office(), lambda then: then)
    assert early.id in told
    assert good.id not in told


def test_a_job_without_a_go_has_nothing_to_give_again():
    assert rests_on(paper.job(frozenset({"reseal"})).steps) == ()


PLACES = """
import { places } from "./rules/work_order.js";
answer(data.map((events) => [...places(events)].sort((a, b) => a[1] - b[1]).map(([id]) => id)));
"""


@needs_node
def test_the_tablet_orders_the_work_as_the_server_does():
    """300 days of two tablets and the office, with counts and without, clocks that jump, late arrivals."""
    luck, cases, wanted = random.Random(3), [], []
    for _ in range(300):
        rows = [random_placed(luck, serial) for serial in range(1, luck.randint(2, 14))]
        cases.append([on_tablet(each) for each in rows])
        order = places(rows)
        wanted.append([str(name) for name in sorted(order, key=lambda name: order[name])])
    assert run_js(PLACES, cases) == wanted


def random_placed(luck: random.Random, serial: int) -> Placed:
    done = DAY + dt.timedelta(minutes=luck.randint(0, 12))
    source = luck.choice(["", "one", "two"])
    return Placed(
        event=Event(uuid.UUID(int=luck.getrandbits(128)), 7, "record", "a"),
        source=source,
        claimed_at=done + dt.timedelta(microseconds=serial),  # each moment its own visit
        done_at=done,
        received_at=DAY + dt.timedelta(minutes=luck.randint(0, 30)),
        serial=serial,
        sequence=luck.choice([None, luck.randint(1, 20)]) if source else None,
    )


def on_tablet(each: Placed) -> dict[str, Any]:
    return {
        "id": str(each.event.id), "step": 7, "from": each.source or None, "serial": each.serial,
        "done_at": each.done_at.isoformat(), "received_at": each.received_at.isoformat(),
        "sequence": each.sequence,
    }  # fmt: skip


def test_a_circuit_accepted_with_a_caution_is_asked_again_when_its_value_changes():
    """3 % of drop accepted at 12:59; the length recorded again at 14:05 may be 4 %: accept it again."""
    day = Day()
    day.install = replace(day.install, circuit_cautions=(("C3_drop", "C3, Voltage drop: caution"),))
    day.again("go", "caution_C3_drop", True, after=GO)
    assert day.go.is_passed
    day.again("torque", "plus_nm")
    assert not any("Accept C3" in words for words in day.told())
    day.again("wire_runs", "run_len_m", subject="circuit:1")
    assert any("Accept C3, Voltage drop: caution: missing" in words for words in day.told())
