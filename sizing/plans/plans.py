"""Which string plans are best for a roof, why the others are not, and how each can grow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from sizing.array.controller import controller_checks
from sizing.array.strings import clip_fraction, controller_result, wired_strings
from sizing.circuits.circuits import judge_circuits
from sizing.core.checks import Check, Verdict
from sizing.core.inputs import CircuitKind, StringInput, SystemInput
from sizing.core.judge import show, show_percent
from sizing.core.results import CircuitRow, ControllerResult
from sizing.files.validate import validate
from sizing.plans.plan_growth import growth
from sizing.plans.plan_search import Grouping, Kind, named_strings, search
from sizing.plans.plan_types import PlanAnswer, StringPlan

MOST_PLANS: Final = 3
MOST_JUDGED: Final = 40  # groupings judged in full; the rest are left behind by a first, cheap ranking
TOUCH_V: Final = 60.0


def string_plans(system: SystemInput) -> PlanAnswer:
    """Return the best string plans for the panels and controllers of a design.

    Parameters
    ----------
    system : SystemInput
        Panels, controllers, bank, temperatures and home runs; its own strings are not looked at.

    Returns
    -------
    PlanAnswer
        At most three plans, best first, with reasons, growth and home-run size; what was refused and why.

    Raises
    ------
    InputOutOfRange
        If a value cannot be right; the message names its path, the limit, the unit and what came in.

    Notes
    -----
    Order: nothing blocks; cold and hot margins kept; little cut off by the controllers; the lightest home
    run; shade zones kept apart; few parallel strings; below 60 V. Every grouping is tried up to a bound that
    the answer states.

    References
    ----------
    .. [1] NFPA 70 (2017), 690.7 to 690.9 for the limits; the order of preference is common practice.
    """
    system = _without_strings(system)
    validate(system)
    if not system.panels or not system.controllers:
        missing = "a panel" if not system.panels else "a controller"
        return PlanAnswer((), 0, 0, True, (), f"No plan without {missing}.")
    found = search(system)
    ranked = sorted(found.groupings, key=lambda grouping: _cheap_key(system, found.kinds, grouping))
    judged = [
        plan_for(system, named_strings(system, found.kinds, grouping)) for grouping in ranked[:MOST_JUDGED]
    ]
    feasible = sorted((plan for plan in judged if not plan.blocking), key=lambda plan: plan.rank_key)
    return PlanAnswer(
        plans=_told_apart(feasible[:MOST_PLANS]),
        feasible=len(feasible),
        tried=len(ranked),
        is_complete=found.is_complete and len(ranked) <= MOST_JUDGED,
        refused=found.refused,
        sentence=_sentence(feasible, judged, len(ranked), found.is_complete),
    )


def _told_apart(plans: list[StringPlan]) -> tuple[StringPlan, ...]:
    """Return plans with labels of their own: the same shape with other panels gets a number."""
    seen: dict[str, int] = {}
    found = []
    for plan in plans:
        seen[plan.label] = seen.get(plan.label, 0) + 1
        again = seen[plan.label] > 1
        found.append(replace(plan, label=f"{plan.label} ({seen[plan.label]})") if again else plan)
    return tuple(found)


def plan_for(system: SystemInput, strings: tuple[StringInput, ...]) -> StringPlan:
    """Return one plan judged in full, whatever it is worth.

    Parameters
    ----------
    system : SystemInput
        The design; its own strings are replaced.
    strings : tuple of StringInput
        The plan. [-]

    Returns
    -------
    StringPlan
        With verdicts, reasons, growth and the smallest home run that passes. [V], [A]

    Raises
    ------
    InputOutOfRange
        If a string names a panel or controller that is not there.

    References
    ----------
    .. [1] As :func:`string_plans`.
    """
    asked = replace(_without_strings(system), strings=strings)
    results = tuple(controller_result(asked, unit) for unit in asked.controllers)
    rows, wire_checks, _ = judge_circuits(asked, results)
    checks = [
        check
        for unit, result in zip(asked.controllers, results, strict=True)
        for check in controller_checks(
            asked, unit, result, tuple(row for row in rows if row.id in _runs_of(asked, unit.id))
        )
    ]
    checks += [check for check in wire_checks if check.blocks or not check.key.startswith("circuit:")]
    measures = _measures(asked, results, rows, tuple(checks))
    return StringPlan(
        label=plan_label(asked),
        strings=strings,
        controllers=results,
        checks=tuple(checks),
        rank_key=tuple(number for number, _ in measures),
        reasons=tuple(words for _, words in measures if words),
        growth=tuple(
            growth(asked, unit, result)
            for unit, result in zip(asked.controllers, results, strict=True)
            if result.np
        ),
        home_run_sizes=tuple((row.id, row.size) for row in rows if row.size is not None),
    )


def why_not(system: SystemInput, strings: tuple[StringInput, ...], answer: PlanAnswer) -> tuple[str, ...]:
    """Return why a plan the user asks about is not the one proposed, in plain sentences.

    Parameters
    ----------
    system : SystemInput
        The design the answer was made for.
    strings : tuple of StringInput
        The plan asked about. [-]
    answer : PlanAnswer
        As :func:`string_plans` gave it. [-]

    Returns
    -------
    tuple of str
        What blocks it, or the first point in which the best plan is better; empty when it is the best.

    Raises
    ------
    InputOutOfRange
        If a string names a panel or controller that is not there.

    References
    ----------
    .. [1] As :func:`string_plans`.
    """
    asked = plan_for(system, strings)
    if asked.blocking:
        return tuple(check.sentence for check in asked.blocking)
    if not answer.plans:
        return ()
    best = answer.plans[0]
    if asked.rank_key <= best.rank_key:
        return ()
    return (*plan_differences(best, asked),)


def plan_differences(better: StringPlan, other: StringPlan) -> tuple[str, ...]:
    """Return what sets two plans apart, in words, the weightiest point first.

    Parameters
    ----------
    better, other : StringPlan
        Two plans for the same panels. [-]

    Returns
    -------
    tuple of str
        One sentence per point of the ranking in which they differ. [-]

    Raises
    ------
    Nothing
        Any two plans can be compared.

    References
    ----------
    .. [1] As :func:`string_plans`.
    """
    found = []
    for name, unit, first, second in zip(_POINTS, _UNITS, better.rank_key, other.rank_key, strict=True):
        if first != second:
            found.append(
                f"{name}: {_shown(first, unit)} for {better.label}, {_shown(second, unit)} for {other.label}."
            )
    return tuple(found)


def plan_label(system: SystemInput) -> str:
    """Return a plan's short name: ``2S2P``, or each controller with its own."""
    parts = []
    for unit in system.controllers:
        counts = [wired.ns for wired in wired_strings(system, unit)]
        if counts:
            same = len(set(counts)) == 1
            shape = f"{counts[0]}S{len(counts)}P" if same else "+".join(f"{ns}S" for ns in counts)
            parts.append(shape if len(system.controllers) == 1 else f"{unit.id}: {shape}")
    return " · ".join(parts)


