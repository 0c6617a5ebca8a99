"""What sun, engine and shore give in a day, month by month and place by place (F5 to F8)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import (
    ChargeSourceInput,
    InputOutOfRange,
    ShadeHabit,
    SourceKind,
    SystemInput,
    TravelLeg,
)
from sizing.core.judge import limit_check, missing_check, show
from sizing.core.results import Figure, MonthHarvest
from sizing.energy.array_power import (
    CHARGE_BUS_V,
    ArrayGroup,
    Sky,
    array_groups,
    clipped_wh,
    effective_pmp_w,
    mean_clipped_wh,
)
from sizing.energy.heater import heater_day_wh
from sizing.sun.climate import GRID_SOURCE, climate_at
from sizing.sun.daily_spread import SPREAD_SOURCE, day_share
from sizing.sun.sky import MONTH_NAMES, month_extraterrestrial_kwh_m2, tilt_gain

#: Light left by the way the customer parks; shop defaults. [-]
SHADE_FACTOR: Final = {ShadeHabit.OPEN: 1.0, ShadeHabit.MIXED: 0.75, ShadeHabit.WOODS: 0.35}
ARRAY_MARGIN: Final = 1.25  # array over break-even, common practice [-]
ENGINE_BUS_V: Final = CHARGE_BUS_V  # charging voltage credited per 12 V bank, common practice [V]
ENGINE_EFFICIENCY: Final = 0.95  # DC-DC output to bank, common practice [-]
TOW_WIRE_CREDIT_A: Final = 5.0  # a stock seven-way charge wire, shop default [A]
POOR_DAY: Final = 0.1  # share of days that are worse than a poor day [-]
FINE_DAY: Final = 0.9
CLIP_SEEN: Final = 0.001  # a smaller share of a mean day lost to the controllers is beyond the model [-]
GIVEN_SOURCE: Final = "Peak sun hours given by the shop"
CLEARNESS_SOURCE: Final = "F8: clearness × extraterrestrial light (Duffie and Beckman, equation 1.10.3)"
FORMULA: Final = "E_pv = P_wired·PSH·k_tilt·k_shade·k_sys - E_clip"
HARVEST_SOURCE: Final = "Energy balance; k_sys and shade habit are shop defaults"


@dataclass(frozen=True, slots=True)
class Sunshine:
    """Peak sun hours of one month at one leg and where the number comes from."""

    psh_h: float | None
    source: str


def harvest_wh(
    *, pmp_w: float, psh_h: float, k_sys: float, k_shade: float = 1.0, k_tilt: float = 1.0
) -> float:
    """Return a day's energy from the array (F5).

    Parameters
    ----------
    pmp_w : float
        Array power at standard test conditions, 0 or more. [W]
    psh_h : float
        Peak sun hours on the flat, 0 or more. [kWh/m²·day]
    k_sys, k_shade, k_tilt : float
        System, shade and tilt factors, 0 or more. [-]

    Returns
    -------
    float
        ``P_stc·PSH·k_tilt·k_shade·k_sys``. [Wh/day]

    Raises
    ------
    InputOutOfRange
        If one of them is negative.

    References
    ----------
    .. [1] Energy balance; the factors are common practice, no source.
    """
    product = 1.0
    for name, value in {
        "pmp_w": pmp_w,
        "psh_h": psh_h,
        "k_sys": k_sys,
        "k_shade": k_shade,
        "k_tilt": k_tilt,
    }.items():
        if value < 0:
            raise InputOutOfRange(name, f"must be 0 or more, got {value}")
        product *= value
    return product


def psh_from_clearness_h(latitude_deg: float, month: int, clearness_kt: float) -> float:
    """Return peak sun hours without a data set (F8).

    Parameters
    ----------
    latitude_deg : float
        North positive, -90 to 90. [°]
    month : int
        1 to 12. [-]
    clearness_kt : float
        Share of the extraterrestrial light that reaches the ground, 0 to 1. [-]

    Returns
    -------
    float
        Peak sun hours on the flat. [kWh/m²·day]

    Raises
    ------
    InputOutOfRange
        If one of them lies outside its range.

    References
    ----------
    .. [1] Duffie and Beckman, Solar Engineering of Thermal Processes, equation 1.10.3.
    """
    if not 0.0 <= clearness_kt <= 1.0:
        raise InputOutOfRange("clearness_kt", f"must be 0 to 1, got {clearness_kt}")
    return clearness_kt * month_extraterrestrial_kwh_m2(latitude_deg, month)


def sunshine(leg: TravelLeg, month: int) -> Sunshine:
    """Return a leg's peak sun hours: the shop's figure, else F8, else the climate grid, else unknown."""
    if leg.psh_h is not None:
        return Sunshine(leg.psh_h, GIVEN_SOURCE)
    if leg.clearness_kt is not None:
        return Sunshine(psh_from_clearness_h(leg.latitude_deg, month, leg.clearness_kt), CLEARNESS_SOURCE)
    if leg.longitude_deg is None:
        return Sunshine(None, "longitude not known")
    climate = climate_at(leg.latitude_deg, leg.longitude_deg, leg.altitude_m)
    if climate is None:
        return Sunshine(None, "no climate data at this place (open sea or polar)")
    return Sunshine(climate.ghi_kwh_m2_day[month - 1], f"{GRID_SOURCE} ({climate.quality})")


def tilt_factor(leg: TravelLeg, month: int) -> float:
    """Return what tilting brings at a leg [-], credited for the days somebody does it; flat beyond 66°."""
    return 1.0 + leg.tilt_uptake_fraction * (_tilted(leg, month) - 1.0)


def _tilted(leg: TravelLeg, month: int) -> float:
    """Return what tilting brings at a leg on a day somebody does it [-]."""
    if leg.tilt_deg <= 0 or abs(leg.latitude_deg) > 66.0:
        return 1.0
    return round(tilt_gain(leg.latitude_deg, month, leg.tilt_deg), 2)  # the model is worth no third digit


def harvest_if_wh(system: SystemInput, leg: TravelLeg, month: int, *, more_w: float = 0.0) -> float | None:
    """Return a day's harvest of a month if the array were larger or the leg another [Wh]; limits stay."""
    groups = array_groups(system)
    now_w = sum(group.pmp_w for group in groups)
    if now_w <= 0:
        return None
    grown = tuple(replace(group, pmp_w=group.pmp_w * (1.0 + more_w / now_w)) for group in groups)
    return _month_harvest(system, leg, month, grown, 0.0).harvest_wh


