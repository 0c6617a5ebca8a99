"""Ranks other ways to wire a layout by their year within the string rules, and says why its own loses."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import sizing
from jobs.engine.scene import Question, controller_limits, scene_json, shade_question
from jobs.engine.state import DesignState
from jobs.engine.string_options import Groups, string_groups, unwired
from jobs.engine.string_shares import other_shares
from jobs.engine.system import system_input
from jobs.engine.years import rules_of
from jobs.shop.refusals import Refusal
from jobs.workspace.state import layout_state

V = sizing.Verdict
#: Suggestions shown, and ranked wirings of one controller looked at in full.
MOST_SHOWN: Final = 5
MOST_RANKED: Final = 6
#: Of the ways to share the panels between controllers, those whose strings are looked at in full.
MOST_SHARES: Final = 3
#: Two wirings closer than this count as equal: the engine is not surer. [-]
EQUAL_FRACTION: Final = 0.003
#: Strings up to this long are put in the shortest order by trying all; longer ones step by step. [panels]
MOST_TRIED: Final = 7

#: What a kWh is taken to be worth until somebody says, and where that comes from, by currency.
KWH_WORTH: Final[Mapping[str, tuple[str, str]]] = {
    "USD": (
        "0.16",
        "Start value: about what a US household paid in 2023 (U.S. Energy Information Administration,"
        " from memory). A kWh from a generator costs several times as much (common practice, no source).",
    )
}
NONE_STANDS: Final = "No wiring of these panels on these controllers passes the string rules."
_NO_WORTH: Final = ("", "No start value is known in this currency: type what a kWh is worth to the customer.")

Strings = tuple[sizing.StringInput, ...]


@dataclass(frozen=True, slots=True)
class Ways:
    """The wirings found, as strings, with how many were tried and how much more could exist [kWh/year]."""

    found: tuple[Strings, ...]
    tried: int
    shared: int  # ways to share the panels between controllers that were compared
    is_complete: bool
    problem: str  # why no plan wires all panels; empty where one does


@dataclass(frozen=True, slots=True)
class Way:
    """One wiring: as it stands with the wire chosen now, as it could with wire of its own, and its year."""

    strings: Strings
    checks: tuple[sizing.Check, ...]  # about strings and controllers, as the screen will tell them
    plan: sizing.StringPlan  # with the home runs left open
    needs: tuple[str, ...]  # home runs that would have to be thicker
    mean_kwh: float
    worst_kwh: float

    @property
    def verdict(self) -> sizing.Verdict:
        """Return the worst verdict once the wiring is taken and nothing else is changed."""
        return sizing.worst(self.checks)

    @property
    def why(self) -> str:
        """Return in the rules' words what keeps the wiring from passing."""
        titles = [check.title for check in self.checks if check.verdict is self.verdict]
        return "" if self.verdict is V.PASS else ", ".join(dict.fromkeys(titles))


def strings_answer(design: DesignState) -> dict[str, Any]:
    """Return ranked wirings with what each gains over the layout's own, and why that one loses.

    Energies are kWh a year, mean of all parking directions; money is left to whoever may see it.
    """
    try:
        system = system_input(design.roof, design.system)
        question = shade_question(design.roof, design.sun)
        if not system.controllers:
            return _none("There is no charge controller in this revision yet: choose one under Power.")
        ways = _ways(design, system, question)
        judged = _judged(design, system, question, (system.strings, *ways.found))
    except (Refusal, sizing.InputOutOfRange) as problem:
        return _none(str(problem))
    own = judged[0] if system.strings else None
    ranked = _ranked([way for way in judged if not way.plan.blocking])
    if not ranked:
        return _none(f"No way wires all panels. {ways.problem}" if ways.problem else NONE_STANDS)
    return {
        "place": question["place"]["name"],
        "own": None if own is None else _own(design, system, question, own),
        "ways": [_way(design, way, own) for way in ranked[:MOST_SHOWN]],
        "tried": ways.tried,
        "shared": ways.shared,
        "is_complete": ways.is_complete,
        "problem": ways.problem,
        "reason": "",
    }


def kwh_worth(currency: str) -> dict[str, str]:
    """Return the start value of a kWh with its source, for those who see prices."""
    amount, source = KWH_WORTH.get(currency, _NO_WORTH)
    return {"amount": amount, "source": source}


def _none(reason: str) -> dict[str, Any]:
    return {"own": None, "ways": [], "reason": reason}


def _ways(design: DesignState, system: sizing.SystemInput, question: Question) -> Ways:
    """Return the wirings worth judging: the planner's own, and the best groupings on each controller."""
    bare = unwired(system)
    planned = sizing.string_plans(bare)
    bases = [plan.strings for plan in planned.plans]
    wired = {one for string in system.strings for one in string.panel_ids}
    if len(wired) == len(system.panels) or (wired and not bases):
        bases.insert(0, system.strings)
    found: dict[Groups, Strings] = {}
    tried, seen = 0, set()
    others, shared, is_complete = _shares(design, system, question, bases)
    for base in (*bases, *others):
        found.setdefault(string_groups(base), base)
        dealt = frozenset((one.controller_id, panel) for one in base for panel in one.panel_ids)
        if dealt in seen:
            continue  # the same panels on the same controllers: already ranked
        seen.add(dealt)
        ranked, count, is_whole = _ranked_on_each(design, replace(bare, strings=base), question)
        tried, is_complete = tried + count, is_complete and is_whole
        for strings in ranked:
            found.setdefault(string_groups(strings), strings)
    found.pop(string_groups(system.strings), None)
    problem = "" if planned.plans else planned.sentence
    return Ways(tuple(found.values()), tried, shared, is_complete, problem)


