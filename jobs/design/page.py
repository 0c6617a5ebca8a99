"""How a stored answer is laid out for a page: what needs attention, months, checks by subject."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import sizing
from jobs.design.attention import AttentionList, attention_of, replaceable
from jobs.engine.stored import is_current, latest_run, result_of
from jobs.engine.subjects import subject_names
from jobs.models import Design, SizingRun
from jobs.survey.read import in_order

#: Subjects in the order a person asks about them.
_ORDER: Final = (
    "energy",
    "bank",
    "controller",
    "string",
    "circuit",
    "circuits",
    "source",
    "roof",
    "panel",
    "obstacle",
    "vehicle",
)
_WORDS: Final = {
    "energy": "Energy",
    "bank": "Bank and charging",
    "roof": "Roof and fastening",
    "vehicle": "Vehicle",
    "circuits": "Circuit schedule",
}


@dataclass(frozen=True, slots=True)
class Group:
    """The checks on one subject, worst first."""

    title: str
    checks: tuple[sizing.Check, ...]

    @property
    def verdict(self) -> sizing.Verdict:
        """Return the worst of them."""
        return sizing.worst(self.checks)


@dataclass(frozen=True, slots=True)
class Count:
    """How many checks gave one verdict."""

    verdict: sizing.Verdict
    number: int


@dataclass(frozen=True, slots=True)
class NamedMonth:
    """A month that stands out, with what it is called."""

    title: str
    month: sizing.MonthHarvest


@dataclass(frozen=True, slots=True)
class Answer:
    """One stored answer, ready for a page or a paper."""

    run: SizingRun
    result: sizing.SystemResult
    is_current: bool
    attention: AttentionList
    counts: tuple[Count, ...]
    groups: tuple[Group, ...]
    layout: tuple[sizing.Check, ...]
    layout_passes: int
    months: tuple[NamedMonth, ...]
    figures: tuple[sizing.Figure, ...]

    def check(self, key: str) -> sizing.Check | None:
        """Return one check by its key, None where there is none."""
        return next((check for check in self.result.checks if check.key == key), None)

    @property
    def charge_sum(self) -> sizing.Check | None:
        """Return the judgment on everything that charges at once."""
        return self.check("bank/charge_sum")

    @property
    def most_loaded_foot(self) -> sizing.Check | None:
        """Return the judgment on the foot the wind asks most of, be it at an open front."""
        found = [check for key in ("roof/uplift_front", "roof/uplift") if (check := self.check(key))]
        return max(found, key=lambda check: -1.0 if check.value is None else check.value, default=None)

    @property
    def height(self) -> sizing.Check | None:
        """Return the judgment on the overall height with the array."""
        return self.check("vehicle/height")

    @property
    def scales(self) -> tuple[sizing.Check, ...]:
        """Return the judgments on the whole weight, the axles and the hitch."""
        return tuple(
            check
            for check in self.result.checks
            if check.key.startswith(("vehicle/gvwr", "vehicle/axle", "vehicle/hitch"))
        )

    @property
    def array_w(self) -> float:
        """Return the rated power of all strings [W]."""
        return sum(controller.pmp_w for controller in self.result.controllers)

    @property
    def guesses(self) -> tuple[str, ...]:
        """Return every guessed fact some result rests on."""
        named = {name for check in self.result.checks for name in check.guesses}
        return tuple(
            sorted(named | {name for figure in self.result.figures for name in figure.guesses}, key=in_order)
        )


def answer_for(design: Design) -> Answer | None:
    """Return the newest planned answer of a design laid out for a page; None when there is none."""
    run = latest_run(design)
    return None if run is None else answer_of(design, run)


def answer_of(design: Design, run: SizingRun) -> Answer:
    """Return a stored answer laid out for a page."""
    result = result_of(run)
    layout = _worst_first(check for check in result.checks if check.rule.startswith("layout_"))
    return Answer(
        run=run,
        result=result,
        is_current=is_current(design, run),
        attention=attention_of(design, result.checks, replaceable(result.circuits)),
        counts=tuple(
            Count(verdict, number)
            for verdict in reversed(sizing.Verdict)
            if (number := sum(check.verdict is verdict for check in result.checks))
        ),
        groups=_groups(design, result.checks),
        layout=layout,
        months=_named_months(result.harvest, design.job.survey.design_month),
        layout_passes=sum(check.verdict is sizing.Verdict.PASS for check in layout),
        figures=result.figures,
    )


def _worst_first(checks: Iterable[sizing.Check]) -> tuple[sizing.Check, ...]:
    return tuple(sorted(checks, key=lambda check: -check.verdict.severity))


def _groups(design: Design, checks: Iterable[sizing.Check]) -> tuple[Group, ...]:
    by_subject: dict[str, list[sizing.Check]] = {}
    for check in checks:
        by_subject.setdefault(check.subject, []).append(check)
    names = subject_names(design)
    ordered = sorted(by_subject.items(), key=lambda item: _place(item[0]))
    return tuple(Group(_title(subject, names), _worst_first(found)) for subject, found in ordered)


def _place(subject: str) -> tuple[int, int, str]:
    kind, _, name = subject.partition(":")
    digits = "".join(filter(str.isdigit, name))
    return (_ORDER.index(kind) if kind in _ORDER else len(_ORDER), int(digits or 0), subject)


def _title(subject: str, names: dict[str, str]) -> str:
    kind, _, name = subject.partition(":")
    if subject in names:
        return names[subject]
    if kind == "circuit":
        kinds = sorted(sizing.CircuitKind, key=len, reverse=True)  # C10B is a C10, not a C1
        titles = (sizing.circuit_facts(own).title for own in kinds if name.startswith(own))
        return f"{name} {next(titles, '')}".strip()
    return _WORDS.get(kind) or f"{kind.capitalize()} {name}".strip()


def _named_months(
    harvest: tuple[sizing.MonthHarvest, ...], design_month: int | None
) -> tuple[NamedMonth, ...]:
    """Return the best, the middle and the worst month by what is left over; each names its place.

    Where all months give the same (the shop's own sun hours), one stands for them: the design month.
    """
    known = sorted(
        (month for month in harvest if month.balance_wh is not None), key=lambda one: one.balance_wh or 0.0
    )
    if not known:
        return ()
    if (known[-1].balance_wh or 0.0) - (known[0].balance_wh or 0.0) < 1.0:
        only = next((one for one in known if one.month == design_month), known[0])
        return (NamedMonth("Harvest", only),)
    named = [
        NamedMonth("Worst month", known[0]),
        NamedMonth("Typical month", known[len(known) // 2]),
        NamedMonth("Best month", known[-1]),
    ]
    return tuple(one for place, one in enumerate(named) if one.month not in [n.month for n in named[:place]])
