"""How one judgment is written down: verdict, value, limit, unit, source, and how it was worked out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Verdict(StrEnum):
    """The four answers a check can give; missing facts are an answer of their own, never a pass."""

    PASS = "pass"  # noqa: S105  (a verdict, not a password)
    CAUTION = "caution"
    BLOCK = "block"
    NOT_ENOUGH_DATA = "not_enough_data"

    @property
    def label(self) -> str:
        """Return the verdict in words."""
        return self.value.replace("_", " ")

    @property
    def severity(self) -> int:
        """Return 0 (pass) to 3 (block), so that ``max`` finds the worst."""
        return _SEVERITY[self]


_SEVERITY = {Verdict.PASS: 0, Verdict.CAUTION: 1, Verdict.NOT_ENOUGH_DATA: 2, Verdict.BLOCK: 3}


class Provenance(StrEnum):
    """How well the limit behind a check is known."""

    PRINTED = "printed"  # read in the standard, the regulation, a reprint of its table, or a maker's manual
    QUOTED = "quoted"  # the same value in two or more independent secondary texts
    QUOTED_ONCE = "quoted_once"  # in one secondary text; can never by itself give pass
    COMPUTED = "computed"  # arithmetic of ours on given numbers
    MAKER = "maker"  # a data sheet or manual of the part
    COMMON_PRACTICE = "common_practice"  # what the trade does; no source
    SHOP_DEFAULT = "shop_default"  # a starting value of ours, to be set by the shop
    MEMORY = "memory"  # not seen for this project; can never by itself give pass

    @classmethod
    def _missing_(cls, value: object) -> Provenance | None:
        """Return what an answer stored by an earlier engine meant by "verified"."""
        return cls.PRINTED if value == "verified" else None

    @property
    def label(self) -> str:
        """Return the provenance in words."""
        return self.value.replace("_", " ")

    @property
    def may_pass(self) -> bool:
        """Return whether a limit known this well can by itself give a pass."""
        return self not in {Provenance.QUOTED_ONCE, Provenance.MEMORY}


class Danger(StrEnum):
    """What suffers when a check is passed over: people come before equipment, equipment before money."""

    PEOPLE = "people"  # fire, shock, an explosive gas, something that falls, a vehicle that cannot stop
    EQUIPMENT = "equipment"
    MONEY = "money"  # and comfort: less power than wished for

    @property
    def rank(self) -> int:
        """Return 0 for people, 1 for equipment, 2 for money."""
        return tuple(Danger).index(self)


class Audience(StrEnum):
    """Who can decide about a check: the shop's desk, or the customer as well."""

    DESK = "desk"
    CUSTOMER = "customer"


#: Cause of a caution that says nothing but that its limit was not read in the standard itself.
UNPROVEN_LIMIT: Final = "unproven_limit"


@dataclass(frozen=True, slots=True)
class Term:
    """One input of a formula, as it went in: symbol, name, value, unit, and whether it was guessed."""

    symbol: str
    name: str
    value: float | str | None
    unit: str = ""
    is_guess: bool = False


@dataclass(frozen=True, slots=True)
class Bounds:
    """How a value was set against its limit, so that the same step can be taken again elsewhere.

    Within ``limit`` is a pass. Beyond it is ``beyond``; with ``block_limit`` a caution up to that second
    limit and a block after it. ``at_least`` turns the sense round. Exactly at ``limit`` is ``at_limit``; an
    answer stored before that was told apart was judged a pass there.
    """

    at_least: bool = False
    beyond: Verdict = Verdict.BLOCK
    block_limit: float | None = None
    at_limit: Verdict = Verdict.PASS


@dataclass(frozen=True, slots=True)
class Check:
    """One judgment on a design.

    ``key`` is stable between runs (``controller:A/cold_voc``) so that two runs can be compared;
    ``subject`` is the thing judged (``controller:A``, ``circuit:C2``, ``bank``, ``roof``, ``vehicle``).
    ``margin`` is the room left as a fraction of the limit (negative when exceeded).
    ``formula`` is in symbols, ``substituted`` the same with numbers, ``terms`` the inputs.
    ``cause`` is an id that checks with one cause share, ``action`` what to do in imperative words,
    ``missing`` the fact that is not known; blank or ``None`` leaves these, ``danger`` and ``audience``
    to the table in :mod:`sizing.core.concerns`.
    """

    rule: str
    key: str
    subject: str
    title: str
    verdict: Verdict
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    sentence: str
    source: str
    provenance: Provenance
    formula: str = ""
    substituted: str = ""
    terms: tuple[Term, ...] = ()
    guesses: tuple[str, ...] = ()
    bounds: Bounds | None = None  # None: judged by a rule of its own, not by one limit
    cause: str = ""
    action: str = ""
    missing: str = ""
    danger: Danger | None = None
    audience: Audience | None = None

    @property
    def blocks(self) -> bool:
        """Return whether this check stops the job."""
        return self.verdict is Verdict.BLOCK


def worst(checks: tuple[Check, ...]) -> Verdict:
    """Return the most severe verdict of several checks.

    Parameters
    ----------
    checks : tuple of Check
        Judgments; none at all is ``not enough data``. [-]

    Returns
    -------
    Verdict
        Block over not enough data over caution over pass. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] An order of our own: missing facts weigh more than a caution.
    """
    if not checks:
        return Verdict.NOT_ENOUGH_DATA
    return max((check.verdict for check in checks), key=lambda verdict: verdict.severity)
