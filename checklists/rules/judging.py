"""Judges whether what stands at a field is there, in its band, and undisputed; says so in words.

Pure. Words show numbers in SI: pages that print a band print it themselves, in the shop's units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any, Final, NamedTuple

from checklists.rules.fields import (
    CHOICE,
    LINES,
    NOT_HERE,
    NUMBER,
    PHOTO,
    SEVERAL,
    TICK,
    FieldSpec,
    keys_of,
)
from checklists.rules.ink import ink_words, is_ink
from checklists.rules.reducer import EMPTY, FieldState, StepState, canonical
from common.units import with_unit

#: A value this close to its limit keeps to it, so that 0.1 + 0.2 does not exceed 0.3. [-]
_SLACK: Final = 1e-9
OWNER: Final = "owner"
LEADS: Final = frozenset({OWNER, "lead_technician"})
#: How a person named confirms it: signed in.
SELF: Final = "self"


class Mark(StrEnum):
    """What can be said of one field, or of a step as a whole."""

    OK = "ok"
    BLANK = "blank"  # nothing recorded, nothing asked
    MISSING = "missing"
    CAUTION = "caution"
    FAIL = "fail"
    CONFLICT = "conflict"

    @property
    def is_open(self) -> bool:
        """Return whether it keeps a hold shut."""
        return self in {Mark.MISSING, Mark.FAIL, Mark.CONFLICT}


_WORST: Final = (Mark.CONFLICT, Mark.FAIL, Mark.MISSING, Mark.CAUTION, Mark.OK, Mark.BLANK)


@dataclass(frozen=True, slots=True)
class Judged:
    """What the sizing face or a counting rule says of one reading: expected value, band, verdict, words."""

    mark: Mark
    sentence: str = ""
    expected: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class FieldMark:
    """One field with what stands there, what was asked and what that makes of it."""

    spec: FieldSpec
    state: FieldState
    mark: Mark
    sentence: str = ""
    expected: Any = None
    low: float | None = None
    high: float | None = None
    suggests_change_order: bool = False

    @property
    def value(self) -> Any:
        """Return the one value that stands."""
        return self.state.value


@dataclass(frozen=True, slots=True)
class StepMark:
    """One step as a whole."""

    mark: Mark
    fields: tuple[FieldMark, ...] = ()
    sentences: tuple[str, ...] = field(default_factory=tuple)

    @property
    def is_done(self) -> bool:
        """Return whether nothing is missing, failed or disputed."""
        return not self.mark.is_open

    @property
    def is_begun(self) -> bool:
        """Return whether anything stands here."""
        return any(found.state.is_recorded for found in self.fields)

    def __getitem__(self, name: str) -> FieldMark:
        return next(found for found in self.fields if found.spec.name == name)


@dataclass(frozen=True, slots=True)
class Asks:
    """From whom a step counts: a lead for its ticks, a lead to leave it out, the licensed person by name.

    A licensed person without a sign-in is recorded for by a lead: ``licensed_by_lead``.
    """

    lead: bool = False
    lead_to_leave_out: bool = False
    licensed: str | None = None
    licensed_by_lead: bool = False


def judge_step(
    specs: tuple[FieldSpec, ...],
    state: StepState = EMPTY,
    *,
    asks: Asks = Asks(),
    judged: Mapping[str, Judged] | None = None,
    outdated: Mapping[str, int] | None = None,
) -> StepMark:
    """Return what stands at a step; ``judged`` brings the verdicts on readings, by field name.

    ``outdated`` names the fields recorded only on an earlier design revision, with its number.
    """
    marks = tuple(judge_field(spec, state, (judged or {}).get(spec.name)) for spec in specs)
    if outdated:
        marks = tuple(_asked_anew(found, outdated) for found in marks)
    if state[NOT_HERE].value is not None:
        marks = tuple(_not_here(found, asks) for found in marks)
    if asks.lead:
        marks = tuple(_by_lead(found) for found in marks)
    if asks.licensed is not None:
        marks = tuple(_by_licensed(found, asks) for found in marks)
    worst = min((found.mark for found in marks), key=_WORST.index, default=Mark.OK)
    if worst is Mark.BLANK:
        worst = Mark.OK
    return StepMark(
        mark=worst, fields=marks, sentences=tuple(found.sentence for found in marks if found.sentence)
    )


def judge_field(spec: FieldSpec, state: StepState, judged: Judged | None = None) -> FieldMark:
    """Return what stands at one field."""
    own = state[spec.name]
    low, high = _band(spec, state, judged)
    if spec.is_photo:
        found = _photos(spec, own, state)
    elif own.is_conflict:
        found = _Found(Mark.CONFLICT, conflict_words(spec, own, lambda value: show_value(spec, value)))
    elif own.value in (None, "") or (spec.kind == TICK and own.value is not True):
        found = _absent(spec, state)
    elif spec.kind == LINES and (left := _unticked(spec, own)) is not None and _is_required(spec, state):
        found = _Found(Mark.MISSING, f"{spec.label}: “{left}” is not ticked")
    else:
        words = _complaint(spec, state, low, high, judged)
        found = _complained(spec, state, words) if words else _accepted(spec, own, judged)
    expected = judged.expected if judged and judged.expected is not None else spec.expected
    return FieldMark(spec, own, found.mark, found.sentence, expected, low, high, found.suggests_change_order)


class _Found(NamedTuple):
    """What is made of one field, in words."""

    mark: Mark
    sentence: str = ""
    suggests_change_order: bool = False


def _unticked(spec: FieldSpec, own: FieldState) -> str | None:
    """Return the first line that is not ticked, None where all are."""
    ticked = keys_of(own.value)
    return next((text for key, text in spec.lines if key not in ticked), None)


def _photos(spec: FieldSpec, own: FieldState, state: StepState) -> _Found:
    have = len(own.photos)
    if have >= spec.count or (not _is_required(spec, state) and not have):
        return _Found(Mark.OK if have else Mark.BLANK)
    missing = spec.count - have
    return _Found(Mark.MISSING, f"{spec.label}: {missing} {'photo' if missing == 1 else 'photos'} missing")


def _absent(spec: FieldSpec, state: StepState) -> _Found:
    if _is_required(spec, state):
        if spec.kind == LINES and spec.lines:
            return _Found(Mark.MISSING, f"{spec.label}: “{spec.lines[0][1]}” is not ticked")
        return _Found(Mark.MISSING, f"{spec.label}: missing")
    return _Found(Mark.BLANK)


def _accepted(spec: FieldSpec, own: FieldState, judged: Judged | None) -> _Found:
    """Return the mark of a value with nothing wrong; a caution says what is to be known of it."""
    quiet = judged.sentence if judged and judged.mark is Mark.CAUTION else _short_count(spec, own.value)
    return _Found(Mark.CAUTION, f"{spec.label}: {quiet}") if quiet else _Found(Mark.OK)


def _complained(spec: FieldSpec, state: StepState, words: str) -> _Found:
    """Return what a value that is not right does: it keeps the hold shut unless the step says otherwise."""
    if spec.excused_by and _is_excused(spec, state[spec.excused_by]):
        return _Found(Mark.CAUTION, words)
    suggests = spec.on_fail in {"change_order", "hold_order"}
    return _Found(Mark.FAIL if spec.on_fail in {"hold", "hold_order"} else Mark.CAUTION, words, suggests)


def _is_excused(spec: FieldSpec, reason: FieldState) -> bool:
    """Return whether the field with a reason excuses a value: some count only from a lead."""
    is_heard = not spec.excused_by_lead or any(event.by_role in LEADS for event in reason.standing)
    return reason.value not in (None, "") and is_heard


def _short_count(spec: FieldSpec, value: Any) -> str:
    """Return how a count differs from the whole; the hold counts, this only tells at once."""
    return "" if spec.tick is None or value == spec.tick else f"{value:g} of {spec.tick:g}"


def _is_required(spec: FieldSpec, state: StepState) -> bool:
    if spec.required_if is not None:
        other, wanted = state[spec.required_if["field"]].value, spec.required_if["is"]
        answers = wanted if isinstance(wanted, list | tuple) else (wanted,)
        return other in answers or (isinstance(other, str) and not set(answers).isdisjoint(keys_of(other)))
    return spec.required


def _band(spec: FieldSpec, state: StepState, judged: Judged | None) -> tuple[float | None, float | None]:
    """Return the acceptance band, as far as it is known yet."""
    low, high = spec.low, spec.high
    if judged is not None and (judged.low is not None or judged.high is not None):
        low, high = judged.low, judged.high
    if spec.low_from is not None:
        low = _from_other(spec.low_from, state, low)
    if spec.high_from is not None:
        high = _from_other(spec.high_from, state, high)
    if spec.around is not None:
        middle = state[spec.around["field"]].value
        if isinstance(middle, int | float):
            width = middle * spec.around["tolerance_fraction"]
            low, high = middle - width, middle + width
    return low, high


def _from_other(rule: Mapping[str, Any], state: StepState, otherwise: float | None) -> float | None:
    """Return a limit read from another field of the step: its number, or the number its choice stands for."""
    value = state[rule["field"]].value
    if "map" in rule:
        value = rule["map"].get(value, otherwise)
    return value if isinstance(value, int | float) else otherwise


def _complaint(
    spec: FieldSpec, state: StepState, low: float | None, high: float | None, judged: Judged | None
) -> str:
    """Return what is wrong with the value that stands; empty when nothing is."""
    value = state[spec.name].value
    if judged is not None and judged.mark in {Mark.FAIL, Mark.MISSING}:
        return f"{spec.label}: {judged.sentence or spec.fail_says}"
    if spec.kind == NUMBER and not in_band(value, low, high, exclusive_high=spec.exclusive_high):
        return f"{spec.label}: {spec.fail_says or 'outside the band.'}"
    is_chosen = spec.kind in {CHOICE, SEVERAL} and bool(spec.accept)
    if is_chosen and not set(keys_of(value)) <= set(spec.accept):
        return f"{spec.label}: {spec.fail_says or spec.choice_label(value)}"
    if spec.matches and not _matches(spec, state, value):
        return f"{spec.label}: {spec.fail_says or 'does not match the job.'}"
    if spec.not_past and _is_past(state[spec.name], value):
        return f"{spec.label}: {spec.fail_says}"
    problem = _whose(spec, state) or spec.undecided
    return f"{spec.label}: {problem}" if problem else ""


def _whose(spec: FieldSpec, state: StepState) -> str:
    """Return why a value does not count from whoever recorded it: a lead's word, or the person's own."""
    standing = state[spec.name].standing
    is_self = state[spec.name].value == SELF
    if (spec.lead or (spec.confirms and not is_self)) and not any(one.by_role in LEADS for one in standing):
        return _LEAD_ONLY
    if spec.confirms and is_self:
        name = _plain(state[spec.confirms].value or "")
        return "" if any(_plain(one.by_name) == name for one in standing) else _SELF_ONLY
    return ""


def in_band(value: Any, low: float | None, high: float | None, *, exclusive_high: bool = False) -> bool:
    """Return whether a number keeps to its band; something that is no finite number never does."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return False
    slack = _SLACK * max(1.0, abs(value))
    if low is not None and value < low - slack:
        return False
    if high is None:
        return True
    return value < high - slack if exclusive_high else value <= high + slack


