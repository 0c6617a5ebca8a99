"""Knows how one install is put to the server's rules and to the tablet's, with the same random work on it."""

from __future__ import annotations

import datetime as dt
import math
import random
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from typing import Any

import sizing
from checklists.plan.roles import Role
from checklists.plan.steps import phases
from checklists.plan.templates import aliases
from checklists.record.deviations import NEVER_ACCEPTED, _step_for
from checklists.rules.as_built import as_built_values
from checklists.rules.cautions import CircuitCaution, circuit_cautions
from checklists.rules.choices import SUITED, Contradiction, contradictions
from checklists.rules.fields import CAUTION, FieldSpec
from checklists.rules.holds import Holds
from checklists.rules.install import DeviationInfo, Install, OverrideInfo, StepInfo, WaitingChange
from checklists.rules.readings import alike_checks, judge_readings
from checklists.rules.reducer import Event, FieldState, StepState, reduce_events
from checklists.rules.seals import seal_count
from checklists.tables.parts import Job
from checklists.tablet.download import said_of

PEOPLE = [("Bob Test", "technician"), ("Lena Test", "lead_technician"), ("Ada Test", "technician")]
NOW = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
ZONE = "America/Denver"
ACCEPTED = ("C3_interrupting", "C2_drop", "C10_interrupting", "C11_interrupting", "C6_drop")
STEP_KEYS = (
    "pk", "code", "subject", "title", "instruction", "is_hold", "needs_lead", "is_in_scope",
    "can_be_overridden", "since_design", "phase",
)  # fmt: skip


def payload(
    steps: list[Any],
    install: Install,
    sums: dict[str, Any],
    cautions: Iterable[CircuitCaution] = (),
) -> dict[str, Any]:
    """Return a job as a tablet takes it along."""
    holds = Holds(install)
    infos = {step.pk: step for step in install.steps}
    return {
        "steps": [_step(step) | said_of(infos[step.pk], holds) for step in steps],
        "facts": dict(install.facts),
        "shop": {"time_zone": ZONE},
        "safety_ticks": install.safety_is_ticked,
        "aliases": aliases(install.template),
        "phases": [
            {"letter": one.letter, "role": one.role, "is_inside": one.is_inside, "safety": list(one.safety)}
            for one in phases(install.template).values()
        ],
        "sums": sums,
        "suited": SUITED,
        "circuit_cautions": [asdict(each) for each in cautions],
        "overrides": [],
        "deviations": [],
        "waiting_changes": [],
        "as_built": {},
        "as_built_problem": "",
    }


def _step(step: Any) -> dict[str, Any]:
    return {key: getattr(step, key) for key in STEP_KEYS} | {"fields": step.fields}


def random_events(infos: tuple[StepInfo, ...], rng: random.Random, share: float) -> list[Event]:
    """Return what people might have recorded: right, wrong, twice, without seeing each other, and undone."""
    events = list(_safety_read(infos, rng, share))
    for step in infos:
        for spec in _written_out(step) if step.is_in_scope else ():
            if rng.random() > (0.02 if spec.name.startswith("not_here") else share):
                continue
            first = _event(step, spec, rng)
            events.append(first)
            dice = rng.random()
            if dice < 0.04:
                events.append(_event(step, spec, rng))
            elif dice < 0.08:
                events.append(replace(_event(step, spec, rng), replaces=frozenset({first.id})))
            elif dice < 0.1:
                undo = Event(id=_uuid(rng), step=step.pk, verb="undo", undoes=first.id)
                events.append(undo)
    return [*events, *_accepted(infos, random.Random(len(events)), share)]


