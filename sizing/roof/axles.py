"""What a job puts on each axle and on the hitch (F22).

The masses with a place are split by lever arm. With a tag axle the split between it and the drive axle
follows from the springs, which nobody knows: both ends are worked out, all of it on the drive axle and all of
it on the tag axle, and the true load lies between.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_apart, show_both, show_sum
from sizing.core.guesses import resting_on
from sizing.core.inputs import SystemInput, WeightInput
from sizing.core.judge import in_a_row, is_within, limit_check, missing_check, show
from sizing.roof.placed import PlacedMass, placed_masses, unplaced_words
from sizing.roof.weight import axle_split_kg, weight_result

#: Share of a trailer's weight that should rest on the hitch. [-]
HITCH_SHARE: Final = {"tongue": (0.10, 0.15), "pin": (0.15, 0.25), "caravan": (0.05, 0.07)}
HITCH_SOURCE: Final = {
    "tongue": "10% to 15% on the tongue: owner's manual of a North American trailer",
    "pin": "15% to 25% on the pin: owner's manual of a North American fifth wheel",
    "caravan": "5% to 7% noseweight, never above the lowest plate: noseweight guide of a European maker",
}
HITCH_NAME: Final = {"tongue": "tongue", "pin": "pin", "caravan": "coupling"}
LEVER_SOURCE: Final = (
    "Lever arm ΔF_rear = m·x/wheelbase; ratings from the vehicle's label, weights from a scale"
)
#: A job this heavy moves the axle loads: they are asked for where the GVWR is known; common practice. [kg]
HEAVY_JOB_KG: Final = 60.0
AXLES_TITLE: Final = "What the job puts on each axle"
_RATED: Final = {"front": "front axle", "rear": "rear axle", "tag": "tag axle"}
_RATED_TOWED: Final = {"front": "hitch (the lowest plate)", "rear": "axles"}


@dataclass(frozen=True, slots=True)
class AxleLoad:
    """One axle: weighed, rated, and between which limits the job changes its load [kg]."""

    name: str
    title: str
    now_kg: float | None
    limit_kg: float | None
    low_kg: float = 0.0
    high_kg: float = 0.0


def axle_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return the judgment of each axle whose rating is known, of the hitch, and what is missing for more."""
    ledger = system.weight
    if ledger is None:
        return ()
    summed = weight_result(system)
    axles = _axles(ledger)
    if not _is_asked(ledger, axles, summed.added_kg):
        return ()
    missing = [*_missing_measures(ledger), *unplaced_words(system, ledger)]
    if missing:
        return (
            *_missing([*missing, *_missing_ratings(ledger, axles)]),
            *_over_as_weighed(system, axles),
        )
    loads = _loaded(axles, ledger, placed_masses(system, ledger))
    found = [_axle_check(system, ledger, axle) for axle in loads]
    if ledger.hitch:
        found.append(_hitch_check(system, ledger, loads))
    return (*_missing(_missing_ratings(ledger, axles)), *(check for check in found if check is not None))


def added_by_axle_kg(masses: Iterable[PlacedMass], wheelbase_m: float) -> tuple[float, float]:
    """Return what the masses put on the front axle (hitch) and on the rear [kg]."""
    shares = [axle_split_kg(kg, x_m=x_m, wheelbase_m=wheelbase_m) for _, kg, x_m in masses]
    return sum(front for front, _ in shares), sum(rear for _, rear in shares)


def _has_tag(ledger: WeightInput) -> bool:
    return not ledger.hitch and (ledger.tag_kg is not None or ledger.tag_limit_kg is not None)


def _axles(ledger: WeightInput) -> tuple[AxleLoad, ...]:
    """Return the axles as weighed and rated; the axles of a trailer count as one."""
    if ledger.hitch:
        rear_kg, limit_kg = ledger.rear_kg, ledger.rear_limit_kg
        rear_kg = None if rear_kg is None else rear_kg + (ledger.tag_kg or 0.0)
        limit_kg = None if limit_kg is None else limit_kg + (ledger.tag_limit_kg or 0.0)
        return (
            AxleLoad("front", "Hitch", ledger.front_kg, ledger.front_limit_kg),
            AxleLoad("rear", "Axles", rear_kg, limit_kg),
        )
    found = (
        AxleLoad("front", "Front axle", ledger.front_kg, ledger.front_limit_kg),
        AxleLoad("rear", "Rear axle", ledger.rear_kg, ledger.rear_limit_kg),
    )
    if not _has_tag(ledger):
        return found
    return (*found, AxleLoad("tag", "Tag axle", ledger.tag_kg, ledger.tag_limit_kg))


