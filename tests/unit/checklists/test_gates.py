"""No energized work before the Go, and make-safe first: for every set of switches a job can have.

The order is the trade's (de-energize, prove it, build, test, then one source at a time): 29 CFR
1910.333(a)(1), (b)(2), NFPA 70E 120.6; IEC 62446-1 for the order of tests. A job is worked through as a
careful crew would: everything that is open is done and passes, again and again, until nothing more opens.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import pytest

from checklists.plan.roles import PhaseRole
from checklists.rules.holds import Holds
from checklists.rules.install import Install, StepInfo
from tests.unit.checklists import paper_job as paper

SCOPES = sorted(paper.scopes(), key=sorted)
#: Nothing is built before these phases have begun to be safe.
BUILT = frozenset(
    {
        PhaseRole.LAYOUT, PhaseRole.MOUNT_SEAL, PhaseRole.ROOF_WIRING, PhaseRole.INSIDE_RUNS,
        PhaseRole.BATTERY_DC, PhaseRole.AC_WIRING,
    }
)  # fmt: skip
#: Where something is switched on: whatever the data says of single steps.
LIVE = frozenset({PhaseRole.BATTERY_ON, PhaseRole.SOURCES_ON})
Left = Callable[[StepInfo], bool]


def name(scope: frozenset[str]) -> str:
    return "+".join(sorted(scope))


def worked(install: Install, left: Left) -> tuple[Install, set[int]]:
    """Work a job through but for the steps left out; return it, and every step that was open at some time."""
    reached: set[int] = set()
    while True:
        holds = Holds(install)
        now = [step for step in install.in_scope if not holds.locks(step)]
        fresh = [step for step in now if step.pk not in install.states and not left(step)]
        reached |= {step.pk for step in now}
        if not fresh:
            return install, reached
        install = paper.with_done(install, fresh)


def is_live(step: StepInfo) -> bool:
    return step.traits.is_live or step.phase_role in LIVE


@functools.cache
def ended(scope: frozenset[str]) -> Install:
    """Return the job with all done."""
    return worked(paper.job(scope), lambda step: False)[0]


@pytest.mark.parametrize("scope", SCOPES, ids=name)
def test_nothing_live_is_reached_before_the_go(scope):
    install = paper.job(scope)
    live = {step.pk for step in install.in_scope if is_live(step)}
    assert bool(live) == bool(scope & {"panels", "battery"})
    assert not worked(install, lambda step: step.role == "go")[1] & live


@pytest.mark.parametrize("scope", SCOPES, ids=name)
def test_any_single_step_left_out_or_undone_before_the_go_keeps_everything_live_shut(scope):
    """All else is done: no step up to the go may be skipped, and a hold that re-opens shuts again."""
    install = ended(scope)
    live = [step for step in install.in_scope if is_live(step)]
    go = next((step for step in install.in_scope if step.role == "go"), None)
    asked = [step for step in install.in_scope if go and step.phase <= go.phase and is_asked(step)]
    assert bool(asked) == bool(live)
    for left in asked:
        states = {pk: state for pk, state in install.states.items() if pk != left.pk}
        holds = Holds(paper.with_states(install, states))
        assert all(holds.locks(step) for step in live), (left.code, left.subject)


def is_asked(step: StepInfo) -> bool:
    return any(spec.required for spec in step.specs)


@pytest.mark.parametrize("scope", SCOPES, ids=name)
def test_every_job_can_be_worked_to_its_end(scope):
    """Locks that wait for one another would stop a crew: every step is reached, every hold passes."""
    install, reached = worked(paper.job(scope), lambda step: False)
    assert [step.code for step in install.in_scope if step.pk not in reached] == []
    shut = {hold.step.code: [item.sentence for item in hold.items] for hold in Holds(install).all()}
    assert {code: items for code, items in shut.items() if items} == {}


@pytest.mark.parametrize("scope", SCOPES, ids=name)
def test_nothing_is_built_before_the_job_is_made_safe(scope):
    """Vehicle held, way up secured, all off and locked, proven dead where anything electric is built."""
    install = paper.job(scope)
    safe = {"vehicle_held", "locked_out"}
    safe |= {"roof_access"} if scope & {"panels", "reseal"} else set()
    safe |= {"proven_dead"} if scope & {"panels", "battery"} else set()
    asked = {step.role for step in install.in_scope if step.phase_role is PhaseRole.MAKE_SAFE}
    assert asked == safe
    built = {step.pk for step in install.in_scope if step.phase_role in BUILT}
    roof = {step.pk for step in install.in_scope if is_on_roof(step)}
    for role in safe:
        _, reached = worked(install, lambda step, role=role: step.role == role)
        hurt = roof if role == "roof_access" else built | roof
        assert not reached & hurt, (role, name(scope))


def is_on_roof(step: StepInfo) -> bool:
    """Return whether the work is on the roof: whoever goes up there is told so."""
    return any("Fall protection on" in line for line in step.traits.safety) and step.role not in OFF_ROOF


#: Steps of the roof phases that are done on the ground, and the way up itself.
OFF_ROOF = frozenset({"roof_access", "go", "road_ready", "release", "top_up"})


@pytest.mark.parametrize("scope", SCOPES, ids=name)
def test_no_one_may_let_a_strict_step_pass(scope):
    install = paper.job(scope)
    for hold in Holds(install).all():
        for item in hold.items:
            assert item.step.can_be_overridden or not item.can_be_overridden
