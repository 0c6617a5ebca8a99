"""How one roof is asked for several layouts: places are valued once, then packed as often as asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from sizing.shade.layout.best import laid_panels
from sizing.shade.layout.candidates import find_candidates, places_to_try
from sizing.shade.layout.packing import pack_ways
from sizing.shade.scene.lay_rules import LayoutProposal, LayoutRules, RuleCost
from sizing.shade.scene.scene import NoFreePlace, PlacedPanel, SceneInput
from sizing.shade.sky.weather import daylight_for

Progress = Callable[[float, str], bool]


class LayoutSearch:
    """The places of a roof with what each is worth in a year, ready to be packed under different limits.

    Parameters
    ----------
    scene : SceneInput
        Roof, objects, place, weather and panel types. Lengths [m].
    rules : LayoutRules or None
        Grid and clearances [m], penalties [kWh], ways to walk, panels that stay.
    drawn : iterable of PlacedPanel or None
        Panels somebody laid: where they keep the rules their places are tried as they lie, so that the best
        is never worth less. None takes the panels of the scene, unless these stay.
    progress : callable or None
        Called with the share done (0 to 1) and a word; returning False ends the search.

    Raises
    ------
    SceneError
        If a rule is out of range; NoFreePlace if no panel fits anywhere.
    SearchStopped
        If ``progress`` returned False while the places were valued.

    References
    ----------
    .. [1] The same method as :func:`search_layout`.
    """

    def __init__(
        self,
        scene: SceneInput,
        rules: LayoutRules | None = None,
        *,
        drawn: Iterable[PlacedPanel] | None = None,
        progress: Progress | None = None,
    ) -> None:
        self.rules = rules or LayoutRules()
        self.rules.check()
        if drawn is None:
            drawn = () if self.rules.keep_placed else scene.panels
        self.found = find_candidates(scene, self.rules, daylight_for(scene), progress, drawn)
        self.progress = progress

    @property
    def type_names(self) -> tuple[str, ...]:
        """Return the panel types that fit somewhere."""
        return tuple(
            name for i, name in enumerate(self.found.type_names) if (self.found.type_index == i).any()
        )

    def best(
        self, *, panels_max: int | None = None, type_names: Sequence[str] = (), floor_kwh: float = 0.0
    ) -> LayoutProposal | None:
        """Return the layout worth most; None where nothing is worth its penalties or beats ``floor_kwh``.

        ``panels_max`` limits the count, ``type_names`` the models; none named means all.
        """
        rules = self.rules if panels_max is None else replace(self.rules, panels_max=panels_max)
        wanted = [i for i, name in enumerate(self.found.type_names) if not type_names or name in type_names]
        places = np.flatnonzero(np.isin(self.found.type_index, wanted))
        part = self.found.take(places)
        packing = pack_ways(part, rules, self.progress, floor_kwh=floor_kwh)
        if not len(packing.chosen) or packing.worth_kwh <= floor_kwh:
            return None
        return LayoutProposal(
            panels=tuple(laid_panels(part, packing.chosen, rules.panel_z_m)),
            worth_kwh=packing.worth_kwh,
            bound_kwh=packing.bound_kwh,
            gap_fraction=max(0.0, packing.bound_kwh / packing.worth_kwh - 1.0),
            is_proved=packing.is_proved,
            n_candidates=len(places),
        )


def rule_cost(
    scene: SceneInput,
    base: LayoutProposal,
    relaxed: LayoutRules,
    *,
    panels_max: int | None = None,
    type_names: Sequence[str] = (),
) -> RuleCost:
    """Return what a layout could gain if a rule were let go once.

    Parameters
    ----------
    scene : SceneInput
        As the layout was asked for; lengths [m].
    base : LayoutProposal
        The layout under all rules; its own places are tried again, so that nothing is lost.
    relaxed : LayoutRules
        The same rules without the one that is asked about; a coarse grid and a short time are enough, since
        more panels show in the places that touch.
    panels_max, type_names
        As the layout was asked for.

    Returns
    -------
    RuleCost
        Panels and energy [kWh/year] more; at least that much, since only some places are tried.

    Raises
    ------
    SceneError
        If a rule is out of range.

    References
    ----------
    .. [1] The same method as :func:`search_layout`.
    """
    laid = tuple(item.panel for item in base.panels)
    kwh = sum(item.own_kwh for item in base.panels)
    if most_panels(scene, relaxed, laid, type_names) <= len(laid):
        return RuleCost(0, 0.0)
    search = LayoutSearch(scene, relaxed, drawn=laid)
    found = search.best(panels_max=panels_max, type_names=type_names)
    if found is None or len(found.panels) <= len(laid):
        return RuleCost(0, 0.0)
    return RuleCost(len(found.panels) - len(laid), sum(item.own_kwh for item in found.panels) - kwh)


def most_panels(
    scene: SceneInput, rules: LayoutRules, drawn: Iterable[PlacedPanel], type_names: Sequence[str]
) -> int:
    """Return how many panels no layout of the places tried passes: quick, because nothing is valued."""
    rules.check()
    try:
        places = places_to_try(scene, rules, drawn)
    except NoFreePlace:
        return 0
    wanted = [not type_names or places.type_names[i] in type_names for i in places.type_index]
    found = places.take(np.flatnonzero(wanted))
    n = len(found.type_index)
    alike = replace(found, own_kwh=np.ones(n), penalty_kwh=np.zeros(n))
    return math.floor(pack_ways(alike, rules).bound_kwh + 1e-3)