def month_harvests(system: SystemInput, e_day_wh: float) -> tuple[MonthHarvest, ...]:
    """Return the harvest of every month of every leg against the daily use [Wh/day].

    What the controllers do not let through is taken off the harvest, what a heater takes off the balance.
    """
    groups = array_groups(system)
    return tuple(
        _month_harvest(system, leg, month, groups, e_day_wh) for leg in system.legs for month in leg.months
    )


def design_harvest(system: SystemInput, harvests: tuple[MonthHarvest, ...]) -> MonthHarvest | None:
    """Return the month a design stands or falls with: the design month, else the poorest known one."""
    known = [found for found in harvests if found.harvest_wh is not None]
    if system.design_month is not None:
        known = [found for found in known if found.month == system.design_month] or known
    return min(known, key=lambda found: found.harvest_wh or 0.0, default=None)


def engine_wh(source: ChargeSourceInput, v_nominal_v: float) -> float:
    """Return what the engine gives in a day [Wh] (F6): the DC-DC unit's rating, never the wire's fuse."""
    output_a = _limited_a(source)
    is_bare = source.kind is SourceKind.RELAY and source.limited_to_a is None
    if is_bare or source.kind is SourceKind.TOW_CHARGE_WIRE:
        output_a = min(output_a, TOW_WIRE_CREDIT_A)
    return output_a * ENGINE_BUS_V * v_nominal_v / 12.0 * source.driving_hours_per_day * ENGINE_EFFICIENCY


