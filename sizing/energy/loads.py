"""What the customer uses in a day, and how much the bank must hold for it (F1 to F4)."""

from __future__ import annotations

from typing import Final

from sizing.core.checks import Term
from sizing.core.guesses import resting_on
from sizing.core.inputs import Bus, Chemistry, InputOutOfRange, InverterInput, LoadRow, SystemInput
from sizing.core.judge import show
from sizing.core.results import EnergyResult, Figure

WIRE_EFFICIENCY: Final = 0.97  # battery to DC appliance, common practice [-]
INVERTER_EFFICIENCY: Final = 0.88  # where no inverter is named, common practice 0.85 to 0.92 [-]
LOAD_SOURCE: Final = "Energy audit: power × duty × hours × count; efficiencies common practice, no source"


def row_energy_wh(row: LoadRow) -> float:
    """Return what one appliance uses in a day [Wh]."""
    return row.power_w * row.duty_fraction * row.hours_per_day * row.quantity


def bus_energy_wh(loads: tuple[LoadRow, ...], bus: Bus) -> float:
    """Return what all appliances of a bus use in a day [Wh] (F1)."""
    return sum(row_energy_wh(row) for row in loads if row.bus is bus)


def daily_energy(loads: tuple[LoadRow, ...], inverter: InverterInput | None) -> EnergyResult:
    """Return a day's use at the battery.

    Parameters
    ----------
    loads : tuple of LoadRow
        Appliances; power [W], duty 0-1, hours 0-24. [Wh/day]
    inverter : InverterInput or None
        Its efficiency and idle draw; ``None`` uses 0.88 and no idle draw. [-], [W]

    Returns
    -------
    EnergyResult
        Energy by bus, idle and total. [Wh/day]

    Raises
    ------
    InputOutOfRange
        If the inverter's efficiency is not above 0 and up to 1.

    Notes
    -----
    F2 ``E_day = E_dc/η_wire + E_ac/η_inv + E_idle``; F3 ``E_idle = P_idle·hours on``.

    References
    ----------
    .. [1] Energy balance; η_wire 0.97 and η_inv 0.88 are common practice, no source.
    """
    efficiency = INVERTER_EFFICIENCY if inverter is None else inverter.efficiency_fraction
    if not 0.0 < efficiency <= 1.0:
        raise InputOutOfRange(
            "inverter.efficiency_fraction", f"must be above 0 and up to 1, got {efficiency}"
        )
    e_dc, e_ac = bus_energy_wh(loads, Bus.DC), bus_energy_wh(loads, Bus.AC)
    e_idle = 0.0 if inverter is None else inverter.idle_w * inverter.hours_on_per_day
    return EnergyResult(
        e_dc_wh=e_dc,
        e_ac_wh=e_ac,
        e_idle_wh=e_idle,
        e_day_wh=e_dc / WIRE_EFFICIENCY + e_ac / efficiency + e_idle,
    )


def required_bank_wh(
    e_day_wh: float, *, autonomy_days: float, depth_of_discharge_fraction: float, k_temp: float = 1.0
) -> float:
    """Return the nominal energy a bank needs (F4).

    Parameters
    ----------
    e_day_wh : float
        Daily use at the battery, 0 or more. [Wh]
    autonomy_days : float
        Days without charging, 0 or more. [d]
    depth_of_discharge_fraction, k_temp : float
        Usable share, and share left at the coldest cell temperature; above 0 to 1. [-]

    Returns
    -------
    float
        ``E_day·days/(DoD·k_temp)``. [Wh]

    Raises
    ------
    InputOutOfRange
        If a share is not above 0 and up to 1, or energy or days are negative.

    References
    ----------
    .. [1] Energy balance.
    """
    for name, share in (("depth_of_discharge_fraction", depth_of_discharge_fraction), ("k_temp", k_temp)):
        if not 0.0 < share <= 1.0:
            raise InputOutOfRange(name, f"must be above 0 and up to 1, got {share}")
    if e_day_wh < 0 or autonomy_days < 0:
        raise InputOutOfRange(
            "e_day_wh", f"energy and days must be 0 or more, got {e_day_wh}, {autonomy_days}"
        )
    return e_day_wh * autonomy_days / (depth_of_discharge_fraction * k_temp)


def bank_nominal_v(chemistry: Chemistry, v_nominal_v: float) -> float:
    """Return the voltage a bank's amp-hours are counted at [V]: 12.8 per 12 V of LFP, 12.0 of lead."""
    per_12_v = 12.8 if chemistry is Chemistry.LFP else 12.0
    return per_12_v * v_nominal_v / 12.0


def energy_figures(system: SystemInput, energy: EnergyResult) -> tuple[Figure, ...]:
    """Return the daily use as numbers that can be opened."""
    guesses = resting_on(system, ("loads", "inverter"))
    rows = tuple(
        Term(row.name, f"{row.name} ({row.bus.value})", row_energy_wh(row), "Wh") for row in system.loads
    )
    efficiency = INVERTER_EFFICIENCY if system.inverter is None else system.inverter.efficiency_fraction
    total = Figure(
        key="energy/e_day",
        title="Daily use at the battery",
        value=energy.e_day_wh,
        unit="Wh",
        formula="E_day = E_dc/η_wire + E_ac/η_inv + E_idle",
        substituted=(
            f"{show(energy.e_dc_wh)}/{WIRE_EFFICIENCY} + {show(energy.e_ac_wh)}/{show(efficiency)}"
            f" + {show(energy.e_idle_wh)} = {show(energy.e_day_wh, 'Wh', 1)}"
        ),
        source=LOAD_SOURCE,
        terms=(
            Term("E_dc", "DC appliances", energy.e_dc_wh, "Wh"),
            Term("E_ac", "AC appliances", energy.e_ac_wh, "Wh"),
            Term("E_idle", "inverter idling", energy.e_idle_wh, "Wh"),
            Term("η_wire", "wiring efficiency", WIRE_EFFICIENCY),
            Term("η_inv", "inverter efficiency", efficiency),
            *rows,
        ),
        guesses=guesses,
    )
    return (total,)
