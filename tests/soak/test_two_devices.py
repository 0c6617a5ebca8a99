"""Two tablets, one job, clocks two hours apart, any schedule: one state, nothing lost, no clock decides.

The state is compared with the plain reference of ``tests/soak/model.py``.
"""

from __future__ import annotations

import contextlib
import json
import random
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from checklists.models import Checklist, StepEvent
from checklists.record.read import work_of
from common.guard import door_opened
from tests.roles import step_of
from tests.soak.broken import BUILDS
from tests.soak.model import Sent, standing
from tests.soak.tablet import Tablet
from tests.unit.checklists.conftest import second_list  # noqa: F401

WHO = st.sampled_from([0, 1])
WHERE = st.sampled_from([0, 1, 2])
SEED = st.integers(0, 10**6)


def machine(checklist: Checklist, people: list[Any], places: list[tuple[int, str, Any]]) -> type:
    """Return the machine on one job; ``people`` are signed-in clients, one a tablet."""
    url = reverse("checklists:events", args=[checklist.job_id])

    class TwoTablets(RuleBasedStateMachine):
        def __init__(self) -> None:
            super().__init__()
            with door_opened():
                StepEvent.objects.filter(checklist=checklist).delete()
            self.tablets = [Tablet("north", -1.0), Tablet("south", 1.0)]
            self.written: dict[str, Sent] = {}

        @rule(who=WHO, where=WHERE, nth=st.integers(0, 3))
        def record(self, who: int, where: int, nth: int) -> None:
            """Record at one of the places, replacing what this tablet sees there."""
            step, name, values = places[where]
            event = self.tablets[who].record(step, name, values[nth % len(values)])
            self.written[event["id"]] = event

        @rule(who=WHO, where=WHERE)
        def undo(self, who: int, where: int) -> None:
            """Take back what stands, as far as this tablet knows."""
            step, name, _ = places[where]
            for seen in sorted(self.tablets[who].stands(step, name)):
                event = self.tablets[who].record(step, "", None, verb="undo", undoes=seen)
                self.written[event["id"]] = event

        @rule(who=WHO, hours=st.floats(-3, 3))
        def clock_moves(self, who: int, hours: float) -> None:
            """Somebody sets the clock of a tablet."""
            self.tablets[who].skew_h += hours

        @rule(who=WHO, seed=SEED, answer_lost=st.booleans())
        def send(self, who: int, seed: int, answer_lost: bool) -> None:
            """Send a part of the outbox in any order, some of it twice; the answer may be lost."""
            tablet, chance = self.tablets[who], random.Random(seed)
            if not tablet.outbox:
                return
            events = chance.sample(tablet.outbox, chance.randint(1, len(tablet.outbox)))
            answer = self._post(who, events + events[: chance.randint(0, 1)])
            if not answer_lost:
                tablet.sent(answer)

        @rule(who=WHO)
        def fetch(self, who: int) -> None:
            """Ask what others did."""
            self.tablets[who].merge(people[who].get(url, {"after": self.tablets[who].cursor}).json())

        @invariant()
        def nothing_is_in_no_place(self) -> None:
            """Everything written is in an outbox or on the server."""
            waiting = {event["id"] for tablet in self.tablets for event in tablet.outbox}
            stored = {str(name) for name in StepEvent.objects.values_list("pk", flat=True)}
            assert set(self.written) <= waiting | stored

        def _post(self, who: int, events: list[Sent]) -> dict[str, Any]:
            body = json.dumps(self.tablets[who].batch(events))
            answer = people[who].post(url, body, content_type="application/json")
            assert answer.status_code == 200, answer.content
            return answer.json()

        def teardown(self) -> None:
            """Bring all together and compare."""
            for who, tablet in enumerate(self.tablets):
                if tablet.outbox:
                    tablet.sent(self._post(who, tablet.outbox))
            for who in (0, 1):
                self.fetch(who)
            wanted = standing(self.written.values())
            rows = list(StepEvent.objects.filter(checklist=checklist))
            assert sorted(str(row.pk) for row in rows) == sorted(self.written), "lost or doubled"
            for tablet in self.tablets:
                assert not tablet.outbox
                assert standing(tablet.known.values()) == wanted, f"{tablet.name} knows another state"
            assert server_state(checklist) == wanted, "the server knows another state"

    return TwoTablets


def server_state(checklist: Checklist) -> dict[tuple[int, str], frozenset[str]]:
    """Return what stands on the server, as its pages show it."""
    work = work_of(Checklist.objects.select_related("job__shop", "design", "run").get(pk=checklist.pk))
    return {
        (step.pk, name): frozenset(str(event.id) for event in own.standing)
        for step in work.install.steps
        for name, own in work.install.state(step).fields.items()
        if own.standing
    }


@pytest.fixture
def schedules(second_list, client_of, bob, lena):  # noqa: F811
    """Return a runner of so many random schedules."""
    tried, rest, shore = (
        step_of(second_list, role).pk for role in ("works_before", "battery_before", "shore_before")
    )
    places = [
        (tried, "tried", ["road_lights"]),
        (rest, "rest_v", [12.1, 12.4, 12.6, 12.9]),
        (shore, "polarity", ["correct", "reversed"]),
    ]

    def run(count: int, length: int) -> None:
        made = machine(second_list, [client_of(bob), client_of(lena)], places)
        run_state_machine_as_test(
            made,
            settings=settings(
                max_examples=count, stateful_step_count=length, deadline=None, database=None,
                suppress_health_check=list(HealthCheck), print_blob=False, phases=[Phase.generate],
                report_multiple_bugs=False,
            ),
        )  # fmt: skip

    return run


def test_any_schedule_ends_in_one_state_and_broken_builds_are_found(schedules):
    schedules(6, 10)
    for build in ("no_unique_key", "no_commit", "device_clock"):
        with contextlib.ExitStack() as broken:
            for patch in BUILDS[build]():
                broken.enter_context(patch)
            with pytest.raises((AssertionError, ExceptionGroup)):
                schedules(200, 20)  # ends with the first that fails


@pytest.mark.full
def test_a_thousand_schedules_end_in_one_state(schedules):
    schedules(1000, 25)
