"""What a job puts on each axle and on the hitch."""

from __future__ import annotations

from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import SystemInput, WeightInput
from sizing.core.judge import limit_check, missing_check, show
from sizing.roof.weight import axle_split_kg

#: Share of a trailer's weight that should rest on the hitch; from memory. [-]
HITCH_SHARE: Final = {"tongue": (0.10, 0.15), "pin": (0.15, 0.25)}
LEVER_SOURCE: Final = (
    "Lever arm ΔF_rear = m·x/wheelbase; ratings from the vehicle's label, weights from a scale"
)


def axle_checks(system: SystemInput) -> tuple[Check, ...]:
    """Return the judgement of each axle whose rating is known, and of the hitch; needs positions."""
    ledger = system.weight
    if ledger is None or not ledger.mass_points:
        return ()
    if ledger.wheelbase_m is None:
        return (
            missing_check(
                rule="F22",
                key="vehicle/axles",
                subject="vehicle",
                title="What the job puts on each axle",
                missing="the wheelbase",
                unit="kg",
            ),
        )
    front, rear = added_by_axle_kg(ledger, ledger.wheelbase_m)
    found = [
        _axle_check(
            system,
            "front",
            "Front axle" if not ledger.hitch else "Hitch",
            ledger.front_kg,
            front,
            ledger.front_limit_kg,
        ),
        _axle_check(
            system,
            "rear",
            "Rear axle" if not ledger.hitch else "Axles",
            ledger.rear_kg,
            rear,
            ledger.rear_limit_kg,
        ),
    ]
    if ledger.hitch:
        found.append(_hitch_check(system, ledger, front, rear))
    return tuple(check for check in found if check is not None)


def added_by_axle_kg(ledger: WeightInput, wheelbase_m: float) -> tuple[float, float]:
    """Return what the listed masses put on the front axle (hitch) and on the rear [kg]."""
    shares = [axle_split_kg(kg, x_m=x_m, wheelbase_m=wheelbase_m) for _, kg, x_m in ledger.mass_points]
    return sum(front for front, _ in shares), sum(rear for _, rear in shares)


def _axle_check(
    system: SystemInput, name: str, title: str, now_kg: float | None, added_kg: float, limit_kg: float | None
) -> Check | None:
    """Return the judgement of one axle; ``None`` where nobody knows its rating."""
    if limit_kg is None:
        return None
    key = f"vehicle/axle_{name}"
    if now_kg is None:
        return missing_check(
            rule="F22",
            key=key,
            subject="vehicle",
            title=title,
            missing="its weight from a scale ticket",
            unit="kg",
        )
    return limit_check(
        rule="F22",
        key=key,
        subject="vehicle",
        title=f"{title} with the job's weight",
        value=now_kg + added_kg,
        limit=limit_kg,
        unit="kg",
        source=LEVER_SOURCE,
        provenance=Provenance.COMPUTED,
        formula="load now + Σ m·(share by lever arm) ≤ rating",
        substituted=f"{show(now_kg)} + {show(added_kg)} = {show(now_kg + added_kg, 'kg')}",
        terms=(
            Term("now", "weight from the scale ticket", now_kg, "kg"),
            Term("added", "share of the job's weight", added_kg, "kg"),
        ),
        guesses=resting_on(system, ("weight",)),
    )


def _hitch_check(system: SystemInput, ledger: WeightInput, front_kg: float, rear_kg: float) -> Check | None:
    """Return whether the hitch keeps its share of a trailer's weight; ``None`` without a scale ticket."""
    if ledger.front_kg is None or ledger.rear_kg is None:
        return None
    low, high = HITCH_SHARE[ledger.hitch]
    hitch_kg = ledger.front_kg + front_kg
    total_kg = hitch_kg + ledger.rear_kg + rear_kg
    share = hitch_kg / total_kg if total_kg > 0 else None
    is_low = share is not None and share < low
    return limit_check(
        rule="F22",
        key="vehicle/hitch_share",
        subject="vehicle",
        title=f"Share of the trailer's weight on the {ledger.hitch}",
        value=share,
        limit=low if is_low else high,
        at_least=is_low,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # the ends of a range belong to it
        unit="fraction",
        source=f"{ledger.hitch.capitalize()} weight {low:.0%} to {high:.0%} of the trailer's, from memory",
        provenance=Provenance.MEMORY,
        formula="share = hitch/(hitch + axles)",
        substituted=f"{show(hitch_kg)}/{show(total_kg)}",
        guesses=resting_on(system, ("weight",)),
    )
