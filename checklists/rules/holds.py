"""Works out what keeps a hold point shut, in words, and which steps are locked by it. Pure."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from checklists.plan.roles import PhaseRole, Role
from checklists.plan.steps import phases
from checklists.rules.install import Install, OverrideInfo, StepInfo
from checklists.rules.judging import FieldMark, Mark, is_no_worse
from checklists.rules.needs import Needs, asks_of, needs_of
from checklists.rules.reducer import canonical
from checklists.rules.seals import seal_count

#: The second person may not be the only one who worked in these phases.
_INSIDE_WORK: Final = frozenset(
    {
        PhaseRole.HOME_RUN,
        PhaseRole.BATTERY,
        PhaseRole.INVERTER,
        PhaseRole.INSIDE_RUNS,
        PhaseRole.BATTERY_DC,
        PhaseRole.AC_WIRING,
    }
)
#: Two batteries may not rest further apart than this before they are joined; common practice. [V]
REST_SPREAD_V: Final = 0.05


@dataclass(frozen=True, slots=True)
class OpenItem:
    """One thing that keeps a hold shut."""

    step: StepInfo
    sentence: str
    can_be_overridden: bool = True
    disputed: FieldMark | None = field(default=None, compare=False)  # its values are written by who shows it
    is_echo: bool = field(default=False, compare=False)  # only says that an earlier hold is shut
    lacks: str = field(default="", compare=False)  # the label of the field nobody filled in
    unsigned: str = field(default="", compare=False)  # whose signature it waits for
    failed: FieldMark | None = field(default=None, compare=False)  # the value that is let pass, or is not
    is_own_matter: bool = field(default=False, compare=False)  # mended or decided where it stands

    @property
    def words(self) -> str:
        """Return what it is told apart by, without the value."""
        return f"{self.step.code} {self.step.subject}: {self.sentence}"

    @property
    def key(self) -> str:
        """Return by what an override covers it: its words, and the value that was let pass."""
        return self.words if self.failed is None else f"{self.words} [{canonical(self.failed.value)}]"

    def is_covered_by(self, keys: Collection[str]) -> bool:
        """Return whether it was let pass as it stands: this value, or a better one, never a worse."""
        if not self.can_be_overridden or self.failed is None:
            return self.can_be_overridden and self.key in keys
        start = f"{self.words} ["
        told = [json.loads(key[len(start) : -1]) for key in keys if key.startswith(start)]
        return any(is_no_worse(self.failed, was) for was in told)


@dataclass(frozen=True, slots=True)
class Hold:
    """One hold point as it stands."""

    step: StepInfo
    items: tuple[OpenItem, ...]
    covered: tuple[OpenItem, ...]
    overrides: tuple[OverrideInfo, ...]

    @property
    def is_passed(self) -> bool:
        """Return whether the next phase may begin."""
        return not self.items

    @property
    def is_overridden(self) -> bool:
        """Return whether it passed only because the owner let it."""
        return self.is_passed and bool(self.covered)

    @property
    def can_be_overridden(self) -> bool:
        """Return whether the owner may let it pass as it stands."""
        return bool(self.items) and all(item.can_be_overridden for item in self.items)

    @property
    def never(self) -> tuple[OpenItem, ...]:
        """Return the items that no one may let pass."""
        return tuple(item for item in self.items if not item.can_be_overridden)


@dataclass(frozen=True, slots=True)
class PhaseStatus:
    """One phase: how far it is, and why it is locked if it is."""

    letter: str
    title: str
    is_inside: bool
    done: int
    total: int
    hold: Hold | None
    locks: tuple[str, ...]

    @property
    def is_locked(self) -> bool:
        """Return whether nothing may be recorded in it now."""
        return bool(self.locks)

    @property
    def is_done(self) -> bool:
        """Return whether every step and the hold are through."""
        return self.done == self.total and (self.hold is None or self.hold.is_passed)


def _shut_words(shut: Sequence[StepInfo]) -> Iterator[str]:
    """Yield which steps are waited for, holds first: the first of a kind by name, the others by number."""
    for is_hold, is_not, nor in ((True, "has not passed", "nor have"), (False, "is not done", "nor are")):
        found = [step for step in shut if step.is_hold == is_hold]
        others = [code for code in dict.fromkeys(step.code for step in found) if code != found[0].code]
        if found:
            yield f"{found[0].code} {found[0].title} {is_not}"
        if others:
            yield f"{nor} {', '.join(others)}"


class Holds:
    """The holds and locks of one install, worked out once."""

    def __init__(self, install: Install) -> None:
        self.install = install
        self._known: dict[int, Hold] = {}
        self._needs = needs_of(install.in_scope, install.template)
        self._asks = asks_of(install.in_scope, install.template)
        self.phases = phases(install.template)
        self.letters = [letter for letter in self.phases if install.of_phase(letter)]

    def of_phase(self, letter: str) -> Hold | None:
        """Return the hold that ends a phase; None when the phase has none in scope."""
        step = next((step for step in reversed(self.install.of_phase(letter)) if step.is_hold), None)
        return None if step is None else self.of_step(step)

    def of_step(self, step: StepInfo) -> Hold:
        """Return a hold as it stands."""
        if step.pk not in self._known:
            self._known[step.pk] = self._evaluated(step)
        return self._known[step.pk]

    def all(self) -> tuple[Hold, ...]:
        """Return every hold in scope, in order."""
        return tuple(self.of_step(step) for step in self.install.in_scope if step.is_hold)

    def needs(self, step: StepInfo) -> Needs:
        """Return what a step waits for, as the templates have it."""
        return self._needs.get(step.pk, Needs())

    def asks(self, hold: StepInfo) -> tuple[StepInfo, ...]:
        """Return the steps a hold looks at."""
        return self._asks.get(hold.pk, ())

    def locks(self, step: StepInfo) -> tuple[str, ...]:
        """Return why nothing may be recorded at a step now; empty when it is open."""
        waits = tuple(each for each in self._waited_for(step) if not self._is_done(each))
        return (*self._change_locks(step.phase), *_shut_words(waits))

    def phase_locks(self, letter: str) -> tuple[str, ...]:
        """Return why a phase is locked: what all of its steps that are still to do have in common."""
        steps = self.install.of_phase(letter)
        found = [self.locks(step) for step in [s for s in steps if not self._is_done(s)] or steps]
        if not found or not all(found):
            return ()
        common = tuple(words for words in found[0] if all(words in other for other in found))
        return common or found[0]

    def phase_statuses(self) -> tuple[PhaseStatus, ...]:
        """Return the phases of this job in order."""
        found = []
        for letter in self.letters:
            steps = [step for step in self.install.of_phase(letter) if step.asks_anything]
            hold = self.of_phase(letter)
            found.append(
                PhaseStatus(
                    letter=letter,
                    title=self.phases[letter].title,
                    is_inside=self.phases[letter].is_inside,
                    done=sum(self._is_done(step) for step in steps),
                    total=len(steps),
                    hold=hold,
                    locks=self.phase_locks(letter),
                )
            )
        return tuple(found)

    def _is_done(self, step: StepInfo) -> bool:
        if step.is_hold:
            return self.of_step(step).is_passed
        return self.install.mark(step).is_done

    def _change_locks(self, letter: str) -> Iterator[str]:
        for change in self.install.waiting_changes:
            if letter in change.locked_phases:
                yield f"Change order {change.number} waits for the customer's signature"

    def _waited_for(self, step: StepInfo) -> Iterator[StepInfo]:
        """Yield what a step waits for now. Work inside goes on past a roof that waits for the customer."""
        needs = self.needs(step)
        if needs.is_strict or not self.phases[step.phase].is_inside:
            yield from needs.steps
            return
        seen: set[int] = set()
        waiting = list(needs.steps)
        while waiting:
            each = waiting.pop(0)
            if each.pk in seen:
                continue
            seen.add(each.pk)
            if any(self._change_locks(each.phase)):
                waiting += self.needs(each).steps
            else:
                yield each

    def _evaluated(self, step: StepInfo) -> Hold:
        overrides = tuple(each for each in self.install.overrides if each.step == step.pk)
        covers = {key for each in overrides for key in each.covers}
        items = tuple(dict.fromkeys(self._strictly(step, self._items(step))))
        is_covered = {item: item.is_covered_by(covers) for item in items}
        return Hold(
            step=step,
            items=tuple(item for item in items if not is_covered[item]),
            covered=tuple(item for item in items if is_covered[item]),
            overrides=overrides,
        )

    def _strictly(self, hold: StepInfo, items: Iterator[OpenItem]) -> Iterator[OpenItem]:
        """Yield what is open; a strict hold lets nothing it looks at pass (first version: only itself).

        A deviation is decided where it stands: accepted there by the owner, it keeps no hold shut. So is it
        at the go, which nobody lets pass either for who has not read the lines.
        """
        is_first = self.install.safety_is_ticked
        is_strict = not hold.can_be_overridden and not is_first
        for item in items:
            is_decided_there = item.is_own_matter and hold.role == Role.GO and not is_first
            never = is_strict or is_decided_there
            yield replace(item, can_be_overridden=False) if never else item

    def _items(self, hold: StepInfo) -> Iterator[OpenItem]:
        for step in self.asks(hold):
            yield from self._open_fields(step)
        yield from self._unread(hold)
        yield from self._deviations(hold)
        for sentence in self.install.extra.get(hold.role, ()):
            yield OpenItem(hold, sentence)
        extra = _EXTRA.get(hold.role)
        if extra is not None:
            yield from extra(self, hold)

    def _unread(self, hold: StepInfo) -> Iterator[OpenItem]:
        """Yield who recorded in a phase without having read its safety lines there."""
        if self.install.safety_is_ticked:
            return
        letters = dict.fromkeys(step.phase for step in self.asks(hold))
        for letter in (each for each in letters if self.phases[each].safety):
            people = {
                name
                for step in self.asks(hold)
                if step.phase == letter
                for name in self.install.state(step).by_names
            }
            for name in sorted(people):
                if not self.install.has_read(letter, name):
                    words = f"{name} has not read the safety lines of {letter}"
                    yield OpenItem(hold, words, is_own_matter=True)

    def _open_fields(self, step: StepInfo) -> Iterator[OpenItem]:
        for found in self.install.mark(step).fields:
            if found.mark.is_open:
                is_blank = found.mark is Mark.MISSING and found.spec.kind != "photo"
                yield OpenItem(
                    step,
                    found.sentence,
                    step.can_be_overridden,
                    disputed=found if found.mark is Mark.CONFLICT else None,
                    lacks=found.spec.label if is_blank else "",
                    failed=found if found.mark is Mark.FAIL else None,
                )

    def _deviations(self, hold: StepInfo) -> Iterator[OpenItem]:
        """Yield the deviations that block: those of the steps this hold looks at, at the go all of them."""
        by_pk = {step.pk: step for step in self.install.steps}
        asked = {step.pk for step in self.asks(hold)}
        for deviation in self.install.deviations:
            step = by_pk.get(deviation.step or 0)
            is_here = hold.role == Role.GO or (step is not None and step.pk in asked)
            if deviation.blocks and is_here:
                where, may = step or hold, deviation.can_be_accepted
                yield OpenItem(where, deviation.sentence, may, is_own_matter=True)

    def _earlier_holds(self, hold: StepInfo) -> Iterator[OpenItem]:
        """Yield the holds that have not passed: each is opened where it is, not from here."""
        for step in self._before(hold):
            if step.is_hold and not self.of_step(step).is_passed:
                words = f"{step.title}: this hold has not passed"
                yield OpenItem(step, words, can_be_overridden=False, is_echo=True)

    def _before(self, hold: StepInfo) -> tuple[StepInfo, ...]:
        """Return the steps before a hold, in order."""
        steps = self.install.in_scope
        return steps[: steps.index(hold)]

    def _go(self, hold: StepInfo) -> Iterator[OpenItem]:
        yield from self._earlier_holds(hold)
        yield from self._second_person(hold)
        for change in self.install.rewired:
            yield OpenItem(change.step, change.sentence(self.install.time_zone), can_be_overridden=False)

    def _second_person(self, hold: StepInfo) -> Iterator[OpenItem]:
        step = self.install.step(Role.SECOND_PERSON)
        name = self.install.value(Role.SECOND_PERSON, "second_person")
        if step is None or not name:
            return
        hands = {
            person.casefold()
            for each in self.install.in_scope
            if each.phase_role in _INSIDE_WORK
            for person in self.install.state(each).by_names
        }
        if hands == {str(name).strip().casefold()}:
            yield OpenItem(step, f"{name} did the work: somebody else looks it over")

    def _counts(self, hold: StepInfo) -> Iterator[OpenItem]:
        for sentence in seal_count(self.install).sentences:
            yield OpenItem(hold, sentence)

    def _rest_volts(self, hold: StepInfo) -> Iterator[OpenItem]:
        batteries = self.install.of_role(Role.BATTERY)
        volts = {step: self.install.state(step)["rest_v"].value for step in batteries}
        known = [float(value) for value in volts.values() if value is not None]
        if len(known) > 1 and max(known) - min(known) > REST_SPREAD_V + 1e-9:
            spread = max(known) - min(known)
            step = next(iter(volts))
            yield OpenItem(step, f"Batteries rest {spread:.2f} V apart; join them only within 0.05 V")

    def _serials(self, hold: StepInfo) -> Iterator[OpenItem]:
        """Yield serials that were written down for two things."""
        seen: dict[str, StepInfo] = {}
        for step in self.install.in_scope:
            for found in self.install.mark(step).fields:
                if found.spec.kind != "serial" or not found.value or step.phase > hold.phase:
                    continue
                name = "".join(str(found.value).split()).casefold()
                if name in seen and seen[name].role == step.role and hold.phase == step.phase:
                    yield OpenItem(step, f"Serial {found.value} is also recorded at “{seen[name].title}”")
                seen.setdefault(name, step)

    def _battery(self, hold: StepInfo) -> Iterator[OpenItem]:
        yield from self._rest_volts(hold)
        yield from self._serials(hold)

    def _signatures(self, hold: StepInfo) -> Iterator[OpenItem]:
        for part in required_signatures(self.install, self):
            if part not in self.install.signed_parts:
                words = f"{_PART_WORDS[part]} has not signed"
                yield OpenItem(hold, words, can_be_overridden=False, unsigned=part)


_PART_WORDS: Final = {
    "technician": "The technician",
    "owner": "The owner",
    "licensed": "The licensed person",
    "customer": "The customer",
}
_Extra = Callable[[Holds, StepInfo], Iterator[OpenItem]]
_EXTRA: Final[Mapping[str, _Extra]] = {
    Role.LAYOUT_ACCEPTED: Holds._serials,
    Role.SEAL_COUNT: Holds._counts,
    Role.POLARITY_PROVEN: Holds._serials,
    Role.BATTERY_COMPLETE: Holds._battery,
    Role.GO: Holds._go,
    Role.SOURCES_SET: Holds._serials,
    Role.SIGN_OFF: Holds._signatures,
}


def required_signatures(install: Install, holds: Holds) -> tuple[str, ...]:
    """Return whose signatures the sheet needs; the owner's only where something was let pass."""
    parts = ["technician"]
    if install.of_role(Role.LICENSED_PERSON):
        parts.append("licensed")
    is_let_stand = any(each.state == "accepted" for each in install.deviations)
    others = (step for step in install.in_scope if step.is_hold and step.role != Role.SIGN_OFF)
    is_overridden = any(holds.of_step(step).covered for step in others)
    if is_let_stand or is_overridden:
        parts.append("owner")
    return (*parts, "customer")


def cautions(install: Install) -> tuple[tuple[StepInfo, str], ...]:
    """Return everything a caution was raised for: told on the sheet, keeps nothing shut."""
    return tuple(
        (step, found.sentence)
        for step in install.in_scope
        for found in install.mark(step).fields
        if found.mark is Mark.CAUTION and found.sentence
    )