def rewired(infos: tuple[StepInfo, ...], events: list[Event], rng: random.Random) -> list[Event]:
    """Return the work with values recorded again and taken back at its end, some before another Go."""
    rests = {step.pk: step for step in infos if step.is_in_scope and step.phase < "L"}
    old = [each for each in events if each.verb == "record" and each.step in rests]
    go = next((step for step in infos if step.role == Role.GO), None)
    out = list(events)
    for first in rng.sample(old, min(len(old), rng.choice([0, 0, 1, 2, 4]))):
        if rng.random() < 0.3:
            out.append(replace(first, id=_uuid(rng), verb="undo", value=None, photo=None, undoes=first.id))
            continue
        again = replace(first, id=_uuid(rng), by_name=rng.choice(PEOPLE)[0], replaces=frozenset({first.id}))
        out.append(replace(again, photo=again.photo and _uuid(rng)))
        if go and rng.random() < 0.3:
            out.append(_event(go, next(spec for spec in go.specs if spec.name == "go"), rng))
    start = NOW - dt.timedelta(hours=4)
    return [replace(e, done_at=start + dt.timedelta(minutes=n / 2)) for n, e in enumerate(out)]


def _accepted(infos: tuple[StepInfo, ...], rng: random.Random, share: float) -> Iterator[Event]:
    """Yield which circuits with a caution were accepted at the go, by whoever stood there."""
    for step in infos:
        for spec in step.specs:
            for name in ACCEPTED if spec.repeat == CAUTION and step.is_in_scope else ():
                if rng.random() < share:
                    yield _event(step, replace(spec, name=f"{spec.name}_{name}", repeat=""), rng)


def _safety_read(infos: tuple[StepInfo, ...], rng: random.Random, share: float) -> Iterator[Event]:
    """Yield who read the safety lines of which phase: nearly all of them, as a day goes."""
    for letter in sorted({step.phase for step in infos}):
        steps = [step for step in infos if step.phase == letter and step.is_in_scope]
        for name, role in PEOPLE:
            if steps and rng.random() < share:
                yield Event(
                    id=_uuid(rng), step=rng.choice(steps).pk, verb="safety", value="2026-11-25",
                    by_name=name, by_role=role,
                )  # fmt: skip


def _written_out(step: StepInfo) -> list[FieldSpec]:
    out = []
    for spec in step.specs:
        if spec.repeat == CAUTION:
            continue  # accepted by name below
        if spec.repeat:
            out += [replace(spec, name=f"{spec.name}_{n}", repeat="") for n in range(1, 8)]
        else:
            out.append(spec)
    return out


def _uuid(rng: random.Random) -> uuid.UUID:
    return uuid.UUID(int=rng.getrandbits(128))


def _event(step: StepInfo, spec: FieldSpec, rng: random.Random) -> Event:
    name, role = rng.choice(PEOPLE)
    return Event(
        id=_uuid(rng),
        step=step.pk,
        verb="record",
        field=spec.name,
        value=None if spec.is_photo else _value(spec, rng),
        photo=_uuid(rng) if spec.is_photo else None,
        by_name=name,
        by_role=role,
        design_number=rng.choice([1, 1, 1, 2]),
        received_at=NOW + dt.timedelta(hours=rng.randint(0, 60)),
    )


def _value(spec: FieldSpec, rng: random.Random) -> Any:
    if spec.kind == "tick":
        return True
    if spec.kind == "choice":
        good = spec.accept or ([spec.expected] if spec.expected else [])
        known = [value for value, _ in spec.choices]
        return rng.choice(list(good)) if good and rng.random() < 0.7 else rng.choice(known)
    if spec.kind in {"lines", "several"}:
        return _ticked(spec, rng)
    if spec.kind == "signature":
        return {"name": "Pat Test", "ink": ""}
    if spec.kind == "number":
        return _number(spec, rng)
    if spec.format == "month":
        return rng.choice(["2026-10", "2026-11", "2027-03"])
    if spec.format == "date":
        return "2027-03-31"
    if spec.matches == "expected" and spec.expected and rng.random() < 0.7:
        return spec.expected
    return rng.choice(["one", "One ", "other", "A 12", "a12", "Bob Test"])


def _ticked(spec: FieldSpec, rng: random.Random) -> str:
    if spec.kind == "several" and rng.random() < 0.6:
        return "none"
    keys = [key for key, _ in spec.lines or spec.choices]
    if rng.random() < 0.85:
        return ",".join(keys)
    if spec.ordered:
        return ",".join(keys[: rng.randint(1, len(keys))])
    return ",".join(key for key in keys if rng.random() < 0.5) or keys[0]


