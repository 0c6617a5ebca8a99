"""How the numbers of a year become plain sentences, one finding each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sizing.shade.answers.compass import compass_word
from sizing.shade.answers.sides import SIDES, StringSides, string_sides
from sizing.shade.answers.wirings import mean_weight, score_groupings
from sizing.shade.engine.fast import Shadows, WiringYear, wiring_year
from sizing.shade.engine.place import Place
from sizing.shade.scene.groupings import Grouping, swaps
from sizing.shade.scene.results import Finding, ShadeResult
from sizing.shade.scene.scene import FloatArray, SceneInput, TrackerKind, Wiring

WORTH_SAYING = 0.005  # of the unshaded year
BOTH_SIDES = 0.25  # of a string's loss from each of two opposite sides
BOTH_ENDS = 0.03  # of what a string could give, lost in the morning and in the afternoon
OPPOSITE = ((1, 3), (0, 2))


def find_sentences(
    scene: SceneInput, place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear, result: ShadeResult
) -> tuple[Finding, ...]:
    """Return the findings about one wiring, those worth most first."""
    weight = mean_weight(place, shadows)
    sides = string_sides(place, shadows, wiring, year, weight)
    found = [
        *_obstructions(result),
        *_strings(sides, result),
        *_swap(place, shadows, wiring, year, weight),
        *_burdens(result),
        *_parking(result),
        *_light(result),
    ]
    return tuple(sorted(found, key=lambda finding: -finding.gain_kwh))


def _obstructions(result: ShadeResult) -> list[Finding]:
    made = []
    for thing in result.obstructions:
        if thing.cost_fraction < WORTH_SAYING:
            continue
        where = f", mostly on {panel_words(thing.panel_ids)}" if thing.panel_ids else ""
        share = 100 * thing.cost_fraction
        sentence = f"The {thing.name} costs {thing.cost_kwh:,.0f} kWh a year ({share:.1f}%){where}."
        made.append(Finding("obstruction", sentence, thing.cost_kwh, thing.panel_ids, thing.name))
    return made


def panel_words(panel_ids: tuple[str, ...]) -> str:
    """Return panels as words: panel A, or panels A, B and C."""
    if len(panel_ids) == 1:
        return f"panel {panel_ids[0]}"
    return f"panels {', '.join(panel_ids[:-1])} and {panel_ids[-1]}"


def _strings(sides: tuple[StringSides, ...], result: ShadeResult) -> list[Finding]:
    made = []
    for place, (string, year) in enumerate(zip(sides, result.strings, strict=True)):
        if len(string.panel_ids) < 2 or year.loss_fraction < WORTH_SAYING:
            continue
        total = float(string.lost_by_side_kwh.sum())
        for one, two in OPPOSITE:
            shares = string.lost_by_side_kwh[[one, two]] / max(total, 1e-9)
            if shares.min() >= BOTH_SIDES:
                made.append(_two_sided(place, string, (one, two), total))
                break
    return made


def _two_sided(place: int, string: StringSides, pair: tuple[int, int], total: float) -> Finding:
    """Say that a string is shaded from two opposite sides, by which panels, and when at the worst heading."""
    by_panel = string.panel_lost_by_side_kwh[:, pair]
    first = _most_hurt(string, by_panel[:, 0])
    second = _most_hurt(string, by_panel[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.nan_to_num(string.lost_by_part_kwh / string.could_by_part_kwh)
    words = (
        f"String {place + 1} ({', '.join(string.panel_ids)}) loses {total:,.0f} kWh a year and is shaded "
        f"from two sides: with the sun at the {SIDES[pair[0]]} mostly {panel_words(first)}, with the sun at "
        f"the {SIDES[pair[1]]} mostly {panel_words(second)}"
    )
    if share[0] >= BOTH_ENDS and share[2] >= BOTH_ENDS:
        words += (
            f". Parked nose {compass_word(string.heading_deg)} it loses {100 * share[0]:.0f}% of the "
            f"morning (sun {string.side_by_part[0]}) and {100 * share[2]:.0f}% of the afternoon "
            f"(sun {string.side_by_part[2]})"
        )
    return Finding("two_sided_string", words + ".", total, string.panel_ids)


def _most_hurt(string: StringSides, lost: FloatArray) -> tuple[str, ...]:
    order = np.argsort(-lost)
    kept = [string.panel_ids[i] for i in order if lost[i] >= 0.7 * lost[order[0]]]
    return tuple(kept[:2])


def _swap(
    place: Place, shadows: Shadows, wiring: Wiring, year: WiringYear, weight: FloatArray
) -> list[Finding]:
    """Propose the one exchange of two panels between strings of a controller that helps most."""
    best: tuple[float, Wiring, str] | None = None
    for c, controller in enumerate(wiring.controllers):
        if len(controller.strings) < 2 or controller.kind == TrackerKind.PWM:
            continue
        found = _best_swap(place, shadows, wiring, c, weight)
        if found is None:
            continue
        gain = wiring_year(place, shadows, found[0]).mean_kwh - year.mean_kwh
        if gain > WORTH_SAYING * year.mean_unshaded_kwh and (best is None or gain > best[0]):
            best = (gain, found[0], found[1])
    if best is None:
        return []
    strings = " and ".join("-".join(s) for c in best[1].controllers for s in c.strings)
    sentence = f"Swap {best[2]}: strings {strings} give {best[0]:,.0f} kWh a year more for the same parts."
    return [Finding("swap", sentence, best[0], tuple(best[2].split(" and ")))]


def _best_swap(
    place: Place, shadows: Shadows, wiring: Wiring, c: int, weight: FloatArray
) -> tuple[Wiring, str] | None:
    layout = shadows.layout
    controller = wiring.controllers[c]
    now: Grouping = tuple(tuple(sorted(layout.index(i) for i in string)) for string in controller.strings)
    around = swaps(now)
    if not around:
        return None
    scores = score_groupings(place, shadows, replace(controller, strings=()), around, weight)
    chosen = around[int(scores.argmax())]
    strings = tuple(tuple(layout.panel_ids[p] for p in string) for string in chosen)
    controllers = list(wiring.controllers)
    controllers[c] = replace(controller, strings=strings)
    return Wiring(f"{wiring.name} swapped", tuple(controllers)), _moved(now, chosen, layout.panel_ids)


def _moved(before: Grouping, after: Grouping, panel_ids: tuple[str, ...]) -> str:
    """Return the two panels that changed places."""
    pairs = [(set(one), set(new)) for one in before for new in after]
    swapped = next(one ^ new for one, new in pairs if len(one - new) == len(new - one) == 1)
    return " and ".join(panel_ids[p] for p in sorted(swapped))


def _burdens(result: ShadeResult) -> list[Finding]:
    made = []
    for panel in result.panels:
        if panel.marginal_kwh is not None and panel.marginal_kwh < 0.0:
            sentence = (
                f"Panel {panel.panel_id} costs more than it gives: bridged out, the array gives "
                f"{-panel.marginal_kwh:,.0f} kWh a year more."
            )
            made.append(Finding("burden", sentence, -panel.marginal_kwh, (panel.panel_id,)))
    return made


def _parking(result: ShadeResult) -> list[Finding]:
    year = result.wiring(result.main_wiring)
    gain = year.best_kwh - year.worst_kwh
    if gain < WORTH_SAYING * year.unshaded_kwh:
        return []
    sentence = (
        f"Parking nose {compass_word(year.best_heading_deg)} instead of "
        f"{compass_word(year.worst_heading_deg)} is worth {gain:,.0f} kWh a year "
        f"({100 * gain / year.worst_kwh:.0f}%)."
    )
    return [Finding("parking", sentence, gain)]


def _light(result: ShadeResult) -> list[Finding]:
    """Say how much more electricity than light the worst panel loses."""
    wired = [
        p for p in result.panels if p.delivered_loss_fraction is not None and p.light_loss_fraction > 0.005
    ]
    if not wired:
        return []
    worst = max(wired, key=lambda p: (p.delivered_loss_fraction or 0.0) - p.light_loss_fraction)
    loss = worst.delivered_loss_fraction or 0.0
    if loss < 2.0 * worst.light_loss_fraction or loss < 0.02:
        return []
    sentence = (
        f"Panel {worst.panel_id} loses {100 * worst.light_loss_fraction:.1f}% of its light but "
        f"{100 * loss:.0f}% of its electricity: a shaded cell holds back every cell in its group."
    )
    return [Finding("light", sentence, 0.0, (worst.panel_id,))]
