"""Tells what each rule of a search costs in panels: the same roof is laid again with that one rule let go."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import sizing
from jobs.autolayout.question import (
    FIRST_GRID_M,
    FRONT,
    GLAND,
    LEADS,
    LID,
    LayoutOptions,
    layout_search_rules,
    layout_search_scene,
)
from jobs.engine.state import DesignState
from jobs.parts.panel_model import PanelModel
from jobs.roof.layout import survey_layout

#: The packing of one relaxed roof may take so long. [s]
EACH_S: Final = 0.5
_AREAS: Final = {
    FRONT: "the room kept at the front",
    GLAND: "the gland kept clear",
    LEADS: "the leads' way kept clear",
}
#: At most so many rules are let go, one by one.
MOST_RULES: Final = 12


@dataclass(frozen=True, slots=True)
class Relaxed:
    """One rule let go: how it is named after "without", and whether it rests on a guess of the survey."""

    words: str
    rules: sizing.LayoutRules
    is_guess: bool = False


def costs_of_rules(
    design: DesignState,
    models: Sequence[PanelModel],
    options: LayoutOptions,
    base: sizing.LayoutProposal,
    tell: Callable[[float], bool],
) -> list[dict[str, Any]]:
    """Return the rules without which more panels fit, the dearest first.

    ``tell`` hears the share done and answers whether to go on.
    """
    scene = layout_search_scene(design, models, options)
    relaxed = list(relaxations(design, layout_search_rules(design, models, options, FIRST_GRID_M)))
    costs = []
    for place, one in enumerate(relaxed[:MOST_RULES]):
        if not tell(place / len(relaxed)):
            break
        cost = sizing.rule_cost(scene, base, replace(one.rules, time_limit_s=EACH_S))
        if cost.panels:
            costs.append(
                {
                    "words": one.words,
                    "panels": cost.panels,
                    "kwh": round(cost.kwh),
                    "is_guess": one.is_guess,
                }
            )
    return sorted(costs, key=lambda cost: -cost["panels"])


def relaxations(design: DesignState, rules: sizing.LayoutRules) -> Iterator[Relaxed]:
    """Yield the rules of a search, each time without one of them, those a person may change first."""
    roof = design.roof.surveyed
    if rules.ways:
        yield Relaxed("the way to walk", replace(rules, ways=()))
    if rules.rafters_x_m:
        rest = design.system.rest
        is_guess = roof.rafter_first_mm is None or (rest is not None and "roof.rafters" in rest.guesses)
        yield Relaxed("feet on rafters near both ends", replace(rules, rafters_x_m=()), is_guess)
    for name, words in _AREAS.items():
        if any(area.name == name for area in rules.keep_outs):
            yield Relaxed(words, _without(rules, [name]))
    if rules.edge_m:
        yield Relaxed("the room kept at the edges", replace(rules, edge_m=0.0))
    yield from _of_things(design, rules)


def _of_things(design: DesignState, rules: sizing.LayoutRules) -> Iterator[Relaxed]:
    """Yield the rules without the room round one thing, or without the sweep of its lid."""
    for name, room in rules.clearance_m.items():
        if room > 0.0:
            bare = rules.clearance_m | {name: 0.0}
            yield Relaxed(f"the room around {name}", replace(rules, clearance_m=bare))
    layout = survey_layout(design.roof.surveyed)
    for thing in layout.staying if layout else ():
        if thing.sweep is not None:
            yield Relaxed(f"the room for the lid of {thing.name}", _without(rules, [f"{LID}{thing.name}"]))


def _without(rules: sizing.LayoutRules, names: Iterable[str]) -> sizing.LayoutRules:
    gone = frozenset(names)
    return replace(rules, keep_outs=tuple(area for area in rules.keep_outs if area.name not in gone))