def shore_wh(source: ChargeSourceInput, v_nominal_v: float) -> float:
    """Return what shore or generator gives in a day [Wh] (F7)."""
    output_a = _limited_a(source)
    return output_a * ENGINE_BUS_V * v_nominal_v / 12.0 * source.shore_hours_per_day


def charging_sources(system: SystemInput) -> tuple[ChargeSourceInput, ...]:
    """Return the sources with what arrives of them: through another no more than that one takes."""
    by_id = {source.id: source for source in system.sources}
    return tuple(
        replace(source, output_a=min(source.output_a, _limited_a(by_id[source.through])))
        if source.through in by_id and _limited_a(by_id[source.through]) > 0
        else source
        for source in system.sources
    )


def _limited_a(source: ChargeSourceInput) -> float:
    return source.output_a if source.limited_to_a is None else min(source.output_a, source.limited_to_a)


def credit_figures(system: SystemInput) -> tuple[Figure, ...]:
    """Return the daily energy credited to engine and shore, a figure per source that gives any."""
    return tuple(
        figure
        for source in charging_sources(system)
        for figure in (_engine_figure(system, source), _shore_figure(system, source))
        if figure is not None
    )


def balance_figures(
    system: SystemInput, e_day_wh: float, harvests: tuple[MonthHarvest, ...], usable_wh: float | None
) -> tuple[Figure, ...]:
    """Return the design month's balance with engine and shore, and how long a full bank bridges a gap."""
    month = design_harvest(system, harvests)
    if month is None or month.harvest_wh is None:
        return ()
    credit_wh = sum(
        engine_wh(source, system.v_nominal_v) + shore_wh(source, system.v_nominal_v)
        for source in charging_sources(system)
    )
    balance_wh = month.harvest_wh + credit_wh - e_day_wh - month.heater_wh
    used_wh = e_day_wh + month.heater_wh
    guesses = resting_on(system, ("loads", "legs", "panels", "inverter", "sources", "bank"))
    found = [
        Figure(
            key="energy/balance",
            title="Balance of the design month with engine and shore",
            value=balance_wh,
            unit="Wh",
            formula="E_pv + E_alt + E_shore - E_day - E_heat",
            substituted=(
                f"{show(month.harvest_wh, '', 0)} + {show(credit_wh, '', 0)} - {show(used_wh, '', 0)}"
                f" = {show(balance_wh, 'Wh', 0)}"
            ),
            source=HARVEST_SOURCE,
            guesses=guesses,
        )
    ]
    if balance_wh < 0 and usable_wh is not None:
        found.append(
            Figure(
                key="bank/days_to_empty",
                title="Days until a full bank is empty",
                value=usable_wh / -balance_wh,
                unit="d",
                formula="usable/(E_day + E_heat - E_pv - E_alt - E_shore)",
                substituted=f"{usable_wh:,.0f}/{-balance_wh:,.0f} = {usable_wh / -balance_wh:.1f} d",
                source=HARVEST_SOURCE,
                guesses=guesses,
            )
        )
    return tuple(found)


def harvest_checks(
    system: SystemInput, e_day_wh: float, harvests: tuple[MonthHarvest, ...]
) -> tuple[Check, ...]:
    """Return the judgment of the harvest and of the array's margin over break-even."""
    month = design_harvest(system, harvests)
    if month is None or month.harvest_wh is None or month.psh_h is None:
        missing = "the sun of any travel leg" if system.legs else "a travel leg"
        return (
            missing_check(
                rule="F5",
                key="energy/harvest",
                subject="energy",
                title="Daily harvest",
                missing=missing,
                unit="Wh",
            ),
        )
    return (_harvest_check(system, e_day_wh, month), _margin_check(system, e_day_wh, month))