def _is_asked(ledger: WeightInput, axles: Iterable[AxleLoad], added_kg: float) -> bool:
    """Return whether axles are to be judged: something is known of them, or the job is heavy."""
    is_known = any(axle.now_kg is not None or axle.limit_kg is not None for axle in axles)
    is_heavy = ledger.gvwr_kg is not None and added_kg >= HEAVY_JOB_KG
    return is_known or is_heavy or bool(ledger.mass_points)


def _missing_measures(ledger: WeightInput) -> Iterator[str]:
    if ledger.wheelbase_m is None:
        yield "the distance from hitch to axle" if ledger.hitch else "the wheelbase"
    if _has_tag(ledger) and ledger.tag_spacing_m is None:
        yield "the distance from the drive axle to the tag axle"


def _missing_ratings(ledger: WeightInput, axles: Iterable[AxleLoad]) -> list[str]:
    names = _RATED_TOWED if ledger.hitch else _RATED
    return [f"the rating of the {names[axle.name]}" for axle in axles if axle.limit_kg is None]


def _missing(words: list[str]) -> tuple[Check, ...]:
    if not words:
        return ()
    return (
        missing_check(
            rule="F22",
            key="vehicle/axles",
            subject="vehicle",
            title=AXLES_TITLE,
            missing=in_a_row(words),
            unit="kg",
            verb="is" if len(words) == 1 else "are",
        ),
    )


def _loaded(
    axles: tuple[AxleLoad, ...], ledger: WeightInput, masses: tuple[PlacedMass, ...]
) -> tuple[AxleLoad, ...]:
    """Return the axles with the least and the most the job adds to each; one number without a tag axle."""
    base_m = ledger.wheelbase_m or math.nan
    front, rear = added_by_axle_kg(masses, base_m)
    cases = [{"front": front, "rear": rear, "tag": 0.0}]
    if _has_tag(ledger):
        front, tag = added_by_axle_kg(masses, base_m + (ledger.tag_spacing_m or math.nan))
        cases.append({"front": front, "rear": 0.0, "tag": tag})
    return tuple(
        AxleLoad(
            axle.name,
            axle.title,
            axle.now_kg,
            axle.limit_kg,
            min(case[axle.name] for case in cases),
            max(case[axle.name] for case in cases),
        )
        for axle in axles
    )


def _over_as_weighed(system: SystemInput, axles: Iterable[AxleLoad]) -> tuple[Check, ...]:
    """Return a block for each axle that is over its rating before anything is added."""
    return tuple(
        _over(system, axle, axle.now_kg, axle.limit_kg)
        for axle in axles
        if axle.now_kg is not None and axle.limit_kg is not None and not is_within(axle.now_kg, axle.limit_kg)
    )


def _over(system: SystemInput, axle: AxleLoad, now_kg: float, limit_kg: float) -> Check:
    value, limit, over = show_apart(now_kg, limit_kg, "kg")
    return limit_check(
        rule="F22",
        key=f"vehicle/axle_{axle.name}",
        subject="vehicle",
        title=f"{axle.title} as weighed",
        value=now_kg,
        limit=limit_kg,
        unit="kg",
        sentence=f"{value} as weighed, {over} above the rating of {limit}, before anything is added.",
        source=LEVER_SOURCE,
        provenance=Provenance.COMPUTED,
        guesses=resting_on(system, ("weight",)),
    )


def _axle_check(system: SystemInput, ledger: WeightInput, axle: AxleLoad) -> Check | None:
    """Return the judgment of one axle; ``None`` where nobody knows its rating."""
    if axle.limit_kg is None:
        return None
    if axle.now_kg is None:
        return _unknown(axle, "the weight from a scale ticket")
    low, high = axle.now_kg + axle.low_kg, axle.now_kg + axle.high_kg
    if low < 0:
        return _lifted(system, axle, axle.now_kg)
    if not is_within(low, axle.limit_kg):
        return _judged(system, axle, axle.now_kg, axle.low_kg, axle.limit_kg)
    if ledger.is_weighed_loaded is not True:
        return _unknown(axle, _loading_words(ledger))
    if not is_within(high, axle.limit_kg):
        return _unknown(axle, "how drive and tag axle share the change (weigh again after the work)")
    return _judged(system, axle, axle.now_kg, axle.high_kg, axle.limit_kg)


