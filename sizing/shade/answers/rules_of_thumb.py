"""Common rules of thumb about shade, each answered with one roof's own numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from sizing.shade.answers.compass import compass_word
from sizing.shade.answers.findings import panel_words
from sizing.shade.answers.wirings import mean_weight
from sizing.shade.engine.fast import Shadows, WiringYear, cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.known_place import place_for
from sizing.shade.engine.place import Place, build_place
from sizing.shade.scene.chosen_wiring import main_wiring, own_wiring, with_wiring
from sizing.shade.scene.footprint import footprint, rectangle
from sizing.shade.scene.results import Finding
from sizing.shade.scene.scene import (
    Cell,
    Controller,
    FloatArray,
    Obstruction,
    PanelType,
    PlacedPanel,
    SceneInput,
    TrackerKind,
    Wiring,
)
from sizing.shade.sky.weather import daylight_for

SAME = 0.003  # of the year: two answers closer than this count as equal, as in the ranking of wirings
NEAR_DEG = 8.0  # a heading this close to a compass point stands for it
MOST_TURNED = 8  # panels tried turned on their spot: each is a full pass
TOUCH_M2 = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """The roof, its maps, the wiring the rules are held against and that wiring's year."""

    scene: SceneInput
    place: Place
    shadows: Shadows
    wiring: Wiring
    year: WiringYear

    def energy(self, wiring: Wiring) -> float:
        """Return another wiring's year from the same maps [kWh]."""
        return wiring_year(self.place, self.shadows, wiring).mean_kwh

    @property
    def wired(self) -> tuple[str, ...]:
        """Return the wired panels."""
        return tuple(i for c in self.wiring.controllers for string in c.strings for i in string)


def folk_answers(scene: SceneInput, *, main: str | None = None) -> tuple[Finding, ...]:
    """Return what common rules of thumb are worth on one roof, a sentence each.

    Parameters
    ----------
    scene : SceneInput
        The roof. [SI units]
    main : str or None
        Name of the wiring the rules are held against; ``None`` takes the first. [-]

    Returns
    -------
    tuple of Finding
        Kind ``folk``, one sentence with energies [kWh/year]; ``gain_kwh`` is what following the rule would
        give more (below 0: less) than the wiring as it is, 0 where nothing is to be changed. Rules that say
        nothing about this roof are left out.

    Raises
    ------
    SceneError
        If ``main`` names no wiring of the scene.

    Notes
    -----
    Wirings are taken from the same maps as the year; half-cut cells and turned panels need maps of their own.
    "Same" means within 0.3 % of the year.

    References
    ----------
    .. [1] The rules are common practice, no source; the answers rest on :func:`shade_year`'s method.
    """
    scene = with_wiring(scene)
    wiring = main_wiring(scene, main)
    layout = build_layout(scene)
    place = place_for(scene, layout)
    shadows = cast_shadows(place, layout)
    asked = _Asked(scene, place, shadows, wiring, wiring_year(place, shadows, wiring))
    rules = (_series, _parallel, _own_trackers, _half_cut, _distance, _lengthwise, _south)
    return tuple(found for rule in rules for found in rule(asked))


def _said(sentence: str, gain_kwh: float = 0.0, panels: tuple[str, ...] = (), thing: str = "") -> Finding:
    return Finding("folk", sentence, gain_kwh, panels, thing)


def _change(gain_kwh: float, of_kwh: float) -> str:
    """Return a change in words: 12 kWh a year (1.2 %) more."""
    share = 100.0 * abs(gain_kwh) / of_kwh if of_kwh > 0 else 0.0
    return f"{abs(gain_kwh):,.0f} kWh a year ({share:.1f}%) {'more' if gain_kwh > 0 else 'less'}"


def _verdict(gain_kwh: float, of_kwh: float) -> str:
    """Return whether a rule that promises a gain holds."""
    if abs(gain_kwh) <= SAME * of_kwh:
        return "makes no difference here"
    return "holds here" if gain_kwh > 0 else "is wrong here"


def _free_tracker(asked: _Asked) -> Controller:
    """Return the first controller at its best peak, with no limit above: only the shade is to speak."""
    first = asked.wiring.controllers[0]
    low = 0.0 if first.kind == TrackerKind.PWM else first.v_min_v
    return Controller(strings=(), v_min_v=low, v_max_v=1e4, is_blocking=first.is_blocking)


def _both_ends(asked: _Asked) -> tuple[float, float]:
    """Return the energy of all panels in one string, and of all in parallel."""
    make, wired = _free_tracker(asked), asked.wired
    series = replace(make, strings=(wired,))
    parallel = replace(make, strings=tuple((i,) for i in wired))
    return asked.energy(Wiring("series", (series,))), asked.energy(Wiring("parallel", (parallel,)))