def _harvest_check(system: SystemInput, e_day_wh: float, month: MonthHarvest) -> Check:
    when = f"{MONTH_NAMES[month.month - 1]}, {month.leg}"
    pmp_w = effective_pmp_w(system)
    used_wh = e_day_wh + month.heater_wh
    clip, heat = show(month.clipped_wh, "Wh", 0), show(month.heater_wh, "Wh", 0)
    lost = f" The controllers pass {clip} a day less than the panels give." if month.clipped_wh >= 1 else ""
    lost += f" The bank's heater takes {heat} a day of it." if month.heater_wh >= 1 else ""
    named = [leg for leg in system.legs if leg.name == month.leg]
    leg = next((leg for leg in named if month.month in leg.months), named[0])
    k_shade, k_tilt = SHADE_FACTOR[leg.shade_habit], tilt_factor(leg, month.month)
    harvest, balance = month.harvest_wh or 0.0, month.balance_wh or 0.0
    return limit_check(
        rule="F5",
        key="energy/harvest",
        subject="energy",
        title="Daily harvest against use",
        value=harvest,
        limit=used_wh,
        at_least=True,
        beyond=Verdict.CAUTION,
        unit="Wh",
        sentences={
            Verdict.PASS: f"{when}: the array gives {balance:,.0f} Wh a day more than is used.{lost}",
            Verdict.CAUTION: f"{when}: the array falls {-balance:,.0f} Wh a day short of the use.{lost}",
        },
        source=f"{HARVEST_SOURCE}; {month.source}",
        provenance=Provenance.SHOP_DEFAULT,
        formula=FORMULA,
        substituted=(
            f"{show(pmp_w)} × {show(month.psh_h)} × {show(k_tilt)} × {show(k_shade)} × {show(system.k_sys)}"
            f"{f' - {clip}' if month.clipped_wh >= 1 else ''} = {show(harvest, 'Wh', 0)}"
        ),
        terms=(
            Term("P_wired", "array power as it is wired", pmp_w, "W"),
            Term("PSH", "peak sun hours", month.psh_h, "kWh/m²·d", "legs" in system.guesses),
            Term("k_tilt", "tilt, for the days it is done", k_tilt),
            Term("k_shade", "shade habit", k_shade),
            Term("k_sys", "system factor", system.k_sys),
            Term("E_clip", "not let through by the controllers", month.clipped_wh, "Wh"),
            Term("E_heat", "heater of the bank", month.heater_wh, "Wh"),
            Term("E_day", "daily use", e_day_wh, "Wh", "loads" in system.guesses),
        ),
        guesses=resting_on(system, ("loads", "legs", "panels", "inverter")),
    )


def _margin_check(system: SystemInput, e_day_wh: float, month: MonthHarvest) -> Check:
    per_watt = (month.harvest_wh or 0.0) / effective_pmp_w(system) if effective_pmp_w(system) else 0.0
    used_wh = e_day_wh + month.heater_wh
    needed_w = used_wh / per_watt * ARRAY_MARGIN if per_watt > 0 else None
    passed = "" if month.clipped_wh < 1 else " More panels count in full only behind a controller for more."
    even = show(needed_w / ARRAY_MARGIN if needed_w is not None else None, "W", 0)
    return limit_check(
        rule="F5",
        key="energy/array_margin",
        subject="energy",
        title="Array against break-even and a quarter more",
        value=effective_pmp_w(system),
        limit=needed_w,
        at_least=True,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # the quarter more is room already
        unit="W",
        sentences={
            Verdict.PASS: "The array holds a quarter more than break-even in the design month.",
            Verdict.CAUTION: f"Break-even is {even}; a quarter more is {show(needed_w, 'W', 0)}.{passed}",
        },
        source="Margin of a quarter over break-even: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="P_needed = 1.25·(E_day + E_heat)/(E_pv/P_wired)",
        substituted=f"1.25 × {show(used_wh)}/{show(per_watt, '', 3)} = {show(needed_w, 'W', 0)}",
        terms=(
            Term("E_day", "daily use", e_day_wh, "Wh", "loads" in system.guesses),
            Term("E_pv/P_wired", "harvest per watt", per_watt, "Wh/W"),
        ),
        guesses=resting_on(system, ("loads", "legs", "panels", "inverter")),
    )