def _lifted(system: SystemInput, axle: AxleLoad, now_kg: float) -> Check:
    """Return the block of an axle or a hitch the job takes more off than it carries."""
    left_kg = now_kg + axle.low_kg
    advice = "Put the weight further forward." if axle.name == "front" else "Check weights and places."
    return limit_check(
        rule="F22",
        key=f"vehicle/axle_{axle.name}",
        subject="vehicle",
        title=f"{axle.title} with the job's weight",
        value=left_kg,
        limit=0.0,
        at_least=True,
        unit="kg",
        sentence=f"The job takes {show_both(-axle.low_kg, 'kg', 1)} off the {show_both(now_kg, 'kg', 1)}"
        f" there: it lifts. {advice}",
        source=LEVER_SOURCE,
        provenance=Provenance.COMPUTED,
        formula="load now + Σ m·(share by lever arm) ≥ 0",
        substituted=show_sum("{} - {} = {}", (now_kg, -axle.low_kg, left_kg), "kg"),
        guesses=resting_on(system, ("weight",)),
    )


def _loading_words(ledger: WeightInput) -> str:
    if ledger.is_weighed_loaded is None:
        return "whether it was weighed with people, water and things aboard"
    return "its weight with people, water and things aboard"


def _unknown(axle: AxleLoad, missing: str) -> Check:
    return missing_check(
        rule="F22",
        key=f"vehicle/axle_{axle.name}",
        subject="vehicle",
        title=axle.title,
        missing=missing,
        unit="kg",
    )


def _judged(system: SystemInput, axle: AxleLoad, now_kg: float, added_kg: float, limit_kg: float) -> Check:
    value_kg = now_kg + added_kg
    value, limit, room = show_apart(value_kg, limit_kg, "kg")
    assumed = (
        "" if axle.low_kg == axle.high_kg else " The share of drive and tag axle is not known: worst case."
    )
    return limit_check(
        rule="F22",
        key=f"vehicle/axle_{axle.name}",
        subject="vehicle",
        title=f"{axle.title} with the job's weight",
        value=value_kg,
        limit=limit_kg,
        unit="kg",
        sentences={
            Verdict.PASS: f"{value}, {room} below the rating of {limit}.{assumed}",
            Verdict.BLOCK: f"{value}, {room} above the rating of {limit}.",
        },
        source=LEVER_SOURCE,
        provenance=Provenance.COMPUTED,
        formula="load now + Σ m·(share by lever arm) ≤ rating",
        substituted=show_sum("{} + {} = {}", (now_kg, added_kg, value_kg), "kg"),
        terms=(
            Term("now", "weight from the scale ticket", now_kg, "kg"),
            Term("added", "share of the job's weight", added_kg, "kg"),
        ),
        guesses=resting_on(system, ("weight",)),
    )


def _hitch_check(system: SystemInput, ledger: WeightInput, axles: tuple[AxleLoad, ...]) -> Check | None:
    """Return whether the hitch keeps its share of a trailer's weight; ``None`` without a scale ticket."""
    hitch, rear = axles
    if hitch.now_kg is None or rear.now_kg is None:
        return None
    key, title = "vehicle/hitch_share", f"Share of the trailer's weight on the {HITCH_NAME[ledger.hitch]}"
    if ledger.is_weighed_loaded is not True:
        missing = _loading_words(ledger)
        return missing_check(rule="F22", key=key, subject="vehicle", title=title, missing=missing)
    low, high = HITCH_SHARE[ledger.hitch]
    hitch_kg = hitch.now_kg + hitch.high_kg
    total_kg = hitch_kg + rear.now_kg + rear.high_kg
    share = hitch_kg / total_kg if total_kg > 0 else None
    is_low = share is not None and share < low
    return limit_check(
        rule="F22",
        key=key,
        subject="vehicle",
        title=title,
        value=share,
        limit=low if is_low else high,
        at_least=is_low,
        beyond=Verdict.BLOCK if share is not None and share < 0 else Verdict.CAUTION,
        unit="fraction",
        source=HITCH_SOURCE[ledger.hitch],
        provenance=Provenance.PRINTED,
        formula="share = hitch/(hitch + axles)",
        substituted=f"{show(hitch_kg)}/{show(total_kg)}",
        guesses=resting_on(system, ("weight",)),
    )