_POINTS: Final = (
    "Checks that block",
    "Margins not kept in cold or heat",
    "Cut off by the controllers, in steps of 5%",
    "Copper of the home runs",
    "Strings or controllers that mix shade zones",
    "Controllers that need string fuses",
    "Strings in parallel",
    "Strings above 60 V",
    "Strings in all",
)
_FUSE_COUNT: Final = {True: 1.0, None: 0.5, False: 0.0}
_UNITS: Final = ("", "", "", "mm²", "", "", "", "", "")


def _measures(
    system: SystemInput,
    results: tuple[ControllerResult, ...],
    rows: tuple[CircuitRow, ...],
    checks: tuple[Check, ...],
) -> tuple[tuple[float, str], ...]:
    """Return each point of the ranking, weightiest first: a number (lower is better) and its words."""
    blocks = sum(check.blocks for check in checks)
    margins = [
        check.verdict for check in checks if check.key.endswith(("/cold_voc", "/hot_start", "/hot_run"))
    ]
    short = sum(verdict is not Verdict.PASS for verdict in margins)
    cut = _cut_fraction(results)
    area_mm2 = sum(_row_area_mm2(row) for row in rows)
    mixed = _mixed_zones(system)
    fused = sum(_FUSE_COUNT[result.needs_string_fuse] for result in results)
    np_most = max((result.np for result in results), default=0)
    high = sum((result.voc_cold_v or 0.0) > TOUCH_V for result in results)
    sizes = ", ".join(f"{row.size}" for row in rows if row.size)
    return (
        (blocks, f"{blocks} checks block." if blocks else ""),
        (short, _margin_words(margins)),
        (
            round(cut * 20.0),
            f"The controllers cut off {show_percent(cut)} at best sun." if round(cut * 20.0) else "",
        ),
        (round(area_mm2, 2), f"Home run {sizes} carries it." if sizes else ""),
        (mixed, f"{mixed} groups mix shade zones." if mixed else ""),
        (fused, _fuse_words(results)),
        (np_most, f"At most {np_most} in parallel."),
        (high, "Over 60 V: extra care." if high else ""),
        (sum(result.np for result in results), ""),
    )