def is_no_worse(found: FieldMark, was: Any) -> bool:
    """Return whether a value that fails is the one that was let pass, or lies closer to its band."""
    value = found.value
    if canonical(value) == canonical(was):
        return True
    if not all(isinstance(each, int | float) and not isinstance(each, bool) for each in (value, was)):
        return False
    if found.low is not None and was < found.low and value < found.low:
        return bool(value > was)
    return found.high is not None and was >= found.high and bool(found.high <= value < was)


def _matches(spec: FieldSpec, state: StepState, value: Any) -> bool:
    other = spec.expected if spec.matches == "expected" else state[spec.matches].value
    if other in (None, ""):
        return True
    return _plain(value) == _plain(other)


def _plain(value: Any) -> str:
    return "".join(str(value).split()).casefold()


def _is_past(state: FieldState, value: Any) -> bool:
    """Return whether a use-before month lies before the month in which it was recorded."""
    recorded = max((event.received_at for event in state.standing if event.received_at), default=None)
    return recorded is not None and str(value) < f"{recorded:%Y-%m}"


def conflict_words(spec: FieldSpec, own: FieldState, show: Callable[[Any], str]) -> str:
    """Return that several values stand at a field, each with who recorded it; ``show`` writes a value."""
    told: dict[str, list[str]] = {}
    for event in own.standing:
        told.setdefault(show(event.value), []).append(event.by_name)
    parts = [f"{value} ({', '.join(sorted(set(names)))})" for value, names in told.items()]
    return f"{spec.label}: recorded twice and different: {' and '.join(parts)}. Which one is right?"


