"""Searches several layouts of one roof, judges them as the workspace does, and tells them apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import sizing
from jobs.autolayout.drawing import small_plan_svg
from jobs.autolayout.question import (
    FASTENERS,
    FIRST_GRID_M,
    HEIGHT_M,
    MOST_ON_ROOF,
    LayoutOptions,
    grid_m,
    layout_search_rules,
    layout_search_scene,
)
from jobs.autolayout.relaxed import costs_of_rules
from jobs.autolayout.wiring import roof_leads_m, ways_to_wire
from jobs.design.string_plan import plan_words
from jobs.engine.scene import type_name
from jobs.engine.state import DesignState
from jobs.parts.panel_model import PanelModel
from jobs.roof.checks import layout_findings
from jobs.roof.feet import feet_needed
from jobs.roof.layout import design_layout
from jobs.roof.state import RoofPanel, RoofState
from jobs.workspace.edit import RoofEdit, layout_try, read_layout
from jobs.workspace.state import layout_state, live_answer
from jobs.workspace.year import live_energy

#: The lean layout gives at least this share of the most. [-]
LEAN: Final = 0.9
#: The first look is tried with fewer panels so often, where all of them are blocked.
FIRST_TRIES: Final = 2
#: The first look takes the strongest model that is not blocked, of so many.
FIRST_MODELS: Final = 3
#: Fewer and fewer panels are tried so often at most.
MOST_TRIES: Final = 9
#: At most so many sentences tell what stands against a layout; the rest is counted.
MOST_SENTENCES: Final = 4
#: Between wirings, a caution weighs as much as this share of the year. [-]
CAUTION_COST: Final = 0.02
_WORST_FIRST: Final = ("block", "not_enough_data", "caution", "pass")
#: Told how far the search is (0 to 1) and what is done; answering False ends it with what there is.
Tell = Callable[[float, str], bool]
Candidate = dict[str, Any]


@dataclass(slots=True)
class _Search:
    """What one search works with: the design as it is, the models it may use by their names in a scene."""

    design: DesignState
    models: dict[str, PanelModel]
    options: LayoutOptions
    tell: Tell
    kept: dict[str, Any]
    #: Every layout that was judged, with the proposal it came from.
    judged: list[tuple[dict[str, Any], sizing.LayoutProposal]] = field(default_factory=list)

    def places(self, step_m: float, names: tuple[str, ...], share: float) -> sizing.LayoutSearch:
        """Return the places of a grid for some models."""
        models = [self.models[name] for name in names]
        scene = layout_search_scene(self.design, models, self.options)
        rules = layout_search_rules(self.design, models, self.options, step_m)
        return sizing.LayoutSearch(
            scene, rules, progress=lambda done, _words: self.tell(share * done, "Every place on the roof")
        )


def layout_candidates(
    design: DesignState, models: list[PanelModel], options: LayoutOptions, tell: Tell
) -> Iterator[list[Candidate]]:
    """Yield the candidates as they get better: a first look at once, at the end up to three to choose from.

    What a person drew is among them where it keeps to the options: the first is never worth less. What is
    blocked comes last. Raise sizing.NoFreePlace where no panel fits anywhere, sizing.SearchStopped when told
    to end.
    """
    known = {type_name(model): model for model in models}
    kept = layout_state(design.roof) if options.keep_placed else {"panels": [], "strings": []}
    search = _Search(design, known, options, tell, kept)
    first = _first(search)
    if first is not None:
        yield [first]
    yield from _fine(search)


def _first(search: _Search) -> Candidate | None:
    """Return a layout from a coarse grid of a strong model, within a moment; None where all are blocked."""
    names = sorted(search.models, key=lambda name: -search.models[name].sheet.pmp_w)
    looks = (_first_of(search, name) for name in names[:FIRST_MODELS])
    return next((one for one in looks if one is not None), None)


def _first_of(search: _Search, name: str) -> Candidate | None:
    """Return a first look with one model, with a panel fewer where the full count is blocked."""
    try:
        places = search.places(FIRST_GRID_M, (name,), 0.1)
    except sizing.SceneError:
        return None
    proposal = places.best()
    for _ in range(FIRST_TRIES):
        if proposal is None:
            return None
        candidate = _judged(search, proposal, "first", "First look")
        if not _is_flawed(candidate):
            return candidate
        fewer = len(proposal.panels) - 1
        proposal = places.best(panels_max=fewer) if fewer else None
    return None


def _fine(search: _Search) -> Iterator[list[Candidate]]:
    places = search.places(grid_m(search.options), tuple(search.models), 0.4)
    search.tell(0.45, "The best packing")
    best, names = _best_models(search, places)
    if best is None:
        raise sizing.NoFreePlace("options", "leave no place on this roof worth its penalties")
    by_hand = as_drawn(search)
    tried: list[Candidate] = []
    for candidate in _fewer_and_fewer(search, places, best, names):
        tried.append(candidate)
        if not _is_flawed(candidate):
            yield _chosen(tried, None, by_hand)
    if not search.tell(0.85, "Another model"):
        yield _chosen(tried, None, by_hand)
        return
    chosen = _chosen(tried, _other(search, places, best, names), by_hand)
    yield chosen
    yield _with_costs(search, chosen)


def _with_costs(search: _Search, chosen: list[Candidate]) -> list[Candidate]:
    """Return the candidates; the first that was laid tells what each rule costs in panels."""
    sound = next((one for one in chosen if one["key"] != "drawn" and not _is_flawed(one)), None)
    base = next((made for layout, made in search.judged if sound and layout is sound["layout"]), None)
    limit = search.options.panels_max
    if base is None or (limit and len(base.panels) >= limit):
        return chosen
    used = {item.panel.type_name for item in base.panels}
    models = [model for name, model in search.models.items() if name in used or not search.options.one_model]
    costs = costs_of_rules(
        search.design,
        models,
        search.options,
        base,
        lambda done: search.tell(0.9 + 0.1 * done, "What each rule costs"),
    )
    return [{**one, "costs": costs} if one is sound else one for one in chosen]


def _best_models(
    search: _Search, places: sizing.LayoutSearch
) -> tuple[sizing.LayoutProposal | None, tuple[str, ...]]:
    """Return the best packing and the models it may use: all together, or the best one alone."""
    if not search.options.one_model:
        return places.best(), places.type_names
    best, names = None, places.type_names[:1]
    for name in places.type_names:
        made = places.best(type_names=(name,), floor_kwh=best.worth_kwh if best else 0.0)
        if made is not None:
            best, names = made, (name,)
    return best, names


def _fewer_and_fewer(
    search: _Search, places: sizing.LayoutSearch, best: sizing.LayoutProposal, names: tuple[str, ...]
) -> Iterator[Candidate]:
    """Yield the best layout, then one panel fewer each time while it still gives nearly as much."""
    proposal: sizing.LayoutProposal | None = best
    most = 0.0
    for tried in range(MOST_TRIES):
        assert proposal is not None
        candidate = _judged(search, proposal, "most", "Most energy")
        yield candidate
        if not _is_flawed(candidate):
            most = max(most, candidate["mean_kwh"])
            if candidate["mean_kwh"] < LEAN * most:
                return
        fewer = len(proposal.panels) - 1
        if not fewer or not search.tell(0.5 + 0.4 * tried / MOST_TRIES, f"{fewer} panels"):
            return
        proposal = places.best(panels_max=fewer, type_names=names)
        if proposal is None:
            return


def _other(
    search: _Search, places: sizing.LayoutSearch, best: sizing.LayoutProposal, names: tuple[str, ...]
) -> Candidate | None:
    """Return the best layout of one other model, or of one model where several were mixed."""
    used = {item.panel.type_name for item in best.panels}
    if search.options.one_model:
        rest = [name for name in places.type_names if name not in names]
    else:
        rest = list(places.type_names) if len(used) > 1 else []
    title = "Another model" if search.options.one_model else "One model"
    found = [one for name in rest if (one := _of_one_model(search, places, name, title)) is not None]
    return max(found, key=lambda one: (not _is_flawed(one), one["mean_kwh"]), default=None)


def _of_one_model(search: _Search, places: sizing.LayoutSearch, name: str, title: str) -> Candidate | None:
    """Return the best layout of one model; with a panel fewer where the full count cannot be wired well."""
    full = places.best(type_names=(name,))
    if full is None:
        return None
    candidate, count = _judged(search, full, "other", title), len(full.panels)
    if _is_flawed(candidate) and count > 1:
        fewer = places.best(type_names=(name,), panels_max=count - 1)
        second = _judged(search, fewer, "other", title) if fewer else candidate
        return candidate if _is_flawed(second) else second
    return candidate


def _chosen(
    tried: list[Candidate], other: Candidate | None, by_hand: Candidate | None = None
) -> list[Candidate]:
    """Return the most energy, the fewest panels that give nearly as much, and one of another kind.

    The roof as it is drawn comes first where nothing sound gives more. What is blocked or cannot be wired
    stands last.
    """
    standing = [one for one in tried if not _is_flawed(one)] or tried[:1]
    most = max(standing, key=lambda one: one["mean_kwh"])
    near = [one for one in standing if one["mean_kwh"] >= LEAN * most["mean_kwh"]]
    lean = min(near, key=lambda one: (one["panels"], -one["mean_kwh"]))
    chosen = [most]
    if lean["panels"] < most["panels"]:
        chosen.append({**lean, "key": "lean", "title": "Fewest panels for nine tenths of it"})
    if other is not None:
        chosen.append(other)
    sound = [one["mean_kwh"] for one in chosen if not _is_flawed(one)]
    if by_hand is not None and by_hand["mean_kwh"] > max(sound, default=0.0):
        chosen.insert(0, by_hand)
    return _ranked(chosen)


def _ranked(chosen: list[Candidate]) -> list[Candidate]:
    """Return the candidates, what is blocked or unwired last, with titles that stand by themselves."""
    ranked = sorted(chosen, key=_is_flawed)
    first = ranked[0]
    if first is chosen[0] or _is_flawed(first):
        return ranked
    return [{**first, "title": "Most energy that can be built"}, *ranked[1:]]


def _judged(search: _Search, proposal: sizing.LayoutProposal, key: str, title: str) -> Candidate:
    """Return a proposal in the best of its wirings, judged and measured as the workspace does."""
    found = _laid(search, [*search.kept["panels"], *_rows(search, proposal)], key, title)
    search.judged.append((found["layout"], proposal))
    return {
        **found,
        "gap_fraction": proposal.gap_fraction,
        "is_proved": proposal.is_proved,
        "n_places": proposal.n_candidates,
        "grid_m": FIRST_GRID_M if key == "first" else grid_m(search.options),
    }


def as_drawn(search: _Search) -> Candidate | None:
    """Return the roof as somebody drew it, wired as well as can be; None where it breaks a rule or an option.

    Every layout check must pass, as it does for what the search lays.
    """
    options, roof = search.options, search.design.roof
    parts = {panel.model.part_id for panel in roof.panels}
    allowed = {model.part_id for model in search.models.values()}
    most = options.panels_max or MOST_ON_ROOF
    if options.keep_placed or not parts or not parts <= allowed or len(roof.panels) > most:
        return None
    if (options.one_model and len(parts) > 1) or (options.on_rafters and not _stand_on_rafters(roof)):
        return None
    layout = design_layout(roof)
    if layout is None or any(one.check.verdict != "pass" for one in layout_findings(layout)):
        return None
    state = layout_state(roof)
    found = _laid(search, state["panels"], "drawn", "As drawn now", state["strings"])
    return None if _is_flawed(found) else {**found, "gap_fraction": None, "grid_m": grid_m(options)}


def _stand_on_rafters(roof: RoofState) -> bool:
    """Return whether every panel finds a rafter near both ends, as the search asks of its own."""
    layout = design_layout(roof)
    if layout is None:
        return False
    rafters_m = [x / 1000 for x in layout.roof.rafters]
    return all(
        sizing.finds_rafters([panel.box.x0 / 1000], panel.box.length / 1000, rafters_m).all()
        for panel in layout.panels
    )


def _laid(
    search: _Search,
    rows: list[dict[str, Any]],
    key: str,
    title: str,
    wired: list[dict[str, Any]] | None = None,
) -> Candidate:
    """Return panels in the best of their wirings (``wired`` is one to try), judged and measured."""
    roof = search.design.roof
    labels = [one.label for one in roof.controllers]
    known = {model.part_id: model for model in search.models.values()}
    known |= {panel.model.part_id: panel.model for panel in roof.panels}
    stored = roof.panels if search.options.keep_placed or wired is not None else ()
    bare = read_layout({"panels": rows, "strings": []}, known, labels, stored)
    every = [
        read_layout({"panels": rows, "strings": strings}, known, labels, stored)
        for strings in (*ways_to_wire(search.design, bare), *([wired] if wired else []))
    ]
    best = max((_wired(search, edit) for edit in every), key=_merit)
    roof = layout_try(search.design, best["edit"]).roof
    state = layout_state(roof)
    return {
        "key": key,
        "title": title,
        "layout": {"panels": state["panels"], "strings": state["strings"]},
        "drawing": small_plan_svg(roof, f"{title}, {len(rows)} panels"),
        **best["facts"],
        "is_unwired": bool(labels) and not state["strings"],
        **_measures(roof),
    }


def _wired(search: _Search, edit: RoofEdit) -> dict[str, Any]:
    """Return a wiring with what it gives in a year and what stands against it."""
    design = layout_try(search.design, edit)
    answer, energy = live_answer(design), live_energy(design)
    judged = [*answer["rules"], *((answer["strings"] or {}).get("said", [])), *answer.get("roof", [])]
    judged.sort(key=lambda one: _WORST_FIRST.index(one["verdict"]))
    facts = {
        "mean_kwh": 0.0,
        **(energy["year"] or {}),
        "verdict": judged[0]["verdict"] if judged else "pass",
        "said": [
            {"verdict": one["verdict"], "words": one["sentence"] or one["title"]}
            for one in judged[:MOST_SENTENCES]
        ],
        "more": max(0, len(judged) - MOST_SENTENCES),
        "unsized": answer.get("unsized", ""),
        "plan": plan_words(layout_state(design.roof)["strings"]) if edit.strings else "",
    }
    return {"edit": edit, "facts": facts, "against": [one["verdict"] for one in judged]}


def _merit(wired: dict[str, Any]) -> tuple[int, int, float]:
    """Return what makes a wiring better: no block, nothing unknown, energy less a little a caution."""
    count = wired["against"].count
    kwh = wired["facts"]["mean_kwh"] * (1.0 - CAUTION_COST * count("caution"))
    return -count("block"), -count("not_enough_data"), kwh


def _is_flawed(candidate: Candidate) -> bool:
    """Return whether something blocks a layout, or its panels could not be wired to their controllers."""
    return bool(candidate["verdict"] == "block" or candidate["is_unwired"])


def _rows(search: _Search, proposal: sizing.LayoutProposal) -> list[dict[str, Any]]:
    """Return the new panels in the shape of the workspace, with the lowest free numbers."""
    taken = {row["number"] for row in search.kept["panels"]}
    free = (number for number in range(1, 1000) if number not in taken)
    return [_row(search.models[item.panel.type_name], item.panel, next(free)) for item in proposal.panels]


def _row(model: PanelModel, panel: Any, number: int) -> dict[str, Any]:
    sheet = model.sheet
    return {
        "number": number,
        "part": model.part_id,
        "x_mm": round(panel.x_m * 1000, 1),
        "y_mm": round(panel.y_m * 1000, 1),
        "turned": panel.rot_deg == 90,
        "height_mm": round(HEIGHT_M * 1000, 1),
        "feet": feet_needed(sheet.length_m, sheet.width_m),
        "fasteners": FASTENERS,
    }


def _measures(roof: RoofState) -> dict[str, Any]:
    """Return what can be counted and weighed: panels, watts, feet, holes, mass, leads on the roof."""
    panels, layout = roof.panels, design_layout(roof)
    return {
        "panels": len(panels),
        "models": dict(_models(panels)),
        "power_w": sum(panel.model.sheet.pmp_w for panel in panels),
        "feet": sum(panel.feet for panel in panels),
        "feet_on_rafter": layout.feet_near_rafters if layout else 0,
        "has_rafters": bool(layout and layout.roof.rafters),
        "holes": sum(panel.feet * panel.fasteners_per_foot for panel in panels),
        "mass_kg": round(sum(panel.model.mass_kg for panel in panels), 1),
        "wire_m": roof_leads_m(roof),
    }


def _models(panels: Iterable[RoofPanel]) -> Iterator[tuple[str, int]]:
    counts = Counter(panel.model.part_id for panel in panels)
    yield from ((str(part_id), count) for part_id, count in counts.items())
