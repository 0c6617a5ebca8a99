"""What changed between two judgments of one design, and whether every hole is sealed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.judge import show
from sizing.core.results import PenetrationResult

MOVED: Final = 0.05  # change of a value worth telling, shop default [-]


class DeviationKind(StrEnum):
    """Why a change is worth telling."""

    CROSSED = "crossed"  # over a limit: pass or caution became block or unknown, or pass became caution
    MOVED = "moved"  # same verdict, value moved more than 5 %
    NEW = "new"  # a check that was not there before and does not pass
    CLEARED = "cleared"  # better than before


@dataclass(frozen=True, slots=True)
class Deviation:
    """One check that differs between two runs; ``before`` is ``None`` for a new one."""

    key: str
    title: str
    kind: DeviationKind
    before: Check | None
    after: Check
    change_fraction: float | None
    sentence: str

    @property
    def blocks(self) -> bool:
        """Return whether the check now stops the job."""
        return self.after.blocks


def compare_checks(before: tuple[Check, ...], after: tuple[Check, ...]) -> tuple[Deviation, ...]:
    """Return the checks that got worse, got better or moved more than 5 %, the worst first.

    Parameters
    ----------
    before, after : tuple of Check
        The checks of two runs, matched by their keys. [-]

    Returns
    -------
    tuple of Deviation
        Empty when nothing worth telling changed. [-]

    Raises
    ------
    Nothing
        Any two runs can be compared.

    References
    ----------
    .. [1] The 5 % is a shop default.
    """
    earlier = {check.key: check for check in before}
    found = [_deviation(earlier.get(check.key), check) for check in after]
    return tuple(
        sorted(
            (each for each in found if each is not None),
            key=lambda each: (-each.after.verdict.severity, each.kind.value, each.key),
        )
    )


def seal_check(
    expected: PenetrationResult,
    *,
    sealed_under: int | None,
    sealed_over: int | None,
    cable_holes_sealed: int | None,
) -> Check:
    """Return whether every hole is sealed under and over, and every cable hole too.

    Parameters
    ----------
    expected : PenetrationResult
        Holes as built: feet × fasteners + gland screws, and cable holes. [-]
    sealed_under, sealed_over, cable_holes_sealed : int or None
        Counted on the roof; ``None`` is not counted yet. [-]

    Returns
    -------
    Check
        Block with the number missing; more sealed than made is a block too, as one count is wrong. [-]

    Raises
    ------
    Nothing
        Any count can be asked.

    References
    ----------
    .. [1] Counting rule: every fastener and gland screw is a penetration; no source needed.
    """
    counts = (
        ("under", sealed_under, expected.penetrations),
        ("over", sealed_over, expected.penetrations),
        ("cable holes", cable_holes_sealed, expected.cable_holes),
    )
    gland = expected.gland_screws
    wrong = [_count_words(name, have, want, gland) for name, have, want in counts if have != want]
    unknown = any(have is None for _, have, _ in counts)
    verdict = Verdict.PASS
    if wrong:
        verdict = Verdict.NOT_ENOUGH_DATA if unknown and not _any_short(counts) else Verdict.BLOCK
    known = [have for _, have, _ in counts[:2] if have is not None]
    return Check(
        rule="F21",
        key="roof/sealed",
        subject="roof",
        title="Holes sealed under and over",
        verdict=verdict,
        value=min(known, default=None),
        limit=expected.penetrations,
        unit="holes",
        margin=None,
        sentence="; ".join(wrong) + "."
        if wrong
        else f"All {expected.penetrations} holes sealed under and over.",
        source="Counting rule: fasteners and gland screws as built",
        provenance=Provenance.COMPUTED,
        formula="sealed under = sealed over = feet × fasteners + gland screws; cable holes sealed = made",
        substituted=f"{expected.foot_fasteners} + {expected.gland_screws} = {expected.penetrations}",
        terms=tuple(Term(name, f"sealed {name}", have, "holes") for name, have, _ in counts),
    )


def abandoned_holes(before: PenetrationResult, after: PenetrationResult) -> int:
    """Return the holes already made that a smaller plan leaves to be patched.

    Parameters
    ----------
    before, after : PenetrationResult
        Holes made, and holes of the plan as it is now. [-]

    Returns
    -------
    int
        Holes to patch: deleting a foot does not unmake its holes. [-]

    Raises
    ------
    Nothing
        Any two counts can be asked.

    References
    ----------
    .. [1] Counting rule; no source needed.
    """
    return max(0, before.penetrations - after.penetrations)


def _deviation(before: Check | None, after: Check) -> Deviation | None:
    if before is None:
        if after.verdict is Verdict.PASS:
            return None
        return Deviation(after.key, after.title, DeviationKind.NEW, None, after, None, after.sentence)
    change = _change(before.value, after.value)
    rise = after.verdict.severity - before.verdict.severity
    if rise > 0:
        words = f"{after.title} went from {before.verdict.label} to {after.verdict.label}. {after.sentence}"
        return Deviation(after.key, after.title, DeviationKind.CROSSED, before, after, change, words)
    if rise < 0:
        words = f"{after.title} went from {before.verdict.label} to {after.verdict.label}."
        return Deviation(after.key, after.title, DeviationKind.CLEARED, before, after, change, words)
    if change is not None and abs(change) > MOVED:
        words = (
            f"{after.title} moved by {show(change * 100, '%', 1)}: {show_both(before.value, after.unit, 2)} →"
            f" {show_both(after.value, after.unit, 2)}."
        )
        return Deviation(after.key, after.title, DeviationKind.MOVED, before, after, change, words)
    return None


def _change(before: float | None, after: float | None) -> float | None:
    """Return the relative change [-]; from nothing to something counts as all of it."""
    if before is None or after is None:
        return None
    if before == after:
        return 0.0
    return (after - before) / abs(before) if before else 1.0


def _count_words(name: str, have: int | None, want: int, gland_screws: int) -> str:
    if have is None:
        return f"{name}: not counted yet, {want} expected"
    short = want - have
    if short < 0:
        return f"{-short} {name} too many, one count is wrong"
    where = " (gland)" if short == gland_screws and name != "cable holes" else ""
    return f"{short} {name} missing{where}"


def _any_short(counts: tuple[tuple[str, int | None, int], ...]) -> bool:
    return any(have is not None and have != want for _, have, want in counts)