def _number(spec: FieldSpec, rng: random.Random) -> float | int:
    low, high = spec.min or 0.0, 100.0 if spec.max is None else spec.max
    near = [x for x in (spec.expected, spec.low, spec.high, spec.tick) if isinstance(x, int | float)]
    if near and rng.random() < 0.75:
        value = rng.choice(near) * rng.choice([1.0, 1.0, 1.0, 0.98, 1.04, 1.2, 0.7])
    elif spec.name in SENSIBLE and rng.random() < 0.8:
        value = rng.uniform(*SENSIBLE[spec.name])
    else:
        value = low + (high - low) * rng.random() ** 3
    value = round(value) if spec.whole else round(value, rng.choice([0, 1, 2, 3]))
    return min(max(value, int(low)), int(high)) if spec.whole else min(max(value, low), high)


#: What meters usually show, so that most readings are near what is expected.
SENSIBLE = {
    "g_wm2": (300.0, 1100.0), "t_cell_c": (0.0, 65.0), "voc_v": (30.0, 60.0), "isc_a": (3.0, 11.0),
    "battery_v": (12.0, 14.6), "battery_a": (0.0, 50.0), "combiner_v": (36.0, 40.0),
    "controller_v": (35.0, 40.0), "pv_a": (1.0, 20.0), "resistance_mohm": (0.1, 3.0), "cure_h": (2.0, 30.0),
    "temp_air_c": (0.0, 30.0), "rh_percent": (10.0, 70.0), "moisture_percent": (5.0, 22.0),
    "rest_v": (13.2, 13.3), "foot": (3, 4), "feet": (3, 6), "holes": (0, 20), "bundle_count": (1, 12),
}  # fmt: skip


def to_state(states: dict[int, StepState]) -> list[list[Any]]:
    """Return the states as pairs for a Map of the tablet."""
    return [
        [
            pk,
            {
                "fields": {name: _field(own) for name, own in state.fields.items()},
                "notes": [],
                "acks": [{"by_name": event.by_name, "value": event.value} for event in state.acks],
                "takenBack": [[_taken(was), _taken(undo)] for was, undo in state.taken_back],
            },
        ]
        for pk, state in states.items()
    ]


def _taken(event: Event) -> dict[str, Any]:
    """Return a value that was taken back, or its undo, as the tablet keeps it."""
    return {
        "id": str(event.id),
        "verb": event.verb,
        "field": event.field,
        "photo": str(event.photo) if event.photo else None,
        "by_name": event.by_name,
        "done_at": event.done_at.isoformat() if event.done_at else None,
    }


def _field(own: FieldState) -> dict[str, Any]:
    return {
        "standing": [
            {
                "id": str(event.id),
                "value": event.value,
                "photo": str(event.photo) if event.photo else None,
                "by_name": event.by_name,
                "by_role": event.by_role,
                "received_at": event.received_at.isoformat() if event.received_at else None,
                "done_at": event.done_at.isoformat() if event.done_at else None,
                "design_number": event.design_number,
            }
            for event in own.standing
        ],
        "values": list(own.values),
        "value": own.value,
        "photos": [str(photo) for photo in own.photos],
        "isConflict": own.is_conflict,
    }


