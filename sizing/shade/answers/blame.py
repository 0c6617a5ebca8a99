"""Which thing on the roof shades each string, and when: the one sentence that says why a plan loses."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sizing.shade.answers.compass import compass_word
from sizing.shade.answers.sides import node_losses, parts_of_day
from sizing.shade.engine.fast import Shadows, WiringYear, cast_shadows, wiring_year
from sizing.shade.engine.geometry import build_layout
from sizing.shade.engine.known_place import place_for
from sizing.shade.engine.place import Place
from sizing.shade.scene.chosen_wiring import with_wiring
from sizing.shade.scene.scene import FloatArray, Obstruction, SceneInput, Wiring

PARTS: Final = ("in the morning", "around noon", "in the afternoon")
ALL_DAY: Final = "all day"
#: A part of the day is told from this share of its energy lost. [-]
WORTH_TELLING: Final = 0.03
#: A thing is named for a part where taking it away gives back at least this share of the loss. [-]
WORTH_NAMING: Final = 0.3


@dataclass(frozen=True, slots=True)
class PartBlame:
    """One part of the day: what it loses at the worst heading, and to what (empty: to several things)."""

    when: str
    lost_fraction: float
    name: str


@dataclass(frozen=True, slots=True)
class StringBlame:
    """One string of the wiring, counted from 0 over all controllers; ``words`` follow its name."""

    index: int
    panel_ids: tuple[str, ...]
    heading_deg: float
    lost_kwh: float
    parts: tuple[PartBlame, ...]
    words: str


def string_blame(scene: SceneInput, *, wiring: str | None = None) -> tuple[StringBlame, ...]:
    """Return what shades each string at its wiring's worst parking direction, the hardest hit first.

    Parameters
    ----------
    scene : SceneInput
        The roof.
    wiring : str or None
        Name of the wiring; ``None`` takes the first.

    Returns
    -------
    tuple of StringBlame
        Strings that lose at least 3 % of a morning, noon or afternoon; losses at that heading [kWh/year].

    Raises
    ------
    SceneError
        If the weather cannot be read.

    Notes
    -----
    A thing is blamed by taking it off the roof: what the string then gains in a part of the day is its doing.
    Where no single thing gives back 30 % of the loss, the part is blamed on several things together.

    References
    ----------
    .. [1] The same method as :func:`shade_year`; a difference of two years.
    """
    scene = with_wiring(scene)
    chosen = next((one for one in scene.wirings if one.name == wiring), scene.wirings[0])
    layout = build_layout(scene)
    place = place_for(scene, layout)
    shadows = cast_shadows(place, layout)
    year = wiring_year(place, shadows, chosen)
    heading = int(year.by_heading_kwh.argmin())
    lost, could = _by_string(place, shadows, chosen, year, heading)
    relief = np.zeros((len(scene.obstructions), *lost.shape))
    for k in range(len(relief)):
        relief[k] = lost - _without(scene, place, chosen, k, heading)
    degrees = float(place.headings_deg[heading])
    strings = [string for controller in chosen.controllers for string in controller.strings]
    made = []
    for index, panel_ids in enumerate(strings):
        parts = _told(lost[index], could[index], relief[:, index], scene.obstructions)
        if parts:
            total = float(lost[index].sum())
            words = _words(parts, degrees)
            made.append(StringBlame(index, panel_ids, degrees, total, parts, words))
    return tuple(sorted(made, key=lambda one: -one.lost_kwh))


def _by_string(
    place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear, heading: int
) -> tuple[FloatArray, FloatArray]:
    """Return energy lost and possible (string, part of the day) at one heading [kWh/year]."""
    parts = parts_of_day(place, shadows, node_losses(place, shadows, wiring, year), heading)
    spots = [
        [shadows.layout.index(one) for one in string]
        for controller in wiring.controllers
        for string in controller.strings
    ]
    lost = np.stack([parts.lost[rows].sum(axis=0) for rows in spots])
    return lost, np.stack([parts.could[rows].sum(axis=0) for rows in spots])


def _without(scene: SceneInput, place: Place, wiring: Wiring, index: int, heading: int) -> FloatArray:
    """Return what is lost (string, part of the day) with one thing off the roof."""
    rest = tuple(thing for k, thing in enumerate(scene.obstructions) if k != index)
    cleared = cast_shadows(place, build_layout(replace(scene, obstructions=rest)))
    return _by_string(place, cleared, wiring, wiring_year(place, cleared, wiring), heading)[0]


def _told(
    lost: FloatArray, could: FloatArray, relief: FloatArray, things: tuple[Obstruction, ...]
) -> tuple[PartBlame, ...]:
    """Return the parts of the day worth telling, each with the thing that costs it most."""
    made = []
    for part, when in enumerate(PARTS):
        share = float(lost[part] / could[part]) if could[part] > 0.0 else 0.0
        if share < WORTH_TELLING:
            continue
        worst = int(relief[:, part].argmax()) if len(relief) else -1
        is_named = worst >= 0 and relief[worst, part] >= WORTH_NAMING * lost[part]
        thing = things[worst] if is_named else None
        name = "" if thing is None else thing.name or f"{thing.kind.value} {worst + 1}"
        made.append(PartBlame(when, share, name))
    return tuple(made)


def _words(parts: tuple[PartBlame, ...], heading_deg: float) -> str:
    """Return the sentence that follows the string's name."""
    by_name: dict[str, list[PartBlame]] = {}
    for part in parts:
        by_name.setdefault(part.name, []).append(part)
    blamed = [
        f"{ALL_DAY if len(told) == len(PARTS) else _listed([part.when for part in told])}"
        f" by {f'the {name}' if name else 'several things together'}"
        for name, told in by_name.items()
    ]
    shares = [f"{100 * part.lost_fraction:.0f}% {part.when}" for part in parts]
    return (
        f"is shaded {_listed(blamed)}: parked nose {compass_word(heading_deg)}, the worst direction, "
        f"it loses {_listed(shares)}."
    )


def _listed(words: list[str]) -> str:
    """Return words as a list: a, b and c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