def _series(asked: _Asked) -> Iterator[Finding]:
    if len(asked.wired) < 2:
        return
    series, parallel = _both_ends(asked)
    yield _said(
        f'"Series is worse in shade" {_verdict(parallel - series, asked.year.mean_kwh)}: all panels in one '
        f"string would give {_change(series - parallel, parallel)} than all in parallel, on a controller "
        "that takes such volts and amps."
    )


def _parallel(asked: _Asked) -> Iterator[Finding]:
    is_parallel = len(asked.wiring.controllers) == 1 and all(
        len(string) == 1 for string in asked.wiring.controllers[0].strings
    )
    if len(asked.wired) < 2 or is_parallel:
        return
    gain = _both_ends(asked)[1] - asked.year.mean_kwh
    yield _said(
        f'"All in parallel is best" {_verdict(gain, asked.year.mean_kwh)}: it would give '
        f"{_change(gain, asked.year.mean_kwh)} than {asked.wiring.name}.",
        gain,
    )


def _own_trackers(asked: _Asked) -> Iterator[Finding]:
    more = len(asked.wired) - len(asked.wiring.controllers)
    if more < 1:
        return
    gain = asked.energy(own_wiring(asked.wired)) - asked.year.mean_kwh
    word = "earns nothing here" if gain <= SAME * asked.year.mean_kwh else "earns something here"
    yield _said(
        f'"One controller per panel pays" {word}: {more} more would give '
        f"{_change(gain, asked.year.mean_kwh)} than {asked.wiring.name}, before their price and wire.",
        gain,
    )


def _half_cut(asked: _Asked) -> Iterator[Finding]:
    """Cut every cell in two (or join the halves) and ask again: same size, same power, same volts."""
    kinds = {asked.scene.panel_type(panel) for panel in asked.scene.panels}
    halves = {kind.halves for kind in kinds}
    if len(halves) != 1:
        return
    is_cut = halves == {2}
    other = {name: _joined(k) if is_cut else _cut(k) for name, k in asked.scene.panel_types.items()}
    scene = replace(asked.scene, panel_types=other)
    layout = build_layout(scene)
    place = build_place(scene, layout, daylight_for(scene))
    theirs = wiring_year(place, cast_shadows(place, layout), asked.wiring).mean_kwh
    ours = asked.year.mean_kwh
    gain = ours - theirs if is_cut else theirs - ours
    side = "whole cells would give" if is_cut else "the same panels with half cells would give"
    yield _said(
        f'"Half cells are better in shade" {_verdict(gain, ours)}: {side} {_change(theirs - ours, ours)}.',
        0.0 if is_cut else gain,
    )


def _scaled(cell: Cell, area: float) -> Cell:
    """Return a cell of so many times the area."""
    return replace(
        cell,
        light_current_a=cell.light_current_a * area,
        saturation_current_a=cell.saturation_current_a * area,
        alpha_a_per_k=cell.alpha_a_per_k * area,
        series_ohm=cell.series_ohm / area,
        shunt_ohm=cell.shunt_ohm / area,
    )


def _cut(kind: PanelType) -> PanelType:
    """Return a panel whose cells are halved along x, in two branches in parallel."""
    return replace(kind, nx=2 * kind.nx, halves=2, cell=_scaled(kind.cell, 0.5))