class Office:
    """The server's own rules on one install, without its database."""

    def __init__(self, install: Install, job: Job, before: Any) -> None:
        self.infos, self.facts, self.template = install.steps, install.facts, install.template
        self.job, self.before = job, before

    def judged(self, events: list[Event], **more: Any) -> Install:
        """Return the install with deviations raised and readings judged, as the server would."""
        states = reduce_events(events)
        order = {event.id: place for place, event in enumerate(events)}
        install = Install(
            steps=self.infos, states=states, facts=self.facts, template=self.template,
            order=order, time_zone=ZONE, **more,
        )  # fmt: skip
        values = as_built_values(install)
        problem = self.job.refusal(values)
        system = self.job.built({} if problem else values)
        result = sizing.size_system(system)
        found = [] if problem or not values else list(self._raised(install, result))
        found += [_chosen(each) for each in contradictions(install)]
        begun = any(
            install.state(step).fields for step in install.in_scope for spec in step.specs if spec.judge
        )
        alike = [c.sentence for c in alike_checks(install, system) if c.verdict is sizing.Verdict.BLOCK]
        extra = {Role.GO: (f"Values as built: {problem}",)} if problem else {}
        checks = [{"key": c.key, "verdict": c.verdict, "title": c.title} for c in result.checks]
        asks = any(spec.repeat == CAUTION for step in self.infos for spec in step.specs)
        cautions = circuit_cautions(checks) if asks else []
        return replace(
            install,
            circuit_cautions=tuple((each.name, each.words) for each in cautions),
            deviations=tuple(found),
            judged=judge_readings(install, system, result) if begun else {},
            extra={**extra, Role.READINGS_PASS: tuple(alike)} if begun else extra,
        )

    def _raised(self, install: Install, result: sizing.SystemResult) -> Any:
        for each in sizing.compare_checks(self.before, result.checks):
            if each.kind is sizing.DeviationKind.CLEARED:
                continue
            step = _step_for(install, each.after.subject, set())
            yield DeviationInfo(
                pk=0, step=step.pk if step else None, title=each.title, sentence=each.sentence,
                blocks=each.after.verdict is sizing.Verdict.BLOCK, state="open",
                can_be_accepted=not each.key.endswith(NEVER_ACCEPTED),
            )  # fmt: skip


def _chosen(found: Contradiction) -> DeviationInfo:
    return DeviationInfo(
        pk=0, step=found.step, title=found.title, sentence=found.sentence, blocks=True, state="open",
        can_be_accepted=True,
    )  # fmt: skip


def answer_of(install: Install) -> dict[str, Any]:
    """Return what the server says: marks, locks, what keeps each hold shut, seals."""
    holds = Holds(install)
    seals = seal_count(install)
    told = {each.sentence for each in install.deviations}
    return {
        "marks": {str(step.pk): _marks(install, step) for step in install.in_scope},
        "locks": {str(step.pk): list(holds.locks(step)) for step in install.in_scope},
        "phases": {letter: list(holds.phase_locks(letter)) for letter in holds.letters},
        "holds": {
            hold.step.code: sorted(f"{i.step.pk}: {i.sentence}" for i in hold.items if i.sentence not in told)
            for hold in holds.all()
        },
        "covered": {hold.step.code: len(hold.covered) for hold in holds.all()},
        "blocking": sorted(each.title for each in install.deviations if each.blocks),
        "seals": [list(seals.sentences), str(seals.check.verdict), seals.made],
    }


def _marks(install: Install, step: StepInfo) -> list[Any]:
    mark = install.mark(step)
    fields = {
        found.spec.name: [str(found.mark), found.sentence, found.low, found.high, _plain(found.expected)]
        for found in mark.fields
    }
    return [str(mark.mark), fields]


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _another(key: str, rng: random.Random) -> str:
    """Return what was let pass: sometimes another number than stands now, a worse or a better one."""
    start, found, value = key.rpartition(" [")
    try:
        number = float(value.removesuffix("]")) if found else None
    except ValueError:
        number = None
    if number is None or rng.random() < 0.4:
        return key
    return f"{start} [{number * rng.choice([0.5, 0.9, 1.1, 2.0])!r}]"


def random_more(infos: tuple[StepInfo, ...], rng: random.Random, install: Install) -> dict[str, Any]:
    """Return overrides and waiting change orders that may stand beside the work."""
    more: dict[str, Any] = {}
    if rng.random() < 0.2:
        more["waiting_changes"] = (WaitingChange(3, tuple(rng.sample("CDE", 2))),)
    holds = [hold for hold in Holds(install).all() if hold.items]
    if holds and rng.random() < 0.5:
        hold = rng.choice(holds)
        told = {each.sentence for each in install.deviations}
        fair = [item for item in hold.items if item.sentence not in told]
        other = random.Random(len(fair))
        covers = frozenset(_another(item.key, other) for item in fair if rng.random() < 0.9)
        more["overrides"] = (OverrideInfo(hold.step.pk, "Alice Test", "The owner looked at it.", covers),)
    return more
