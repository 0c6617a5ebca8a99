"""The weight ledger: what may still be carried, and on which axle it sits (F22)."""

from __future__ import annotations

import datetime as dt
import math
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_apart, show_both, show_sum
from sizing.core.guesses import resting_on
from sizing.core.inputs import InputOutOfRange, SystemInput, WeightInput
from sizing.core.judge import is_within, limit_check, missing_check, show_percent
from sizing.core.results import WeightResult
from sizing.roof.placed import own_parts

OCCC: Final = "occc"  # label that water, people and things all still come out of
CCC: Final = "ccc"  # older label: water and people already taken out
#: Cargo labels made from this day on hold the water, on trailers too: 49 CFR 571.110 S10,
#: FR 72 (232) 68442; quoted, the clause itself was not read.
WATER_IS_CARGO_SINCE: Final = dt.date(2008, 6, 2)
LEDGER_SOURCE: Final = (
    "Cargo capacity label: OCCC = GVWR - (UVW + full LP gas); on labels since June 2008 water is cargo, a CCC"
    " label before has water and people taken out (quoted)"
)
GVWR_SOURCE: Final = "Gross vehicle weight rating from the label; weights from a scale, else the label's UVW"


def design_mass_kg(system: SystemInput) -> float:
    """Return the mass of what the design describes [kg]: panels, bank, inverter, controllers, chargers."""
    return math.fsum(kg for _, kg, _ in own_parts(system, WeightInput()))


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
        ``OCCC - water - people - cargo - net_added``; a CCC label of before June 2008 already has water and
        people out, one of unknown age is not credited with it; ``None`` without a label. [kg]

    Raises
    ------
    InputOutOfRange
        If the label type is neither ``occc`` nor ``ccc``.

    References
    ----------
    .. [1] 49 CFR 571.110, cargo capacity labels of motor homes and trailers; quoted, not read itself.
    """
    if ledger.label_type not in (OCCC, CCC):
        raise InputOutOfRange("weight.label_type", f"must be {OCCC!r} or {CCC!r}, got {ledger.label_type!r}")
    if ledger.label_kg is None:
        return None
    still_to_come = 0.0 if _has_water_out(ledger) else ledger.fresh_water_kg + ledger.people_kg
    return ledger.label_kg - still_to_come - ledger.customer_cargo_kg - net_added_kg


def water_is_taken_off(
    *, wording: str, dated: dt.date | None, model_year: int | None, is_towed: bool
) -> bool | None:
    """Return whether a cargo label already has water and people taken off.

    Parameters
    ----------
    wording : str
        ``occc`` (occupant and cargo carrying capacity), ``cargo`` (it says that water is cargo), or ``ccc``
        (it says cargo carrying capacity and nothing of water). [-]
    dated : date or None
        Of the label. [-]
    model_year : int or None
        Of the vehicle, where the label bears no date: it was built in that year or the one before. [-]
    is_towed : bool
        Whether it is a trailer; of a motor home a CCC label since June 2008 holds occupants and water too.

    Returns
    -------
    bool or None
        ``None`` where the age of a CCC label is not known. [-]

    Raises
    ------
    InputOutOfRange
        If the wording is none of the three.

    References
    ----------
    .. [1] 49 CFR 571.110 S10, in force 2 June 2008 (FR 72 (232) 68442), and label texts; quoted.
    .. [2] A motor home's manual of 2014: CCC is "weight of all occupants ..., fresh water, ..."; quoted once.
    """
    if wording not in (OCCC, "cargo", CCC):
        raise InputOutOfRange("wording", f"must be 'occc', 'cargo' or 'ccc', got {wording!r}")
    if wording != CCC:
        return False
    if dated is not None:
        return dated < WATER_IS_CARGO_SINCE
    if model_year is None:
        return None
    built = dt.date(model_year - 1, 1, 1), dt.date(model_year, 12, 31)
    if built[1] < WATER_IS_CARGO_SINCE:
        return True
    return False if built[0] >= WATER_IS_CARGO_SINCE else None


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
    """Return the judgment of the cargo left, and of the whole weight against the GVWR."""
    title = "Cargo capacity left"
    whole = () if system.weight is None else _gvwr_checks(system, system.weight, result.net_added_kg)
    if system.weight is None or result.cargo_left_kg is None or result.left_fraction is None:
        missing = missing_check(
            rule="F22",
            key="vehicle/cargo_left",
            subject="vehicle",
            title=title,
            missing="the cargo capacity label",
            unit="kg",
        )
        return (missing, *whole)
    return (_cargo_check(system, system.weight, result, result.cargo_left_kg), *whole)


def _has_water_out(ledger: WeightInput) -> bool:
    return ledger.label_type == CCC and not ledger.is_label_undated


def _load_kg(ledger: WeightInput) -> float:
    """Return water, people and things [kg]: what an empty vehicle takes along."""
    return ledger.fresh_water_kg + ledger.people_kg + ledger.customer_cargo_kg


def _gvwr_checks(system: SystemInput, ledger: WeightInput, net_kg: float) -> tuple[Check, ...]:
    """Return the whole weight against the GVWR; nothing where the rating is not known.

    The scale ticket rules; without one the label's cargo capacity says the same and is judged already, and
    without a label the unloaded weight is counted up.
    """
    if ledger.gvwr_kg is None:
        return ()
    weighed = (ledger.front_kg, ledger.rear_kg, *((ledger.tag_kg,) if _has_tag_axle(ledger) else ()))
    if any(kg is not None for kg in weighed):
        if any(kg is None for kg in weighed):
            return (_gvwr_unknown("the weight of every axle from a scale ticket"),)
        return (_scale_check(system, ledger, ledger.gvwr_kg, sum(kg or 0.0 for kg in weighed), net_kg),)
    if ledger.label_kg is None and ledger.uvw_kg is not None:
        return (_uvw_check(system, ledger, ledger.gvwr_kg, ledger.uvw_kg, net_kg),)
    return ()


def _has_tag_axle(ledger: WeightInput) -> bool:
    """Return whether a third axle is weighed apart; those of a trailer may stand in one reading."""
    return ledger.tag_kg is not None or (ledger.tag_limit_kg is not None and not ledger.hitch)


def _scale_check(
    system: SystemInput, ledger: WeightInput, gvwr_kg: float, scale_kg: float, net_kg: float
) -> Check:
    """Return the weight as weighed and with the job; weighed empty or unasked, the load comes on top."""
    load_kg = 0.0 if ledger.is_weighed_loaded else _load_kg(ledger) + (ledger.lp_gas_kg or 0.0)
    least_kg = scale_kg + net_kg + (load_kg if ledger.is_weighed_loaded is False else 0.0)
    most_kg = scale_kg + net_kg + load_kg
    if is_within(least_kg, gvwr_kg) and not is_within(most_kg, gvwr_kg):
        return _gvwr_unknown("whether it was weighed with people, water and things aboard")
    value_kg = most_kg if is_within(most_kg, gvwr_kg) else least_kg
    return _gvwr_check(system, gvwr_kg, (scale_kg, "scale ticket"), value_kg - scale_kg - net_kg, net_kg)


def _uvw_check(
    system: SystemInput, ledger: WeightInput, gvwr_kg: float, uvw_kg: float, net_kg: float
) -> Check:
    load_kg = _load_kg(ledger)
    if ledger.lp_gas_kg is None and is_within(uvw_kg + load_kg + net_kg, gvwr_kg):
        return _gvwr_unknown("the weight of the LP gas")
    load_kg += ledger.lp_gas_kg or 0.0
    return _gvwr_check(system, gvwr_kg, (uvw_kg, "UVW of the label"), load_kg, net_kg)


def _gvwr_unknown(missing: str) -> Check:
    return missing_check(
        rule="F22",
        key="vehicle/gvwr",
        subject="vehicle",
        title="Whole weight against the GVWR",
        missing=missing,
        unit="kg",
    )


def _gvwr_check(
    system: SystemInput, gvwr_kg: float, now: tuple[float, str], load_kg: float, net_kg: float
) -> Check:
    """Return the sum against the rating; not a gram is rounded away."""
    total_kg = math.fsum((now[0], load_kg, net_kg))
    value, limit, room = show_apart(total_kg, gvwr_kg, "kg")
    return limit_check(
        rule="F22",
        key="vehicle/gvwr",
        subject="vehicle",
        title="Whole weight against the GVWR",
        value=total_kg,
        limit=gvwr_kg,
        unit="kg",
        sentences={
            Verdict.PASS: f"{value} with the job, {room} below the GVWR of {limit}.",
            Verdict.BLOCK: f"{value} with the job, {room} above the GVWR of {limit}.",
        },
        source=GVWR_SOURCE,
        provenance=Provenance.COMPUTED,
        formula="weight now + people, water and things not weighed + net added ≤ GVWR",
        substituted=show_sum("{} + {} + {} = {}", (now[0], load_kg, net_kg, total_kg), "kg"),
        terms=(
            Term("now", now[1], now[0], "kg"),
            Term("load", "people, water, things and gas that were not weighed", load_kg, "kg"),
            Term("net", "net added by the job", net_kg, "kg"),
        ),
        guesses=resting_on(system, ("weight", "panels", "bank")),
    )


def _cargo_check(system: SystemInput, ledger: WeightInput, result: WeightResult, left_kg: float) -> Check:
    label_kg = ledger.label_kg or 0.0
    is_old = _has_water_out(ledger)
    water, people = (0.0, 0.0) if is_old else (ledger.fresh_water_kg, ledger.people_kg)
    share = show_percent(result.left_fraction)
    half_water = f", water at half: +{show_both(ledger.fresh_water_kg / 2, 'kg')}" if water > 0 else ""
    left, _, gap = show_apart(left_kg, 0.0, "kg", digits=1)
    more = _label_words(ledger, left_kg) + _waste_words(ledger, left_kg)
    return limit_check(
        rule="F22",
        key="vehicle/cargo_left",
        subject="vehicle",
        title="Cargo capacity left",
        value=left_kg,
        limit=system.policy.cargo_left_fraction * label_kg,
        block_beyond=0.0,
        at_least=True,
        at_limit=Verdict.PASS,  # this share is room already; nothing left is the second limit
        unit="kg",
        sentences={
            Verdict.PASS: f"{left} left, {share} of the label.{more}",
            Verdict.CAUTION: f"Only {left} left, {share} of the label.{more}",
            Verdict.BLOCK: (
                f"Overloaded by {gap}. Options: fewer panels{half_water}, a scale"
                f" ticket for the true figures.{more}"
            ),
        },
        source=f"{LEDGER_SOURCE}; {show_percent(system.policy.cargo_left_fraction)} left is shop policy",
        provenance=Provenance.COMPUTED,
        formula="left = label - cargo - net added"
        if is_old
        else "left = OCCC - water - people - cargo - net added",
        substituted=show_sum(
            "{} - {} - {} - {} - {} = {}",
            (label_kg, water, people, ledger.customer_cargo_kg, result.net_added_kg, left_kg),
            "kg",
        ),
        terms=(
            Term("label", f"{ledger.label_type.upper()} label", label_kg, "kg"),
            Term("added", "new equipment", result.added_kg, "kg"),
            Term("removed", "equipment taken off", result.removed_kg, "kg"),
        ),
        guesses=resting_on(system, ("weight", "panels", "bank")),
    )


def _label_words(ledger: WeightInput, left_kg: float) -> str:
    """Say of a CCC label of unknown age how it was counted and what an old one leaves."""
    if ledger.label_type != CCC or not ledger.is_label_undated:
        return ""
    older_kg = left_kg + ledger.fresh_water_kg + ledger.people_kg
    return (
        " The label has no date: water and people are counted as cargo, as on labels since June 2008. On an"
        f" older one they are taken off already and {show_both(older_kg, 'kg', 1)} were left: find its date."
    )


def _waste_words(ledger: WeightInput, left_kg: float) -> str:
    """Say it where full waste tanks would overload a vehicle that is not."""
    if left_kg < 0 or ledger.waste_tanks_kg <= left_kg:
        return ""
    return f" Waste tanks empty on the road: full they weigh {show_both(ledger.waste_tanks_kg, 'kg')}."
