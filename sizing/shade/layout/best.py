"""Lays panels on a roof: value every place, pack, wire, bound what could be better."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from string import ascii_uppercase

from sizing.shade.answers.wirings import (
    RankedWiring,
    WiringRanking,
    cold_limits,
    default_controller,
    rank_wirings,
)
from sizing.shade.engine.geometry import kinds_arrays
from sizing.shade.engine.place import rated_power_w
from sizing.shade.layout.candidates import Candidates, find_candidates
from sizing.shade.layout.packing import Packing, pack_ways
from sizing.shade.layout.places import IntArray
from sizing.shade.scene.groupings import StringLimits
from sizing.shade.scene.lay_rules import LaidOut, LaidPanel, LayoutResult, LayoutRules
from sizing.shade.scene.scene import Controller, NoFreePlace, PlacedPanel, SceneError, SceneInput
from sizing.shade.sky.weather import daylight_for

Progress = Callable[[float, str], bool]


def search_layout(
    scene: SceneInput, rules: LayoutRules | None = None, *, progress: Progress | None = None
) -> LayoutResult:
    """Return the layout of panels that gives most in a year, with its best wiring.

    Parameters
    ----------
    scene : SceneInput
        Roof, objects, place, weather and panel types. The panels it has are places to try as they lie, so
        that the answer is never worth less than they are; where the rules keep them they are laid around, and
        the answer is about the new ones alone.
    rules : LayoutRules or None
        Grid and clearances [m], penalties [kWh], limits.
    progress : callable or None
        Called with the share done (0 to 1) and a word; returning False ends the search with the best so far.

    Returns
    -------
    LayoutResult
        Panels, wiring, energies [kWh/year] and gaps [-].

    Raises
    ------
    SceneError
        If a rule is out of range; NoFreePlace if no panel fits anywhere.
    SearchStopped
        If ``progress`` returned False before there was any layout.

    Notes
    -----
    Places are tried on a grid, wherever a panel touches an edge, a clearance or a panel that does, and where
    panels lie already. Each is worth its panel's own-tracker energy there less penalties; flat panels do not
    shade one another, so the worth of a layout is the sum. The best sum is a set packing of true sizes with
    one constraint for each largest set of places that overlap; its bound holds for the places tried, not for
    the roof, and also bounds every wiring of them, since no wiring passes the sum of own trackers.

    References
    ----------
    .. [1] Padberg (1973), On the facial structure of set packing polyhedra, Mathematical Programming 5.
    """
    rules = rules or LayoutRules()
    rules.check()
    day = daylight_for(scene)
    found = find_candidates(scene, rules, day, progress, () if rules.keep_placed else scene.panels)
    packing = pack_ways(found, rules, progress)
    if not len(packing.chosen):
        raise NoFreePlace("rules", "leave no place worth its penalties")
    laid = laid_panels(found, packing.chosen, rules.panel_z_m)
    make = rules.controller or default_controller(scene)
    wired = replace(scene, panels=tuple(item.panel for item in laid), wirings=())
    ranking = _wire(wired, make, rules, progress)
    return _result(wired, found, packing, laid, ranking)


def laid_panels(found: Candidates, chosen: IntArray, z_m: float) -> list[LaidPanel]:
    """Return chosen places as panels, from the rear right on."""
    order = sorted(chosen.tolist(), key=lambda c: (found.step[c, 0], found.step[c, 1]))
    return [
        LaidPanel(
            PlacedPanel(
                id=panel_label(place),
                type_name=found.type_names[found.type_index[c]],
                x_m=round(float(found.corner_m[c, 0]), 8),
                y_m=round(float(found.corner_m[c, 1]), 8),
                z_m=z_m,
                rot_deg=int(found.rot_deg[c]),
            ),
            float(found.own_kwh[c]),
            float(found.penalty_kwh[c]),
        )
        for place, c in enumerate(order)
    ]


def panel_label(place: int) -> str:
    """Return A to Z, then A2 to Z2 ..."""
    again, letter = divmod(place, 26)
    return ascii_uppercase[letter] + (str(again + 1) if again else "")


def _wire(
    scene: SceneInput, make: Controller, rules: LayoutRules, progress: Progress | None
) -> WiringRanking:
    """Return the ranked wirings; unequal strings only where equal ones cannot be made or give nothing."""
    cold = cold_limits(scene, make)
    asked = rules.string_limits
    limits = StringLimits(
        asked.series_min, min(asked.series_max, cold.series_max), asked.strings_max, asked.equal_lengths
    )

    def onward(done: float, words: str) -> bool:
        return progress is None or progress(0.7 + 0.3 * done, words)

    try:
        ranking = rank_wirings(scene, controller=make, limits=limits, top=3, progress=onward)
        if ranking.wirings[0].mean_kwh > 0.0 or not limits.equal_lengths:
            return ranking
    except SceneError:
        pass
    loose = replace(limits, equal_lengths=False)
    return rank_wirings(scene, controller=make, limits=loose, top=3, progress=onward)


def _result(
    scene: SceneInput, found: Candidates, packing: Packing, laid: list[LaidPanel], ranking: WiringRanking
) -> LayoutResult:
    best: RankedWiring = ranking.wirings[0]
    own_map = sum(item.own_kwh for item in laid)
    penalties = sum(item.penalty_kwh for item in laid)
    on_map = best.mean_kwh * own_map / ranking.bound_kwh if ranking.bound_kwh > 0 else best.mean_kwh
    score = on_map - penalties
    gap = max(0.0, packing.bound_kwh / score - 1.0) if score > 0 else 0.0
    layout_gap = max(0.0, packing.bound_kwh / packing.worth_kwh - 1.0)
    tried = f"the {len(found.rot_deg):,} places tried"
    proved = (
        f"Best of {tried}, proved"
        if packing.is_proved
        else f"Within {100 * layout_gap:.1f}% of the best of {tried}"
    )
    words = (
        f"{len(laid)} panels, {best.mean_kwh:,.0f} kWh a year as {best.name}.",
        f"{proved}; with its wiring at most {100 * gap:.1f}% better exists among them.",
        "Other places were not tried.",
    )
    return LayoutResult(
        layout=LaidOut(
            panels=tuple(laid),
            power_stc_w=float(sum(stc_power_w(scene, item.panel) for item in laid)),
            score_kwh=score,
            wiring=best.name,
            strings=best.strings,
            mean_kwh=best.mean_kwh,
            worst_kwh=best.worst_kwh,
            own_trackers_kwh=ranking.bound_kwh,
        ),
        n_candidates=len(found.rot_deg),
        n_searched=packing.n_searched,
        is_proved=packing.is_proved,
        layout_gap_fraction=layout_gap,
        bound_kwh=packing.bound_kwh,
        gap_fraction=gap,
        words=words,
    )


def stc_power_w(scene: SceneInput, panel: PlacedPanel) -> float:
    """Return a panel's best power at 1000 W/m² and 25 °C [W]."""
    return float(rated_power_w(kinds_arrays([scene.panel_type(panel)]))[0])