def photo_words(spec: FieldSpec, have: int) -> str:
    """Return how many pictures there are of those asked for: "0 of 2 photos", "3 photos, 1 asked for"."""
    if have > spec.count:
        return f"{have} photos, {spec.count} asked for"
    if_any = "" if spec.required or have else ", if any"
    return f"{have} of {spec.count} {'photo' if spec.count == 1 else 'photos'}{if_any}"


def show_value(spec: FieldSpec, value: Any) -> str:
    """Return a value in words, numbers in the unit they are stored in."""
    if spec.kind in {CHOICE, LINES, SEVERAL}:
        return spec.choice_label(value)
    if spec.kind == TICK:
        return "yes" if value else "no"
    if spec.kind == PHOTO:
        return "photo"
    if isinstance(value, int | float):
        return with_unit(f"{value:g}", spec.unit)
    return ink_words(value) if is_ink(value) else str(value)


def _asked_anew(found: FieldMark, outdated: Mapping[str, int]) -> FieldMark:
    """Return the mark of a field that was recorded before the plan changed, saying so."""
    if found.mark is not Mark.MISSING or found.spec.name not in outdated:
        return found
    words = (
        f"{found.spec.label}: done on revision {outdated[found.spec.name]}; the plan has changed, look again"
    )
    return replace(found, sentence=words)