def _margin_words(margins: Iterable[Verdict]) -> str:
    """Return whether the margins in cold and heat are kept, in words; nothing when all are."""
    failed = set(margins) - {Verdict.PASS}
    if failed == {Verdict.NOT_ENOUGH_DATA}:
        return "The margin in cold or heat cannot be told yet."
    return "A margin in cold or heat is not kept." if failed else ""


def _cut_fraction(results: tuple[ControllerResult, ...]) -> float:
    """Return the share of the whole array's peak the controllers cut off [-]."""
    total_w = sum(result.pmp_w for result in results)
    cut_w = sum(result.pmp_w * (result.clip_fraction or 0.0) for result in results)
    return cut_w / total_w if total_w else 0.0


def _row_area_mm2(row: CircuitRow) -> float:
    """Return the copper of a home run [mm²]; one that no size carries counts as very thick."""
    return row.area_mm2 if row.area_mm2 is not None else 1000.0


def _mixed_zones(system: SystemInput) -> int:
    """Return how many controllers and strings hold panels of more than one shade zone."""
    zones = {placed.id: placed.zone for placed in system.panels}
    mixed = 0
    for unit in system.controllers:
        mine = [string for string in system.strings if string.controller_id == unit.id]
        mixed += len({zones[name] for string in mine for name in string.panel_ids}) > 1
        mixed += sum(len({zones[name] for name in string.panel_ids}) > 1 for string in mine)
    return mixed


def _fuse_words(results: tuple[ControllerResult, ...]) -> str:
    if any(result.needs_string_fuse for result in results):
        return "Needs string fuses."
    if any(result.needs_string_fuse is None for result in results):
        return "Whether string fuses are needed is not known."
    return "No string fuses."


def _cheap_key(system: SystemInput, kinds: tuple[Kind, ...], grouping: Grouping) -> tuple[float, ...]:
    """Return a first ranking without wire: what is cut off, then zones, then strings in parallel."""
    cut_w, mixed, np_most, total = 0.0, 0, 0, 0
    for unit, strings in zip(system.controllers, grouping.strings, strict=True):
        pmp_w = sum(
            count * kind.panel.pmp_w for counts in strings for count, kind in zip(counts, kinds, strict=True)
        )
        cut_w += pmp_w * (clip_fraction(system, unit, pmp_w) or 0.0)
        zones = [
            {kind.zone for count, kind in zip(counts, kinds, strict=True) if count} for counts in strings
        ]
        mixed += (len(set().union(*zones)) > 1) + sum(len(each) > 1 for each in zones)
        np_most, total = max(np_most, len(strings)), total + len(strings)
    all_w = sum(placed.panel.pmp_w for placed in system.panels)
    return round(cut_w / all_w * 20.0), mixed, np_most, total


def _without_strings(system: SystemInput) -> SystemInput:
    """Return the design with panels loose and only its home runs, their size and device left open."""
    return replace(
        system,
        strings=(),
        panels=tuple(replace(placed, string_id=None) for placed in system.panels),
        circuits=tuple(
            replace(circuit, size=None, ocpd=None, has_no_ocpd=False)
            for circuit in system.circuits
            if circuit.kind is CircuitKind.HOME_RUN and not circuit.serves.startswith("string:")
        ),
    )


def _runs_of(system: SystemInput, controller_id: str) -> frozenset[str]:
    return frozenset(
        circuit.id
        for circuit in system.circuits
        if circuit.serves == f"controller:{controller_id}"
        or (not circuit.serves and len(system.controllers) == 1)
    )


def _sentence(feasible: list[StringPlan], judged: list[StringPlan], tried: int, is_complete: bool) -> str:
    left_out = tried - len(judged)
    bound = f" {left_out} more were ranked lower by a first look." if left_out else ""
    bound += "" if is_complete else " There were more groupings than were tried."
    if feasible:
        return f"{len(feasible)} of {len(judged)} plans work; {feasible[0].label} is the first choice.{bound}"
    if judged:
        return f"None of {len(judged)} plans works: {judged[0].blocking[0].sentence}{bound}"
    return f"No grouping uses every panel in strings that work on these controllers.{bound}"


def _shown(value: float, unit: str) -> str:
    return show(value, unit) if unit else show(value, "", 0)