def _month_harvest(
    system: SystemInput, leg: TravelLeg, month: int, groups: tuple[ArrayGroup, ...], e_day_wh: float
) -> MonthHarvest:
    sun = sunshine(leg, month)
    if sun.psh_h is None:
        return MonthHarvest(leg.name, month, None, None, None, None, None, sun.source)
    k_shade, k_tilt = SHADE_FACTOR[leg.shade_habit], tilt_factor(leg, month)
    daily = harvest_wh(
        pmp_w=sum(group.pmp_w for group in groups),
        psh_h=sun.psh_h,
        k_sys=system.k_sys,
        k_shade=k_shade,
        k_tilt=k_tilt,
    )
    skies = _skies(leg, month, sun.psh_h, system.k_sys)
    clipped = sum(often * mean_clipped_wh(group, sky) for often, sky in skies for group in groups)
    if clipped < CLIP_SEEN * daily:
        clipped = 0.0
    heater = heater_day_wh(system, leg, month)
    return MonthHarvest(
        leg=leg.name,
        month=month,
        psh_h=sun.psh_h,
        harvest_wh=daily - clipped,
        balance_wh=daily - clipped - e_day_wh - heater,
        poor_day_wh=_day_wh(daily, groups, skies, POOR_DAY),
        fine_day_wh=_day_wh(daily, groups, skies, FINE_DAY),
        source=f"{sun.source}; days after {SPREAD_SOURCE}",
        clipped_wh=clipped,
        heater_wh=heater,
    )


def _skies(leg: TravelLeg, month: int, psh_h: float, k_sys: float) -> tuple[tuple[float, Sky], ...]:
    """Return the light on the panels with the share of days it is that way: tilted, and left flat."""
    k_shade = SHADE_FACTOR[leg.shade_habit]
    flat = Sky(leg.latitude_deg, month, psh_h, k_shade, k_sys)
    gain = _tilted(leg, month)
    if gain == 1.0:
        return ((1.0, flat),)
    uptake = leg.tilt_uptake_fraction
    return (uptake, replace(flat, k_light=k_shade * gain)), (1.0 - uptake, flat)


def _day_wh(
    daily_wh: float, groups: tuple[ArrayGroup, ...], skies: tuple[tuple[float, Sky], ...], probability: float
) -> float | None:
    """Return the harvest of a day that so many days are worse than [Wh]; none in polar night."""
    first = skies[0][1]
    share = day_share(first.latitude_deg, first.month, first.psh_h, probability)
    if share is None:
        return None
    lost = sum(often * clipped_wh(group, sky, share) for often, sky in skies for group in groups)
    return daily_wh * share - lost


def _engine_figure(system: SystemInput, source: ChargeSourceInput) -> Figure | None:
    if source.driving_hours_per_day <= 0:
        return None
    return Figure(
        key=f"source:{source.id}/engine",
        title=f"{source.name}: from the engine in a day",
        value=engine_wh(source, system.v_nominal_v),
        unit="Wh",
        formula="E_alt = I_out·V_bat·h_drive·0.95",
        substituted=(
            f"{show(source.output_a)} × {show(ENGINE_BUS_V * system.v_nominal_v / 12)} ×"
            f" {show(source.driving_hours_per_day)} × 0.95 = {engine_wh(source, system.v_nominal_v):,.0f} Wh"
        ),
        source="F6: rating of the DC-DC unit; a stock charge wire is credited 5 A (shop default)",
        guesses=resting_on(system, ("sources",)),
    )


def _shore_figure(system: SystemInput, source: ChargeSourceInput) -> Figure | None:
    if source.shore_hours_per_day <= 0:
        return None
    return Figure(
        key=f"source:{source.id}/shore",
        title=f"{source.name}: from shore or generator in a day",
        value=shore_wh(source, system.v_nominal_v),
        unit="Wh",
        formula="E = I_chg·V·h",
        substituted=(
            f"{show(source.output_a)} × {show(ENGINE_BUS_V * system.v_nominal_v / 12)} ×"
            f" {show(source.shore_hours_per_day)} = {shore_wh(source, system.v_nominal_v):,.0f} Wh"
        ),
        source="F7: charger rating × hours plugged in",
        guesses=resting_on(system, ("sources",)),
    )