def _shares(
    design: DesignState, system: sizing.SystemInput, question: Question, bases: Iterable[Strings]
) -> tuple[list[Strings], int, bool]:
    """Return the best ways to share the panels of a plan otherwise between its controllers, by their year."""
    model_of = {one.id: one.panel for one in system.panels}
    places = {one.id: (one.x_m, one.y_m) for one in system.panels}
    twin_of = {unit.label: unit.part_id for unit in design.roof.controllers}
    best: list[Strings] = []
    shared, is_complete, seen = 0, True, set()
    for base in bases:
        sizes = frozenset((one.controller_id, len(one.panel_ids)) for one in base)
        if sizes in seen:
            continue
        seen.add(sizes)
        made, is_whole = other_shares(base, model_of=model_of, twin_of=twin_of, places=places)
        is_complete = is_complete and is_whole
        if not made:
            continue
        shared += len(made) + 1
        years = sizing.shade_year(_scene(design, question, made), detail=False).wirings
        order = sorted(zip(years, made, strict=True), key=lambda pair: -pair[0].mean_kwh)
        best += [strings for _year, strings in order[:MOST_SHARES]]
    return best, shared, is_complete


def _ranked_on_each(
    design: DesignState, system: sizing.SystemInput, question: Question
) -> tuple[list[Strings], int, bool]:
    """Return the best wirings of panels already dealt to controllers; on flat panels each stands alone."""
    scene = _scene(design, question, [system.strings])
    labels = _labels(system.strings, design)
    tops: list[list[Strings]] = []
    tried, is_whole = 0, True
    for label, controller in zip(labels, scene.wirings[0].controllers, strict=True):
        here = [list(string) for string in controller.strings]
        own = tuple(one for one in system.strings if one.controller_id == label)
        lengths = [rule["length"] for rule in rules_of(system, label, here)["allowed"]]
        if not lengths:
            tops.append([own])
            continue
        mine = {panel for string in here for panel in string}
        ranking = sizing.rank_wirings(
            replace(scene, panels=tuple(panel for panel in scene.panels if panel.id in mine)),
            controller=replace(controller, strings=()),
            limits=sizing.StringLimits(
                series_min=min(lengths), series_max=max(lengths), strings_max=len(mine) // min(lengths)
            ),
            top=MOST_RANKED,
        )
        tried, is_whole = tried + ranking.n_tried, is_whole and ranking.is_complete
        kept = [one for one in ranking.wirings if len(one.strings[0]) in lengths]
        tops.append([_named(label, one.strings) for one in kept] or [own])
    best = [top[0] for top in tops]
    return (
        [
            tuple(itertools.chain(*best[:place], way, *best[place + 1 :]))
            for place, top in enumerate(tops)
            for way in top
        ],
        tried,
        is_whole,
    )


def _labels(strings: Strings, design: DesignState) -> list[str]:
    """Return the controllers that carry strings, in the design's order."""
    used = {one.controller_id for one in strings}
    return [unit.label for unit in design.roof.controllers if unit.label in used]


def _named(label: str, strings: Iterable[tuple[str, ...]]) -> Strings:
    return tuple(
        sizing.StringInput(id=f"{label}{place}", controller_id=label, panel_ids=panels)
        for place, panels in enumerate(strings, start=1)
    )


def _scene(design: DesignState, question: Question, wirings: Iterable[Strings]) -> sizing.SceneInput:
    """Return the scene with these wirings, named by their places."""
    units = {unit.label: controller_limits(design.sun, unit.label) for unit in design.roof.controllers}
    made = {
        str(place): {
            "controllers": [
                {
                    **units[label],
                    "strings": [list(one.panel_ids) for one in strings if one.controller_id == label],
                }
                for label in _labels(strings, design)
            ]
        }
        for place, strings in enumerate(wirings)
        if strings
    }
    return sizing.scene_from_json(scene_json({**question, "scene": {**question["scene"], "wirings": made}}))


def _judged(
    design: DesignState, system: sizing.SystemInput, question: Question, wirings: tuple[Strings, ...]
) -> list[Way]:
    """Return the wirings with their years and verdicts; one without strings is left out."""
    wirings = tuple(strings for strings in wirings if strings)
    if not wirings:
        return []
    years = sizing.shade_year(_scene(design, question, wirings), detail=False)
    return [
        _way_of(system, strings, year.mean_kwh, year.worst_kwh)
        for strings, year in zip(wirings, years.wirings, strict=True)
    ]


