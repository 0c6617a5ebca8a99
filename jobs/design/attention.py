"""What needs attention on a design as its page shows it: grouped lines, and what a person took note of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import sizing
from jobs.design.noted import leaves_the_list, same_numbers
from jobs.engine.subjects import subject_names
from jobs.models import Design, NotedCheck
from jobs.survey.read import guess_label


@dataclass(frozen=True, slots=True)
class Noted:
    """A check with the note a person made on it."""

    note: NotedCheck
    check: sizing.Check


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the list; ``noted`` are its checks that stay although noted, ``returned`` those changed."""

    group: sizing.Attention
    noted: tuple[Noted, ...]
    returned: tuple[Noted, ...]
    devices: Mapping[str, str] = field(default_factory=dict)  # by circuit, what can take its device's place

    @property
    def instead(self) -> tuple[tuple[str, str], ...]:
        """Return each device that can take a place, after the circuits it is for."""
        places: dict[str, list[str]] = {}
        for label, words in self.devices.items():
            places.setdefault(words, []).append(label)
        return tuple((", ".join(labels), words) for words, labels in places.items())

    @property
    def is_of_one_check(self) -> bool:
        """Return whether one check is all there is: then its numbers need no fold of their own."""
        return len(self.group.members) == 1

    @property
    def to_note(self) -> tuple[sizing.Check, ...]:
        """Return its checks that were not noted yet."""
        noted = {one.check.key for one in self.noted}
        return tuple(check for check in self.group.members if check.key not in noted)

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """Return what is said of whom where one sentence would hide something dangerous, else nothing."""
        is_missing = self.group.verdict is sizing.Verdict.NOT_ENOUGH_DATA  # its line names every check
        told = self.group.told
        return told if self.group.is_dangerous and not is_missing and len(told) > 1 else ()


@dataclass(frozen=True, slots=True)
class AttentionList:
    """The lines, the most dangerous first, and what was noted and left them."""

    lines: tuple[Line, ...]
    noted: tuple[Noted, ...]


def replaceable(rows: Iterable[sizing.CircuitRow]) -> dict[str, str]:
    """Return the circuits for whose device the engine knows a better one, with its words."""
    return {row.id: row.proposed_note for row in rows if row.proposed_fuse_a is not None}


def attention_of(
    design: Design, checks: Iterable[sizing.Check], better: Mapping[str, str] = MappingProxyType({})
) -> AttentionList:
    """Return the list of a design from the checks of one of its answers.

    ``better`` names the circuits for whose device there is a better one.
    """
    every = tuple(checks)
    has_notes = getattr(design, "has_notes", True)  # a page's query asked already
    notes = {note.check_key: note for note in design.noted_checks.all()} if has_notes else {}
    found = [
        Noted(notes[check.key], check)
        for check in every
        if check.key in notes and check.verdict is not sizing.Verdict.PASS
    ]
    holding = {one.check.key: one for one in found if same_numbers(one.note, one.check)}
    changed = {one.check.key: one for one in found if one.check.key not in holding}
    gone = {key for key, one in holding.items() if leaves_the_list(one.check)}
    groups = sizing.grouped(
        every, set_aside=gone, guess_words=guess_label, subject_names=subject_names(design)
    )
    return AttentionList(
        lines=tuple(
            Line(group, _of_members(group, holding), _of_members(group, changed), _devices_of(group, better))
            for group in groups
        ),
        noted=tuple(one for key, one in holding.items() if key in gone),
    )


def _devices_of(group: sizing.Attention, better: Mapping[str, str]) -> dict[str, str]:
    """Return the circuits of a line that another device mends, and which."""
    named = (check for check in group.members if sizing.device_mends(check))
    labels = dict.fromkeys(check.subject.removeprefix("circuit:") for check in named)
    return {label: better[label] for label in labels if label in better}


def _of_members(group: sizing.Attention, notes: dict[str, Noted]) -> tuple[Noted, ...]:
    return tuple(notes[check.key] for check in group.members if check.key in notes)
