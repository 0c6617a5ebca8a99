"""What needs attention: checks that do not pass, grouped by cause and by what to do about it.

A fact is said once: every guessed length is in one line, every fact that must be measured in another, every
limit that was not read in its standard in a third. What is left stands one line a cause. The most dangerous
comes first; a block and whatever can hurt people is marked so that a page never folds it away.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from sizing.core.checks import UNPROVEN_LIMIT, Audience, Check, Danger, Verdict, worst
from sizing.core.concerns import Concern, Seek, concern_of
from sizing.core.judge import in_a_row

#: A limit from memory that is nearer than this is not called merely a limit to look up where people can be
#: hurt. Common practice, no source. [fraction of the limit]
NEAR_LIMIT: Final = 0.1
_LENGTHS: Final = "lengths"  # the cause of a guessed length in the table of concerns
_SEEK: Final = "seek:"
_WORDS: Final = "no one two three four five six seven eight nine ten eleven twelve"
_NUMBERS: Final = tuple(_WORDS.split())


@dataclass(frozen=True, slots=True)
class Attention:
    """One line of what needs attention: checks with one cause, or guessed facts, and what to do."""

    cause: str
    title: str
    sentence: str
    action: str
    verdict: Verdict
    danger: Danger
    audience: Audience
    members: tuple[Check, ...] = ()
    guesses: tuple[str, ...] = ()
    subjects: tuple[str, ...] = ()  # what each of its checks is about, in words

    @property
    def told(self) -> tuple[tuple[str, str], ...]:
        """Return each different sentence of its checks, after its subjects where there are several."""
        said: dict[str, list[str]] = {}
        for check, about in zip(self.members, self.subjects, strict=True):
            said.setdefault(check.sentence, []).append(about)
        is_one = len({check.subject for check in self.members}) == 1
        return tuple(("" if is_one else in_a_row(named), sentence) for sentence, named in said.items())

    @property
    def is_dangerous(self) -> bool:
        """Return whether a page must show all of it: a block, or what can hurt people."""
        return self.verdict is Verdict.BLOCK or self.danger is Danger.PEOPLE


def grouped(
    checks: Iterable[Check],
    *,
    set_aside: Container[str] = (),
    guess_words: Callable[[str], str] = str,
    subject_names: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Attention, ...]:
    """Return what needs attention, the most dangerous first.

    Parameters
    ----------
    checks : iterable of Check
        Every judgment on one design, passes among them: they tell which guesses something rests on. [-]
    set_aside : container of str, optional
        Keys of checks that a person has taken note of; a length among them is no longer asked for. [-]
    guess_words : callable, optional
        Gives the name of a guessed fact in words. [-]
    subject_names : mapping, optional
        By subject, what a person calls it; without a name a thing is called by its kind and id. [-]

    Returns
    -------
    tuple of Attention
        One line a cause: blocks, then what cannot be judged, then cautions; within each people before
        equipment before money, then the least room left. Empty for a design with nothing to decide. [-]

    Raises
    ------
    Nothing
        Any checks can be grouped.

    References
    ----------
    .. [1] An order of our own: what can hurt comes before what costs.
    """
    every = tuple(checks)
    by_cause: dict[str, list[Check]] = {}
    for check in every:
        if check.verdict is not Verdict.PASS and check.key not in set_aside:
            by_cause.setdefault(_cause(check), []).append(check)
    guesses = dict.fromkeys(guess for check in every for guess in check.guesses)
    guessed = tuple(one for one in guesses if one.replace(".run_len", "/run_len") not in set_aside)

    def name(subject: str) -> str:
        return subject_names.get(subject) or subject_words(subject)

    lines = [_line(cause, tuple(members), name) for cause, members in by_cause.items() if cause != _LENGTHS]
    lines += _length_line(tuple(by_cause.get(_LENGTHS, ())), guessed, name)
    lines += _guess_line(every, [guess for guess in guessed if not _is_length(guess)], guess_words)
    return tuple(sorted(lines, key=_order))


def subject_words(subject: str) -> str:
    """Return what a check is about in a list: ``circuit:C2`` is ``C2``, ``string:1`` is ``string 1``."""
    kind, _, name = subject.partition(":")
    return name if kind == "circuit" and name else f"{kind} {name}".strip()


def count_words(number: int) -> str:
    """Return a small number as a word: ``six``."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


# -- which line a check belongs to ----------------------------------------------------------------------


def _cause(check: Check) -> str:
    """Return the id of the line a check belongs to; one that says what to do stands for itself."""
    concern = concern_of(check)
    if check.verdict is Verdict.NOT_ENOUGH_DATA and not check.action:
        return f"{_SEEK}{concern.seek}"
    is_cautious = check.verdict is Verdict.CAUTION
    if is_cautious and check.cause == UNPROVEN_LIMIT and not _is_near(check, concern):
        return UNPROVEN_LIMIT
    if is_cautious and concern.cause == _LENGTHS and check.guesses:
        return _LENGTHS
    return concern.cause


def _is_near(check: Check, concern: Concern) -> bool:
    return concern.danger is Danger.PEOPLE and check.margin is not None and check.margin < NEAR_LIMIT


def _is_length(guess: str) -> bool:
    return guess.startswith("circuit:") and guess.endswith(".run_len")


