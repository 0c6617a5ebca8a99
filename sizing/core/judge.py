"""How a number is set against its limit: bands, margin, and what may never be called a pass."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from sizing.core.checks import UNPROVEN_LIMIT, Bounds, Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.words import in_a_row as in_a_row
from sizing.core.words import show as show
from sizing.core.words import show_count as show_count
from sizing.core.words import show_percent as show_percent

#: Relative slack of every comparison, so that 0.1 + 0.2 does not exceed 0.3. [-]
COMPARE_REL_TOL: Final = 1e-9
MEMORY_SENTENCE: Final = (
    "The limit rests on memory: check it against the printed standard before relying on it."
)
QUOTED_ONCE_SENTENCE: Final = (
    "One secondary text quotes this limit: check it against the printed standard before relying on it."
)
QUOTED_SENTENCE: Final = (
    "The limit is quoted in secondary texts that agree; the standard itself was not read."
)

AT_LIMIT_SENTENCE: Final = "Exactly at the limit, no room."


def limit_check(
    *,
    rule: str,
    key: str,
    subject: str,
    title: str,
    value: float | None,
    limit: float | None,
    unit: str,
    source: str,
    provenance: Provenance,
    at_least: bool = False,
    block_beyond: float | None = None,
    beyond: Verdict = Verdict.BLOCK,
    at_limit: Verdict = Verdict.CAUTION,
    sentence: str = "",
    sentences: Mapping[Verdict, str] | None = None,
    formula: str = "",
    substituted: str = "",
    terms: tuple[Term, ...] = (),
    guesses: tuple[str, ...] = (),
    cause: str = "",
    action: str = "",
) -> Check:
    """Return the judgment of ``value`` against ``limit``.

    Within the limit is a pass. Beyond it the verdict is ``beyond``; with ``block_beyond`` it is a caution
    until that second limit is crossed and a block after it. ``at_least`` turns the sense round (the value
    must reach the limit). Exactly at the limit is ``at_limit``: a caution without room for a quantity that
    drifts (amps, volts, watts, weight), a pass for a rule met at equality by its own words (a count, a
    device of the size a code asks for, "not more than 3 %"). A missing or non-finite value or limit is
    ``not enough data``; a limit of provenance ``memory`` or ``quoted once`` turns a pass into a caution
    that says so.
    ``sentences`` gives words by verdict, ``sentence`` the words for every verdict without its own.
    ``cause`` and ``action`` say what several such checks share and what to do about it; left blank, the
    table of concerns knows them by the key.
    """
    verdict = _banded(value, limit, at_least=at_least, block_beyond=block_beyond, beyond=beyond)
    words = _words(verdict, title, value, limit, unit, at_least, sentence, sentences)
    sense = "≥" if at_least else "≤"
    judged = verdict
    verdict, words = _as_far_as_known(verdict, words, provenance)
    is_at_limit = is_at(value, limit)
    if is_at_limit and at_limit.severity > Verdict.PASS.severity:
        verdict, words = max(verdict, at_limit, key=_severity), f"{words} {AT_LIMIT_SENTENCE}"
        judged = verdict  # no room at all is more than a limit to look up
    return Check(
        rule=rule,
        key=key,
        subject=subject,
        title=title,
        verdict=verdict,
        value=_known(value),
        limit=_known(limit),
        unit=unit,
        margin=0.0 if is_at_limit and limit else margin_fraction(value, limit, at_least=at_least),
        sentence=words,
        source=source,
        provenance=provenance,
        formula=formula or f"value {sense} limit",
        substituted=substituted or f"{_show_any(value, unit)} {sense} {_show_any(limit, unit)}",
        terms=terms,
        guesses=guesses,
        bounds=Bounds(at_least, beyond, _known(block_beyond), at_limit),
        cause=cause or ("" if verdict is judged else UNPROVEN_LIMIT),
        action=action,
    )


def fact_check(
    *,
    rule: str,
    key: str,
    subject: str,
    title: str,
    is_met: bool | None,
    source: str,
    provenance: Provenance,
    unmet: Verdict = Verdict.BLOCK,
    sentence: str = "",
    sentences: Mapping[Verdict, str] | None = None,
    terms: tuple[Term, ...] = (),
    guesses: tuple[str, ...] = (),
    cause: str = "",
    action: str = "",
) -> Check:
    """Return the judgment of a rule that is met or not, without a number; ``None`` is not enough data."""
    verdict = Verdict.NOT_ENOUGH_DATA if is_met is None else (Verdict.PASS if is_met else unmet)
    words = (sentences or {}).get(verdict, sentence) or f"{title}: {verdict.label}."
    judged = verdict
    verdict, words = _as_far_as_known(verdict, words, provenance)
    return Check(
        rule=rule,
        key=key,
        subject=subject,
        title=title,
        verdict=verdict,
        value=None,
        limit=None,
        unit="",
        margin=None,
        sentence=words,
        source=source,
        provenance=provenance,
        terms=terms,
        guesses=guesses,
        cause=cause or ("" if verdict is judged else UNPROVEN_LIMIT),
        action=action,
    )


def missing_check(
    *,
    rule: str,
    key: str,
    subject: str,
    title: str,
    missing: str,
    unit: str = "",
    source: str = "not judged: a fact is missing",
    verb: str = "is",
) -> Check:
    """Return ``not enough data`` that names what is missing; ``verb`` is "are" where it is several things."""
    return Check(
        rule=rule,
        key=key,
        subject=subject,
        title=title,
        verdict=Verdict.NOT_ENOUGH_DATA,
        value=None,
        limit=None,
        unit=unit,
        margin=None,
        sentence=f"{title}: not enough data, {missing} {verb} not known.",
        source=source,
        provenance=Provenance.COMPUTED,
        missing=missing,
    )


def margin_fraction(value: float | None, limit: float | None, *, at_least: bool = False) -> float | None:
    """Return the room left as a fraction of the limit [-]; negative when exceeded, ``None`` when unknown."""
    known, bound = _known(value), _known(limit)
    if known is None or bound is None or bound == 0:
        return None
    return (known - bound if at_least else bound - known) / abs(bound)


def is_within(value: float, limit: float, *, at_least: bool = False) -> bool:
    """Return whether a value keeps to its limit.

    Parameters
    ----------
    value, limit : float
        What is compared, in one unit. [-]
    at_least : bool, optional
        Whether the limit is to be reached, not kept below. [-]

    Returns
    -------
    bool
        Equal, to 1e-9 of it, keeps to it. [-]

    Raises
    ------
    Nothing
        Any numbers compare.

    References
    ----------
    .. [1] Arithmetic; the slack is ours, so that 0.1 + 0.2 does not exceed 0.3.
    """
    if is_at(value, limit):
        return True
    return value > limit if at_least else value < limit


def is_at(value: float | None, limit: float | None) -> bool:
    """Return whether a value is exactly its limit: no room is left and none is missing.

    Parameters
    ----------
    value, limit : float or None
        What is compared, in one unit. [-]

    Returns
    -------
    bool
        Equal to 1e-9 of it; what is not known is not at a limit. [-]

    Raises
    ------
    Nothing
        Any numbers compare.

    References
    ----------
    .. [1] Arithmetic; the slack is ours, as for :func:`is_within`.
    """
    known, bound = _known(value), _known(limit)
    if known is None or bound is None:
        return False
    return math.isclose(known, bound, rel_tol=COMPARE_REL_TOL, abs_tol=1e-12)


def _as_far_as_known(verdict: Verdict, words: str, provenance: Provenance) -> tuple[Verdict, str]:
    """Return a pass as what its limit's source can carry, and the words that say so."""
    if verdict is not Verdict.PASS:
        return verdict, words
    if provenance is Provenance.QUOTED:
        return verdict, f"{words} {QUOTED_SENTENCE}"
    if provenance.may_pass:
        return verdict, words
    said = MEMORY_SENTENCE if provenance is Provenance.MEMORY else QUOTED_ONCE_SENTENCE
    return Verdict.CAUTION, f"{words} {said}"


