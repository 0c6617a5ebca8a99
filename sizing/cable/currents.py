"""The currents that follow from a rating: arrays, inverters, DC-DC converters, converters."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Final

from sizing.core.inputs import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    InputOutOfRange,
    InverterInput,
    SourceKind,
    SystemInput,
)

BRIGHT_SKY_FACTOR: Final = 1.25  # NFPA 70 (2017) 690.8(A)(1): current over rated Isc [-]
CONTINUOUS_FACTOR: Final = 1.25  # NFPA 70 (2017) 690.8(B), 210.19(A), 215.2(A): three hours and more [-]
DC_DC_EFFICIENCY: Final = 0.9  # DC-DC converter, common practice [-]
ON_ENGINE: Final = (SourceKind.DC_DC, SourceKind.RELAY)  # what loads an alternator
SENSE_CURRENT_A: Final = 0.1  # meters, probes and displays, common practice [A]
#: Lowest working battery voltage an inverter sees, per 12 V. LFP: common practice; lead: 1.75 V per cell,
#: the end voltage lead batteries are rated to. [V]
LOW_BATTERY_V: Final = MappingProxyType(
    {Chemistry.LFP: 11.5, Chemistry.AGM: 10.5, Chemistry.GEL: 10.5, Chemistry.FLOODED: 10.5}
)
#: Highest voltage of a battery by itself, per 12 V: the end of its printed charge range at 25 °C (LFP 3.65,
#: AGM 2.45, gel 2.40 V per cell); flooded is equalized, to 2.70. [V]
HIGH_BATTERY_V: Final = MappingProxyType(
    {Chemistry.LFP: 14.6, Chemistry.AGM: 14.7, Chemistry.GEL: 14.4, Chemistry.FLOODED: 16.2}
)
AGM_EQUALISE_V: Final = 15.5  # where one is set to be equalized: an inverter-charger manual, per 12 V [V]
#: From this many batteries in parallel each has its own fuse (common practice, no source). [-]
FUSE_EACH_FROM: Final = 3
NFPA_PV: Final = "NFPA 70 (2017) 690.8(A)(1)-(2), 690.8(B)"
NFPA_CONTINUOUS: Final = "NFPA 70 (2017) 690.8(B), 215.2(A): 125% of continuous current"


def low_battery_v(bank: BankInput | None, v_nominal_v: float) -> float:
    """Return the lowest working voltage of a bank [V]: 11.5 V per 12 V, lead 10.5 V."""
    per_12_v = LOW_BATTERY_V[Chemistry.LFP if bank is None else bank.chemistry]
    return per_12_v * v_nominal_v / 12.0


def high_battery_v(chemistry: Chemistry, v_nominal_v: float, *, equalises: bool = False) -> float:
    """Return the highest voltage of a bank by itself [V]: 14.6, 29.2, 43.8 or 58.4 V of lithium."""
    per_12_v = HIGH_BATTERY_V[chemistry]
    if equalises and chemistry is Chemistry.AGM:
        per_12_v = AGM_EQUALISE_V
    return per_12_v * v_nominal_v / 12.0


def inverter_input_a(inverter: InverterInput, bank: BankInput | None, v_nominal_v: float) -> float:
    """Return the direct current an inverter draws at full power and lowest battery voltage (F16).

    Parameters
    ----------
    inverter : InverterInput
        Power [W] and efficiency, above 0 to 1. [-]
    bank : BankInput or None
        Its chemistry gives the lowest working voltage: LFP 11.5 V, lead 10.5 V per 12 V. [V]
    v_nominal_v : float
        Nominal voltage of the bank: 12, 24, 36 or 48. [V]

    Returns
    -------
    float
        Current. [A]

    Raises
    ------
    Nothing; inputs are checked before.

    Notes
    -----
    ``I = P / (η·V_low)``.

    References
    ----------
    .. [1] NFPA 70 (2017) 690.8(A)(4): rated power at the lowest input voltage.
    """
    return inverter.power_w / (inverter.efficiency_fraction * low_battery_v(bank, v_nominal_v))


def dc_dc_input_a(output_a: float, output_v: float, input_v: float) -> float:
    """Return the current a DC-DC converter draws.

    Parameters
    ----------
    output_a, output_v : float
        Charging current and voltage. [A], [V]
    input_v : float
        Lowest working input voltage, above 0. [V]

    Returns
    -------
    float
        ``I_out·V_out/(0.9·V_in)``. [A]

    Raises
    ------
    InputOutOfRange
        If the input voltage is not above 0 V.

    References
    ----------
    .. [1] Power balance; 90 % efficiency is common practice, no source.
    """
    if not input_v > 0:
        raise InputOutOfRange("input_v", f"must be above 0 V, got {input_v}")
    return output_a * output_v / (DC_DC_EFFICIENCY * input_v)


def converter_minimum_a(load_a: float) -> float:
    """Return the smallest rating of a converter that feeds a low-voltage load.

    Parameters
    ----------
    load_a : float
        Connected low-voltage load, average charging included; 0 or more. [A]

    Returns
    -------
    float
        100 % of the first 20 A, 50 % of the next 20 A, 25 % of the rest. [A]

    Raises
    ------
    InputOutOfRange
        If the load is negative or not a finite number.

    References
    ----------
    .. [1] NFPA 70 (2017) 551.20(B).
    """
    if not (math.isfinite(load_a) and load_a >= 0):
        raise InputOutOfRange("load_a", f"must be 0 A or more, got {load_a}")
    return min(load_a, 20.0) + 0.5 * min(max(load_a - 20.0, 0.0), 20.0) + 0.25 * max(load_a - 40.0, 0.0)


def alternator_a(system: SystemInput, source: ChargeSourceInput) -> float | None:
    """Return the rating of the alternator behind a charger [A]: its own, else the least its sisters state."""
    if source.alternator_rating_a is not None:
        return source.alternator_rating_a
    stated = (
        unit.alternator_rating_a
        for unit in system.sources
        if unit.kind in ON_ENGINE and unit.alternator_id == source.alternator_id
    )
    return min((rating_a for rating_a in stated if rating_a is not None), default=None)