def _not_here(found: FieldMark, asks: Asks) -> FieldMark:
    """Return the mark of a field where a step does not apply: nothing is asked, what failed still failed."""
    name = found.spec.name
    if name == NOT_HERE:
        if asks.lead_to_leave_out and not _is_from_lead(found):
            return _without(found, Mark.MISSING, f"{found.spec.label}: {_LEAD_ONLY}")
        words = f"{found.spec.label}: {found.spec.choice_label(found.value)}"
        return replace(found, mark=Mark.CAUTION, sentence=words)
    if name.startswith(f"{NOT_HERE}_") or not found.mark.is_open:
        return found
    if found.mark is Mark.MISSING or not found.state.is_recorded:
        return replace(found, mark=Mark.BLANK, sentence="", suggests_change_order=False)
    return found


_LEAD_ONLY: Final = "counts only from a lead technician or the owner"
_SELF_ONLY: Final = "counts only from the person named, signed in"


def _is_from_lead(found: FieldMark) -> bool:
    return any(event.by_role in LEADS for event in found.state.standing)


def _by_lead(found: FieldMark) -> FieldMark:
    """Return the mark of a tick that only counts from a lead technician or the owner."""
    if found.spec.kind != TICK or found.mark is not Mark.OK or _is_from_lead(found):
        return found
    return _without(found, Mark.MISSING, f"{found.spec.label}: {_LEAD_ONLY}")


def _by_licensed(found: FieldMark, asks: Asks) -> FieldMark:
    """Return the mark of a value that only counts from the licensed person named, or who records for them."""
    if not found.state.is_recorded or found.mark.is_open:
        return found
    own, roles = _plain(asks.licensed), LEADS if asks.licensed_by_lead else {OWNER}
    standing = found.state.standing
    if any(event.by_role in roles or (own and _plain(event.by_name) == own) for event in standing):
        return found
    words = f"{found.spec.label}: counts only from the licensed person or the owner"
    return _without(found, Mark.MISSING, words)


def _without(found: FieldMark, mark: Mark, sentence: str) -> FieldMark:
    """Return a mark without what belongs to a value that counts."""
    return FieldMark(found.spec, found.state, mark, sentence)
