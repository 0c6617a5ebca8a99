"""What a line of the field sheet is made of: name, unit, possible and usual range, when needed."""

from __future__ import annotations

from dataclasses import dataclass

#: Stages before which a fact must be known, in order, with the words of the page.
STAGES = {"S": "Before a string plan", "Q": "Before a quote", "I": "Before install day"}

Span = tuple[float, float]


@dataclass(frozen=True)
class Fact:
    """One field. ``possible`` refuses, ``usual`` asks "are you sure", both in the stored unit.

    ``need`` is the stage (S, Q, I) before which it must be known; ``when`` limits that to some vehicles.
    ``guess`` is the word results use for it when it is marked as a guess.
    """

    name: str
    label: str
    unit: str | None = None  # None: text, choice, date or tick, as the column is
    possible: tuple[float | None, float | None] = (None, None)
    usual: Span | None = None
    need: str = ""
    when: str = ""
    guess: str = ""
    help: str = ""
    on: str = "survey"  # or "vehicle"
    is_whole: bool = False
    is_share: bool = False  # stored 0 to 1, typed as percent
    is_wide: bool = False


@dataclass(frozen=True)
class Group:
    """Facts that stand together under one heading."""

    title: str
    facts: tuple[Fact, ...]
    lead: str = ""


@dataclass(frozen=True)
class RowSheet:
    """A list of rows of one kind: what a row holds and how many blank ones stand ready."""

    prefix: str  # related name on Survey, and prefix of the form
    title: str
    noun: str  # "Add another …"
    facts: tuple[Fact, ...]
    lead: str = ""
    details: tuple[str, ...] = ()  # facts shown under "More"
    guess: str = ""  # word for "all of this is a guess"
    none_kind: str = ""  # word in absent_kinds for "looked, there are none"
    none_label: str = ""


@dataclass(frozen=True)
class Part:
    """One page of the survey."""

    slug: str
    title: str
    lead: str = ""
    groups: tuple[Group, ...] = ()
    rows: tuple[RowSheet, ...] = ()

    @property
    def facts(self) -> tuple[Fact, ...]:
        """Return the single facts of the page in reading order."""
        return tuple(fact for group in self.groups for fact in group.facts)
