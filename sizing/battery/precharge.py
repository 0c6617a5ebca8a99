"""How an inverter's capacitors are filled before its switch is closed (F30)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from sizing.core.checks import Check, Provenance, Verdict
from sizing.core.inputs import InputOutOfRange
from sizing.core.judge import limit_check, show

RESISTOR_OHM: Final = (25.0, 100.0)  # common practice [Ω]
RESISTOR_W: Final = 25.0  # rating of the usual resistor, common practice [W]
LEAST_S: Final = 3.0  # held at least so long, common practice [s]
LEFT_V: Final = 1.0  # across the switch before it is closed, common practice [V]


@dataclass(frozen=True, slots=True)
class Precharge:
    """How long to hold the resistor, and what it has to stand."""

    hold_s: float
    first_current_a: float
    first_power_w: float
    is_within_rating: bool  # of a 25 W resistor, for the moment it is used


def precharge_plan(
    v_bus_v: float, *, resistance_ohm: float = 50.0, capacitance_f: float = 0.02, left_v: float = LEFT_V
) -> Precharge:
    """Return how to fill an inverter's capacitors through a resistor.

    Parameters
    ----------
    v_bus_v : float
        Voltage of the bank, above ``left_v``. [V]
    resistance_ohm : float
        Resistor held across the open switch, 25 to 100. [Ω]
    capacitance_f : float
        Input capacitance of the inverter, above 0; 0.02 is a guess for 2 to 3 kW at 12 V. [F]
    left_v : float
        Volts that may be left across the switch, above 0. [V]

    Returns
    -------
    Precharge
        Time to hold, never below 3 s, and what the resistor stands at first. [s], [A], [W]

    Raises
    ------
    InputOutOfRange
        If a value lies outside its range.

    Notes
    -----
    ``t = R·C·ln(V/V_left)``, doubled for capacitors above their rating. A wire-wound resistor stands ten
    times its rating for a few seconds.

    References
    ----------
    .. [1] Charging of a capacitor; resistor and time are common practice, no source.
    """
    low, high = RESISTOR_OHM
    if not low <= resistance_ohm <= high:
        raise InputOutOfRange("resistance_ohm", f"must be {low:g} to {high:g} Ω, got {resistance_ohm}")
    if not (capacitance_f > 0 and left_v > 0):
        raise InputOutOfRange("capacitance_f", f"must be above 0, got {capacitance_f} F and {left_v} V")
    if not v_bus_v > left_v:
        raise InputOutOfRange("v_bus_v", f"must be above {left_v:g} V, got {v_bus_v}")
    current_a = v_bus_v / resistance_ohm
    return Precharge(
        hold_s=max(LEAST_S, 2.0 * resistance_ohm * capacitance_f * math.log(v_bus_v / left_v)),
        first_current_a=current_a,
        first_power_w=current_a * v_bus_v,
        is_within_rating=current_a * v_bus_v <= 10.0 * RESISTOR_W,
    )


def judge_precharge(measured_v: float | None) -> Check:
    """Return whether the switch may be closed onto the inverter.

    Parameters
    ----------
    measured_v : float or None
        Volts across the open switch after pre-charging; the sign does not matter. [V]

    Returns
    -------
    Check
        Pass below 1 V, block above, not enough data without a reading. [V]

    Raises
    ------
    Nothing
        Any reading can be asked.

    References
    ----------
    .. [1] Below 1 V across the switch: common practice, no source.
    """
    return limit_check(
        rule="F30",
        key="inverter/precharge",
        subject="inverter",
        title="Volts left across the switch after pre-charge",
        value=None if measured_v is None else abs(measured_v),
        limit=LEFT_V,
        unit="V",
        sentences={
            Verdict.PASS: f"{show(measured_v, 'V')} left: the switch may be closed.",
            Verdict.BLOCK: f"{show(measured_v, 'V')} left: hold the resistor longer, do not close.",
        },
        source="Below 1 V across the switch: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="|ΔV| ≤ 1 V",
        substituted=show(measured_v, "V"),
    )