def _way_of(system: sizing.SystemInput, strings: Strings, mean_kwh: float, worst_kwh: float) -> Way:
    named = tuple(replace(one, id=str(number)) for number, one in enumerate(strings, start=1))
    string_of = {panel: one.id for one in named for panel in one.panel_ids}
    panels = tuple(replace(one, string_id=string_of.get(one.id)) for one in system.panels)
    result = sizing.size_system(replace(system, strings=named, panels=panels))
    plan = sizing.plan_for(unwired(system), named)
    checks = tuple(one for one in result.checks if one.subject.startswith(("string:", "controller:")))
    return Way(strings, checks, plan, _thicker(system, plan), mean_kwh, worst_kwh)


def _thicker(system: sizing.SystemInput, plan: sizing.StringPlan) -> tuple[str, ...]:
    """Return the home runs whose chosen wire is thinner than the plan needs, with the size it needs."""
    chosen = {one.id: one for one in system.circuits if one.size}
    found = []
    for name, size in plan.home_run_sizes:
        run = chosen.get(name)
        if run is None or run.size is None:
            continue
        need, has = (sizing.conductor(each, run.cable_standard) for each in (size, run.size))
        if has.area_mm2 < need.area_mm2:
            found.append(f"{name} {need.words} instead of {has.words}")
    return tuple(found)


def _ranked(ways: list[Way]) -> list[Way]:
    """Return the ways best first: like years go by verdict, what the rules refuse comes last."""
    order = (V.PASS, V.CAUTION, V.NOT_ENOUGH_DATA, V.BLOCK)
    best = max((way.mean_kwh for way in ways if way.verdict is not V.BLOCK), default=0.0)

    def key(way: Way) -> tuple[bool, bool, int, float]:
        is_close = way.mean_kwh >= best * (1.0 - EQUAL_FRACTION)
        return (
            way.verdict is V.BLOCK,
            not is_close,
            order.index(way.verdict) if is_close else 0,
            -way.mean_kwh,
        )

    return sorted(ways, key=key)


def _own(design: DesignState, system: sizing.SystemInput, question: Question, own: Way) -> dict[str, Any]:
    wired = sum(len(one.panel_ids) for one in system.strings)
    return {
        "kwh": round(own.mean_kwh, 1),
        "label": own.plan.label,
        "verdict": str(own.verdict),
        "why": own.why,
        "loose": len(system.panels) - wired,
        "blame": _blame(design, question),
    }


def _blame(design: DesignState, question: Question) -> str:
    """Return in one sentence what shades the string that loses most, by the number the layout gives it."""
    numbers = [number for strings in question["strings"].values() for number in strings]
    told = sizing.string_blame(sizing.scene_from_json(scene_json(question)))
    return f"String {numbers[told[0].index]} {told[0].words}" if told else ""


def _way(design: DesignState, way: Way, own: Way | None) -> dict[str, Any]:
    gain = None if own is None else way.mean_kwh - own.mean_kwh
    return {
        "label": way.plan.label,
        "strings": _rows(design, way.strings),
        "kwh": round(way.mean_kwh, 1),
        "worst_kwh": round(way.worst_kwh, 1),
        "gain_kwh": None if gain is None else round(gain, 1),
        "is_equal": gain is not None and own is not None and abs(gain) < EQUAL_FRACTION * own.mean_kwh,
        "is_own": way is own,
        "verdict": str(way.verdict),
        "why": way.why,
        "needs": list(way.needs) if way.verdict is V.BLOCK else [],
    }


def _rows(design: DesignState, strings: Strings) -> list[dict[str, Any]]:
    """Return the strings as the workspace keeps them; one that stays keeps order, fuse and leads."""
    places = {str(panel.number): (panel.x_m, panel.y_m) for panel in design.roof.panels}
    now = {(row["controller"], frozenset(row["panels"])): row for row in layout_state(design.roof)["strings"]}
    rows = []
    for one in strings:
        kept = now.get((one.controller_id, frozenset(int(panel) for panel in one.panel_ids)))
        panels = [int(panel) for panel in short_order(one.panel_ids, places)]
        rows.append(kept or {"panels": panels, "controller": one.controller_id, "fuse_a": None})
    return sorted(rows, key=lambda row: (row["controller"], min(row["panels"])))


def short_order(panels: tuple[str, ...], places: Mapping[str, tuple[float, float]]) -> tuple[str, ...]:
    """Return panels in the order that takes the least lead from one to the next, rear end first."""
    if len(panels) <= MOST_TRIED:
        paths = itertools.permutations(panels)
        best = min(paths, key=lambda path: (round(_length(path, places), 6), path))
    else:
        rest, best = list(panels), ()
        at = min(rest, key=lambda one: places[one])
        while rest:
            at = min(rest, key=lambda one: math.dist(places[at], places[one]))
            rest.remove(at)
            best = (*best, at)
    return best if places[best[0]] <= places[best[-1]] else best[::-1]


def _length(path: Iterable[str], places: Mapping[str, tuple[float, float]]) -> float:
    return sum(math.dist(places[one], places[other]) for one, other in itertools.pairwise(path))