def _joined(kind: PanelType) -> PanelType:
    """Return a half-cut panel with whole cells in one branch."""
    return replace(kind, nx=kind.nx // 2, halves=1, cell=_scaled(kind.cell, 2.0))


def _distance(asked: _Asked) -> Iterator[Finding]:
    """Ask what the costliest thing takes from panels that keep its height as distance."""
    scene, layout = asked.scene, asked.shadows.layout
    own, weight = own_wiring(layout.panel_ids), mean_weight(asked.place, asked.shadows).reshape(-1)
    now = wiring_year(asked.place, asked.shadows, own).power_w @ weight
    costs = []
    for index in range(len(scene.obstructions)):
        rest = tuple(o for i, o in enumerate(scene.obstructions) if i != index)
        lighter = build_layout(replace(scene, obstructions=rest))
        cleared = cast_shadows(asked.place, lighter)
        costs.append(wiring_year(asked.place, cleared, own).power_w @ weight - now)
        del cleared  # megabytes: not two at a time
    worst = max(range(len(costs)), key=lambda i: float(costs[i].sum()), default=None)
    if worst is not None and costs[worst].sum() > SAME * now.sum():
        yield _far(scene, scene.obstructions[worst], costs[worst], now)


def _far(scene: SceneInput, thing: Obstruction, cost: FloatArray, now: FloatArray) -> Finding:
    """Say what a thing takes from the panels further away than it stands above them."""
    shape, top = footprint(thing), thing.z0_m + thing.h_m
    is_far = np.array(
        [shape.distance(rectangle(scene, panel)) >= top - panel.z_m - 1e-6 for panel in scene.panels]
    )
    rule, high = '"Keep panels as far off as a thing is high"', f"the {thing.name}"
    if not is_far.any():
        return _said(f"{rule}: no panel here keeps that distance from {high}.", thing=thing.name)
    lost, could = float(cost[is_far].sum()), float((now + cost)[is_far].sum())
    ids = tuple(panel.id for panel, far in zip(scene.panels, is_far, strict=True) if far)
    verdict = "is not enough here" if lost > SAME * could else "is enough here"
    who = f"{len(ids)} panels keep" if len(ids) > 3 else f"{panel_words(ids)} keep{'s' * (len(ids) == 1)}"
    lose = "loses" if len(ids) == 1 else "lose"
    sentence = (
        f"{rule} {verdict}: {who} it from {high} and {lose} {max(lost, 0.0):,.0f} kWh a year "
        f"({100 * max(lost, 0.0) / max(could, 1e-9):.1f}%) to it, each on a tracker of its own."
    )
    return _said(sentence, panels=ids, thing=thing.name)


def _lengthwise(asked: _Asked) -> Iterator[Finding]:
    """Turn each panel a quarter on its spot, where it fits, and tell of the one that matters most."""
    tried: list[tuple[float, PlacedPanel]] = []
    for p, panel in enumerate(asked.scene.panels):
        turned = _turned(asked.scene, panel)
        if len(tried) < MOST_TURNED and turned is not None and panel.id in asked.wired:
            panels = tuple(turned if i == p else one for i, one in enumerate(asked.scene.panels))
            shadows = cast_shadows(asked.place, build_layout(replace(asked.scene, panels=panels)))
            tried.append((wiring_year(asked.place, shadows, asked.wiring).mean_kwh, panel))
    if not tried:
        return
    kwh, panel = max(tried, key=lambda one: abs(one[0] - asked.year.mean_kwh))
    gain = kwh - asked.year.mean_kwh
    along = _is_lengthwise(asked.scene, panel)
    yield _said(
        f'"Lay panels lengthwise" {_verdict(-gain if along else gain, asked.year.mean_kwh)}: '
        f"panel {panel.id} turned {'across' if along else 'lengthwise'} on its spot would give "
        f"{_change(gain, asked.year.mean_kwh)}.",
        gain,
        (panel.id,),
    )


def _is_lengthwise(scene: SceneInput, panel: PlacedPanel) -> bool:
    kind = scene.panel_type(panel)
    return (kind.len_x_m >= kind.len_y_m) == (panel.rot_deg == 0)


def _turned(scene: SceneInput, panel: PlacedPanel) -> PlacedPanel | None:
    """Return a flat panel turned about its middle; None where it would not fit there."""
    kind = scene.panel_type(panel)
    if panel.tilt_deg or kind.len_x_m == kind.len_y_m:
        return None
    middle = rectangle(scene, panel).centroid
    size = (kind.len_y_m, kind.len_x_m) if panel.rot_deg == 0 else (kind.len_x_m, kind.len_y_m)
    x, y = middle.x - size[0] / 2, middle.y - size[1] / 2
    turned = replace(panel, rot_deg=90 - panel.rot_deg, x_m=x, y_m=y)
    shape = rectangle(scene, turned)
    others = [rectangle(scene, one) for one in scene.panels if one.id != panel.id]
    others += [footprint(thing) for thing in scene.obstructions]
    is_on_roof = shapely.box(0.0, 0.0, scene.roof.len_x_m, scene.roof.len_y_m).covers(shape)
    return turned if is_on_roof and all(shape.intersection(o).area < TOUCH_M2 for o in others) else None


def _south(asked: _Asked) -> Iterator[Finding]:
    """Hold the nose toward the equator against the other headings."""
    wanted = 180.0 if asked.scene.site.latitude_deg >= 0 else 0.0
    headings, by_heading = np.asarray(asked.scene.headings_deg), asked.year.by_heading_kwh
    off = np.abs((headings - wanted + 180.0) % 360.0 - 180.0)
    if off.min() > NEAR_DEG or len(headings) < 4:
        return
    there, best = float(by_heading[off.argmin()]), int(by_heading.argmax())
    gain, word = there - asked.year.mean_kwh, compass_word(wanted)
    rule = f'"Park with the nose {word}" {_verdict(gain, asked.year.mean_kwh)}: it gives '
    more = float(by_heading[best]) - there
    rest = f"best is nose {compass_word(float(headings[best]))}, {more:,.0f} kWh above it"
    if more < 0.5:
        rest = "no direction gives more"
    yield _said(f"{rule}{_change(gain, asked.year.mean_kwh)} than the mean of all directions; {rest}.")