def _banded(
    value: float | None,
    limit: float | None,
    *,
    at_least: bool,
    block_beyond: float | None,
    beyond: Verdict,
) -> Verdict:
    known, bound = _known(value), _known(limit)
    if known is None or bound is None:
        return Verdict.NOT_ENOUGH_DATA
    if is_within(known, bound, at_least=at_least):
        return Verdict.PASS
    if block_beyond is None:
        return beyond
    return Verdict.CAUTION if is_within(known, block_beyond, at_least=at_least) else Verdict.BLOCK


def _words(
    verdict: Verdict,
    title: str,
    value: float | None,
    limit: float | None,
    unit: str,
    at_least: bool,
    sentence: str,
    sentences: Mapping[Verdict, str] | None,
) -> str:
    chosen = (sentences or {}).get(verdict, sentence)
    if chosen:
        return chosen
    if verdict is Verdict.NOT_ENOUGH_DATA:
        return f"{title}: not enough data."
    has, bound = _show_any(value, unit), _show_any(limit, unit)
    return f"{title}: {has}, needs at least {bound}." if at_least else f"{title}: {has}, limit {bound}."


def _show_any(value: float | None, unit: str) -> str:
    return show_percent(value) if unit == "fraction" else show_both(value, unit, 2)


def _severity(verdict: Verdict) -> int:
    return verdict.severity


def _known(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
