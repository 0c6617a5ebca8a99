"""The weight ledger: what may still be carried, and on which axle it sits (F22)."""

from __future__ import annotations

from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import InputOutOfRange, SystemInput, WeightInput
from sizing.core.judge import limit_check, missing_check, show, show_percent
from sizing.core.results import WeightResult

LEFT_PASS: Final = 0.10  # of the label that should stay free, shop default [-]
OCCC: Final = "occc"  # label that water, people and things all still come out of
CCC: Final = "ccc"  # older label: water and people already taken out
LEDGER_SOURCE: Final = (
    "Cargo capacity label: OCCC = GVWR - (UVW + full LP gas); the older CCC has water and people taken out"
)


def design_mass_kg(system: SystemInput) -> float:
    """Return the mass of what the design describes [kg]: panels, bank, inverter, controllers, chargers."""
    bank = system.bank
    return (
        sum(placed.panel.mass_kg for placed in system.panels)
        + (bank.unit_mass_kg * bank.quantity if bank is not None else 0.0)
        + (system.inverter.mass_kg if system.inverter is not None else 0.0)
        + sum(unit.mass_kg for unit in system.controllers)
        + sum(source.mass_kg for source in system.sources)
    )


def weight_result(system: SystemInput) -> WeightResult:
    """Return the ledger summed (F22): the design's own masses plus what is listed, less what comes off."""
    ledger = system.weight
    added = design_mass_kg(system) + (sum(kg for _, kg in ledger.added) if ledger is not None else 0.0)
    removed = sum(kg for _, kg in ledger.removed) if ledger is not None else 0.0
    left = cargo_left_kg(ledger, added - removed) if ledger is not None else None
    label = ledger.label_kg if ledger is not None else None
    return WeightResult(
        added_kg=added,
        removed_kg=removed,
        net_added_kg=added - removed,
        cargo_left_kg=left,
        left_fraction=left / label if left is not None and label else None,
    )


def cargo_left_kg(ledger: WeightInput, net_added_kg: float) -> float | None:
    """Return the cargo that may still be carried.

    Parameters
    ----------
    ledger : WeightInput
        Label, its type, water, people and cargo. [kg]
    net_added_kg : float
        What the job adds less what it takes off. [kg]

    Returns
    -------
    float or None
        ``OCCC - water - people - cargo - net_added``; a CCC label already has water and people out;
        ``None`` without a label. [kg]

    Raises
    ------
    InputOutOfRange
        If the label type is neither ``occc`` nor ``ccc``.

    References
    ----------
    .. [1] 49 CFR 571.110, cargo capacity labels of motor homes and trailers; from memory.
    """
    if ledger.label_type not in (OCCC, CCC):
        raise InputOutOfRange("weight.label_type", f"must be {OCCC!r} or {CCC!r}, got {ledger.label_type!r}")
    if ledger.label_kg is None:
        return None
    already_out = 0.0 if ledger.label_type == CCC else ledger.fresh_water_kg + ledger.people_kg
    return ledger.label_kg - already_out - ledger.customer_cargo_kg - net_added_kg


def axle_split_kg(mass_kg: float, *, x_m: float, wheelbase_m: float) -> tuple[float, float]:
    """Return what an added mass puts on the front and the rear axle.

    Parameters
    ----------
    mass_kg : float
        Added mass, negative when taken off. [kg]
    x_m : float
        Its distance behind the front axle (trailers: behind the hitch ball). [m]
    wheelbase_m : float
        Front axle (hitch ball) to rear axle, above 0. [m]

    Returns
    -------
    tuple of float
        Front (hitch) and rear share; front is negative for a mass far behind the rear axle. [kg]

    Raises
    ------
    InputOutOfRange
        If the wheelbase is not above 0.

    References
    ----------
    .. [1] Lever arm: ``ΔF_rear = m·x/wheelbase``.
    """
    if not wheelbase_m > 0:
        raise InputOutOfRange("wheelbase_m", f"must be above 0 m, got {wheelbase_m}")
    rear = mass_kg * x_m / wheelbase_m
    return mass_kg - rear, rear


def weight_checks(system: SystemInput, result: WeightResult) -> tuple[Check, ...]:
    """Return the judgement of the cargo left."""
    title = "Cargo capacity left"
    if system.weight is None or result.cargo_left_kg is None or result.left_fraction is None:
        return (
            missing_check(
                rule="F22",
                key="vehicle/cargo_left",
                subject="vehicle",
                title=title,
                missing="the cargo capacity label",
                unit="kg",
            ),
        )
    return (_cargo_check(system, system.weight, result, result.cargo_left_kg),)


def _cargo_check(system: SystemInput, ledger: WeightInput, result: WeightResult, left_kg: float) -> Check:
    label_kg = ledger.label_kg or 0.0
    is_old = ledger.label_type == CCC
    water, people = (0.0, 0.0) if is_old else (ledger.fresh_water_kg, ledger.people_kg)
    share = show_percent(result.left_fraction)
    half_water = f", water at half: +{show_both(ledger.fresh_water_kg / 2, 'kg')}" if water > 0 else ""
    left = show_both(left_kg, "kg", 1)
    return limit_check(
        rule="F22",
        key="vehicle/cargo_left",
        subject="vehicle",
        title="Cargo capacity left",
        value=left_kg,
        limit=LEFT_PASS * label_kg,
        block_beyond=0.0,
        at_least=True,
        at_limit=Verdict.PASS,  # this share is room already; nothing left is the second limit
        unit="kg",
        sentences={
            Verdict.PASS: f"{left} left, {share} of the label.",
            Verdict.CAUTION: f"Only {left} left, {share} of the label.",
            Verdict.BLOCK: (
                f"Overloaded by {show_both(-left_kg, 'kg', 1)}. Options: fewer panels{half_water}, a scale"
                " ticket for the true figures."
            ),
        },
        source=f"{LEDGER_SOURCE}; a tenth left is a shop default",
        provenance=Provenance.COMPUTED,
        formula="left = label - cargo - net added"
        if is_old
        else "left = OCCC - water - people - cargo - net added",
        substituted=(
            f"{show(label_kg)} - {show(water)} - {show(people)} - {show(ledger.customer_cargo_kg)} -"
            f" {show(result.net_added_kg)} = {show(left_kg, 'kg')}"
        ),
        terms=(
            Term("label", f"{ledger.label_type.upper()} label", label_kg, "kg"),
            Term("added", "new equipment", result.added_kg, "kg"),
            Term("removed", "equipment taken off", result.removed_kg, "kg"),
        ),
        guesses=resting_on(system, ("weight", "panels", "bank")),
    )
