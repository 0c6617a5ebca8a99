"""Knows how the numbers of a year become plain sentences, one finding each."""

from __future__ import annotations

from sizing.shade.fast import Shadows
from sizing.shade.place import Place
from sizing.shade.results import Finding, ShadeResult
from sizing.shade.scene import SceneInput, Wiring

WORTH_SAYING = 0.01  # of the unshaded year


def find_sentences(
    scene: SceneInput, place: Place, shadows: Shadows, wiring: Wiring, result: ShadeResult
) -> tuple[Finding, ...]:
    """Return the findings, those worth most first."""
    found = [*_obstruction_findings(result)]
    return tuple(sorted(found, key=lambda finding: -finding.gain_kwh))


def _obstruction_findings(result: ShadeResult) -> list[Finding]:
    made = []
    for thing in result.obstructions:
        if thing.cost_fraction >= WORTH_SAYING:
            made.append(
                Finding(
                    "obstruction",
                    f"The {thing.name} costs {thing.cost_kwh:.0f} kWh a year ({100 * thing.cost_fraction:.1f} %), "
                    f"mostly on panel {', '.join(thing.panel_ids)}.",
                    thing.cost_kwh,
                    thing.panel_ids,
                    thing.name,
                )
            )
    return made