def _order(line: Attention) -> tuple[int, int, float, str]:
    margins = [check.margin for check in line.members if check.margin is not None]
    return (-line.verdict.severity, line.danger.rank, min(margins, default=0.0), line.title)


# -- the words of a line --------------------------------------------------------------------------------


def _line(cause: str, members: tuple[Check, ...], name: Callable[[str], str]) -> Attention:
    """Return the line of checks with one cause, the worst of them first."""
    ordered = tuple(sorted(members, key=lambda check: -check.verdict.severity))
    if cause.startswith(_SEEK):
        title, sentence, action = _seek_words(Seek(cause.removeprefix(_SEEK)), ordered)
    elif cause == UNPROVEN_LIMIT:
        title, sentence, action = _limit_words(ordered, name)
    else:
        title, sentence, action = _fault_words(ordered, name)
    concerns = [concern_of(check) for check in ordered]
    is_for_customer = any(concern.audience is Audience.CUSTOMER for concern in concerns)
    return Attention(
        cause=cause,
        title=title,
        sentence=sentence,
        action=action,
        verdict=worst(ordered),
        danger=_worst_danger(concerns),
        audience=Audience.CUSTOMER if is_for_customer else Audience.DESK,
        members=ordered,
        subjects=tuple(name(check.subject) for check in ordered),
    )


def _worst_danger(concerns: Iterable[Concern]) -> Danger:
    return min((concern.danger for concern in concerns), key=lambda danger: danger.rank, default=Danger.MONEY)


def _fault_words(members: tuple[Check, ...], name: Callable[[str], str]) -> tuple[str, str, str]:
    """Return the worst check's own words; several subjects are named instead."""
    first, concern = members[0], concern_of(members[0])
    subjects = in_a_row(name(check.subject) for check in members)
    if len({check.subject for check in members}) == 1:
        return first.title, first.sentence, concern.action
    if not concern.together:  # of a kind the engine does not know
        return in_a_row(check.title for check in members), " ".join(_sentences(members)), concern.action
    is_one_sentence = len(_sentences(members)) == 1
    sentence = f"{subjects}: {first.sentence}" if is_one_sentence else f"{subjects}."
    return concern.together.format(n=len(members)), sentence, concern.action


def _sentences(members: tuple[Check, ...]) -> list[str]:
    return list(dict.fromkeys(check.sentence for check in members))


def _seek_words(seek: Seek, members: tuple[Check, ...]) -> tuple[str, str, str]:
    facts = list(dict.fromkeys(_fact(check) for check in members))
    title = f"{count_words(len(facts)).capitalize()} fact{'' if len(facts) == 1 else 's'} {seek.infinitive}"
    waiting = in_a_row(check.title for check in members)
    return title, f"Cannot be judged until then: {waiting}.", f"{seek.label}: {in_a_row(facts)}."


def _fact(check: Check) -> str:
    return check.missing or check.title


def _limit_words(members: tuple[Check, ...], name: Callable[[str], str]) -> tuple[str, str, str]:
    is_one = len(members) == 1
    title = "A limit to check" if is_one else f"{count_words(len(members)).capitalize()} limits to check"
    named = "; ".join(dict.fromkeys(f"{name(check.subject)}, {check.title}" for check in members))
    action = f"Look {'it' if is_one else 'them'} up in the printed standard before relying on this."
    return f"{title} against the printed standard", f"Kept, as far as the limit is known: {named}.", action


# -- guesses --------------------------------------------------------------------------------------------


def _length_line(
    members: tuple[Check, ...], guessed: tuple[str, ...], name: Callable[[str], str]
) -> list[Attention]:
    """Return the one line of all guessed lengths, with those no check of its own names."""
    lengths = tuple(guess for guess in guessed if _is_length(guess))
    named = [name(check.subject) for check in members]
    named += [guess.removeprefix("circuit:").removesuffix(".run_len") for guess in lengths]
    number = len(set(named))
    if not number:
        return []
    which = "this one" if number == 1 else f"these {count_words(number)}"
    return [
        Attention(
            cause=_LENGTHS,
            title=f"{count_words(number).capitalize()} guessed length{'' if number == 1 else 's'}",
            sentence="Drop, gauge and fuse distance rest on a guess until a string is pulled through.",
            action=f"Measure {which}: {in_a_row(named)}.",
            verdict=Verdict.CAUTION,
            danger=Danger.EQUIPMENT,
            audience=Audience.DESK,
            members=members,
            guesses=lengths,
            subjects=tuple(name(check.subject) for check in members),
        )
    ]


def _guess_line(
    checks: tuple[Check, ...], guessed: list[str], guess_words: Callable[[str], str]
) -> list[Attention]:
    """Return the one line of every other guessed fact, as dangerous as what rests on it."""
    if not guessed:
        return []
    resting = [check for check in checks if any(guess in guessed for guess in check.guesses)]
    number, rest = len(guessed), len(resting)
    return [
        Attention(
            cause="guesses",
            title=f"{count_words(number).capitalize()} guessed fact{'' if number == 1 else 's'}",
            sentence=f"{rest} check{' rests' if rest == 1 else 's rest'} on a guess.",
            action=f"Measure or ask: {in_a_row(guess_words(guess) for guess in guessed)}.",
            verdict=Verdict.CAUTION,
            danger=_worst_danger(concern_of(check) for check in resting),
            audience=Audience.DESK,
            guesses=tuple(guessed),
        )
    ]
