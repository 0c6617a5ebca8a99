"""What would help when the sun does not cover the use: each remedy with what it brings, in order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Final

from sizing.core.inputs import Bus, InputOutOfRange, LoadRow, SourceKind, SystemInput
from sizing.core.judge import show
from sizing.core.results import MonthHarvest
from sizing.energy.array_power import effective_pmp_w
from sizing.energy.harvest import (
    ENGINE_BUS_V,
    ENGINE_EFFICIENCY,
    design_harvest,
    harvest_if_wh,
    month_harvests,
)
from sizing.energy.loads import INVERTER_EFFICIENCY, WIRE_EFFICIENCY, daily_energy, row_energy_wh
from sizing.sun.sky import MONTH_NAMES, tilt_gain

NIGHT_H: Final = 8.0  # hours an appliance can be off at night, common practice [h]
LONG_ON_H: Final = 16.0  # appliances on at least so long are worth switching off at night [h]
HEAT_W: Final = 1000.0  # AC appliances from here on make heat: gas or shore does it better [W]
SMALL_AC_W: Final = 120.0  # AC appliances up to here exist in a DC version [W]
ROOF_STEP_W: Final = 400.0  # one or two more panels [W]
TILT_UPTAKE: Final = 0.6  # share of days somebody climbs up and tilts, shop default [-]
TILTS_DEG: Final = (15.0, 30.0, 45.0)
DRIVE_H: Final = 0.5
DRIVE_A: Final = 40.0  # a usual DC-DC unit where none is planned [A]
CHARGER_A: Final = 60.0  # a usual charger behind a generator where none is planned [A]
SOURCE: Final = "Energy balance of the design month; hours and uptake are shop defaults"


class Remedy(IntEnum):
    """Kinds of help in the order an honest adviser gives them."""

    CUT_LOAD = 1
    MOVE_TO_GAS_OR_SHORE = 2
    INVERTER_OFF = 3
    DC_VERSION = 4
    MORE_ROOF = 5
    TILT = 6
    ENGINE = 7
    GENERATOR = 8
    BIGGER_BANK = 9


@dataclass(frozen=True, slots=True)
class Advice:
    """One remedy: what it brings in a day [Wh] and whether that alone closes the gap."""

    remedy: Remedy
    title: str
    gain_wh: float
    closes_gap: bool
    sentence: str
    source: str = SOURCE


def energy_advice(system: SystemInput) -> tuple[Advice, ...]:
    """Return what would close the gap between harvest and use in the design month.

    Parameters
    ----------
    system : SystemInput
        The design. [-]

    Returns
    -------
    tuple of Advice
        In honest order, the larger gain first within a kind; empty when there is no gap or no sun known. [Wh]

    Raises
    ------
    InputOutOfRange
        If a value cannot be right.

    References
    ----------
    .. [1] Energy balance; the order is common practice, no source.
    """
    energy = daily_energy(system.loads, system.inverter)
    month = design_harvest(system, month_harvests(system, energy.e_day_wh))
    if month is None or month.balance_wh is None or month.balance_wh >= 0:
        return ()
    gap_wh = -month.balance_wh
    found = sorted(_remedies(system, month, gap_wh), key=lambda each: (each.remedy, -each.gain_wh))
    return tuple(found)


def air_conditioner_hours_h(
    *,
    power_w: float,
    duty_fraction: float,
    usable_wh: float,
    spare_wh: float,
    inverter_efficiency: float = 0.88,
) -> float:
    """Return how long an air conditioner runs on a good day with a full bank.

    Parameters
    ----------
    power_w : float
        Running power, above 0. [W]
    duty_fraction : float
        Share of the time the compressor runs, above 0 to 1. [-]
    usable_wh, spare_wh : float
        Usable energy of the full bank, and what the day's harvest leaves over (may be negative). [Wh]
    inverter_efficiency : float
        Above 0 to 1. [-]

    Returns
    -------
    float
        Hours, 0 when nothing is left. [h]

    Raises
    ------
    InputOutOfRange
        If power, duty or efficiency is not above 0.

    References
    ----------
    .. [1] Energy balance; no source needed.
    """
    if not (power_w > 0 and duty_fraction > 0 and inverter_efficiency > 0):
        raise InputOutOfRange(
            "power_w", f"power, duty and efficiency must be above 0, got {power_w}, {duty_fraction}"
        )
    return max(0.0, usable_wh + spare_wh) * inverter_efficiency / (power_w * duty_fraction)


def _remedies(system: SystemInput, month: MonthHarvest, gap_wh: float) -> Iterator[Advice]:
    for row in system.loads:
        yield from _load_remedies(system, row, gap_wh)
    yield from _inverter_off(system, gap_wh)
    yield from _dc_versions(system, gap_wh)
    yield from _more_roof(system, month, gap_wh)
    yield from _tilt(system, month, gap_wh)
    yield _engine(system, gap_wh)
    yield _generator(system, gap_wh)
    yield _bank(gap_wh)


def _load_remedies(system: SystemInput, row: LoadRow, gap_wh: float) -> Iterator[Advice]:
    at_battery_wh = row_energy_wh(row) / _efficiency(system, row.bus)
    if row.hours_per_day >= LONG_ON_H and not row.is_critical:
        share = NIGHT_H / row.hours_per_day
        yield _advice(
            Remedy.CUT_LOAD,
            f"{row.name} off at night",
            at_battery_wh * share,
            gap_wh,
            f"{NIGHT_H:.0f} of {show(row.hours_per_day, 'hours')} off.",
        )
    if row.bus is Bus.AC and row.power_w >= HEAT_W:
        words = "From gas, or only when plugged in."
        yield _advice(
            Remedy.MOVE_TO_GAS_OR_SHORE, f"{row.name} by gas or shore", at_battery_wh, gap_wh, words
        )


def _inverter_off(system: SystemInput, gap_wh: float) -> Iterator[Advice]:
    inverter = system.inverter
    if inverter is None or inverter.hours_on_per_day <= NIGHT_H or inverter.idle_w <= 0:
        return
    words = f"{NIGHT_H:.0f} hours without {show(inverter.idle_w, 'W')} of idling."
    yield _advice(Remedy.INVERTER_OFF, "Inverter off at night", inverter.idle_w * NIGHT_H, gap_wh, words)


def _dc_versions(system: SystemInput, gap_wh: float) -> Iterator[Advice]:
    small = [row for row in system.loads if row.bus is Bus.AC and row.power_w <= SMALL_AC_W]
    total_wh = sum(row_energy_wh(row) for row in small)
    if total_wh <= 0:
        return
    gain = total_wh / _efficiency(system, Bus.AC) - total_wh / WIRE_EFFICIENCY
    names = ", ".join(row.name for row in small)
    yield _advice(Remedy.DC_VERSION, "Small appliances on DC", gain, gap_wh, f"{names} without the inverter.")


def _more_roof(system: SystemInput, month: MonthHarvest, gap_wh: float) -> Iterator[Advice]:
    pmp_w = effective_pmp_w(system)
    if pmp_w <= 0 or not month.harvest_wh:
        return
    leg = next(leg for leg in system.legs if leg.name == month.leg)
    total = harvest_if_wh(system, leg, month.month, more_w=ROOF_STEP_W) or 0.0
    words = f"{show(pmp_w + ROOF_STEP_W, 'W')} would give {total:,.0f} Wh."
    if month.clipped_wh > 0:
        words += " The controllers cut off part of it: larger ones would give more."
    gain = total - month.harvest_wh
    yield _advice(Remedy.MORE_ROOF, f"{ROOF_STEP_W:,.0f} W more on the roof", gain, gap_wh, words)


def _tilt(system: SystemInput, month: MonthHarvest, gap_wh: float) -> Iterator[Advice]:
    leg = next(leg for leg in system.legs if leg.name == month.leg)
    if leg.tilt_deg > 0 or abs(leg.latitude_deg) > 66.0 or not month.harvest_wh:
        return
    tilt_deg = max(TILTS_DEG, key=lambda tilt: tilt_gain(leg.latitude_deg, month.month, tilt))
    gain = round(tilt_gain(leg.latitude_deg, month.month, tilt_deg), 2) - 1.0
    if gain <= 0:
        return
    tilted = replace(leg, tilt_deg=tilt_deg, tilt_uptake_fraction=1.0)
    full_wh = harvest_if_wh(system, tilted, month.month) or 0.0
    words = (
        f"In {MONTH_NAMES[month.month - 1]} {full_wh:,.0f} Wh if tilted to the noon sun every day; credited"
        f" at {TILT_UPTAKE:.0%}. Down before driving and in wind."
    )
    credited = (full_wh - month.harvest_wh) * TILT_UPTAKE
    yield _advice(Remedy.TILT, f"Panels tilted {tilt_deg:.0f}°", credited, gap_wh, words)


def _engine(system: SystemInput, gap_wh: float) -> Advice:
    units = [source for source in system.sources if source.kind is SourceKind.DC_DC]
    output_a = max((source.output_a for source in units), default=DRIVE_A)
    gain = output_a * ENGINE_BUS_V * system.v_nominal_v / 12.0 * DRIVE_H * ENGINE_EFFICIENCY
    words = f"Half an hour of driving at {show(output_a, 'A')} from a DC-DC unit."
    return _advice(Remedy.ENGINE, "Half an hour of driving a day", gain, gap_wh, words)


def _generator(system: SystemInput, gap_wh: float) -> Advice:
    kinds = (SourceKind.CONVERTER, SourceKind.INVERTER_CHARGER, SourceKind.GENERATOR)
    units = [source for source in system.sources if source.kind in kinds]
    output_a = max((source.output_a for source in units), default=CHARGER_A)
    hours = gap_wh / (output_a * ENGINE_BUS_V * system.v_nominal_v / 12.0)
    words = f"{show(hours, 'hours', 1)} a day with a charger of {show(output_a, 'A')}."
    return _advice(Remedy.GENERATOR, "Generator", gap_wh, gap_wh, words)


def _bank(gap_wh: float) -> Advice:
    words = "Stores more, makes nothing: the gap stays, only the day it is felt comes later."
    return _advice(Remedy.BIGGER_BANK, "A bigger bank", 0.0, gap_wh, words)


def _advice(remedy: Remedy, title: str, gain_wh: float, gap_wh: float, words: str) -> Advice:
    closes = gain_wh >= gap_wh * (1 - 1e-9)
    return Advice(remedy, title, gain_wh, closes, words)


def _efficiency(system: SystemInput, bus: Bus) -> float:
    if bus is Bus.DC:
        return WIRE_EFFICIENCY
    return INVERTER_EFFICIENCY if system.inverter is None else system.inverter.efficiency_fraction
