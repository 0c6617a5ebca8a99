"""Voltage drop (F15): by resistance and by circular mils, which agree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.cable.conductors import Conductor, ResistanceBasis, conductor
from sizing.core.customary import M_PER_FT
from sizing.core.inputs import InputOutOfRange

#: Circular-mil constant of ABYC E-11 (copper, warm): ohm-circular-mil per foot. [Ω·cmil/ft]
K_E11: Final = 10.75


@dataclass(frozen=True, slots=True)
class Drop:
    """The voltage lost out and back along a circuit."""

    drop_v: float
    drop_fraction: float  # of the circuit voltage
    resistance_ohm_per_m: float  # of one conductor (of all in parallel)
    circuit_v: float


def loop_len_m(run_len_m: float) -> float:
    """Return the length out and back [m] of a one-way path [m]."""
    return 2.0 * run_len_m


def resistance_ohm_per_m(
    size: str,
    standard: str = "awg",
    conductor_temp_c: float = 20.0,
    basis: str = ResistanceBasis.SOLID_20C,
) -> float:
    """Return the resistance of one copper conductor.

    Parameters
    ----------
    size : str
        Size as people write it, see :func:`sizing.cable.conductors.conductor`. [-]
    standard : str
        ``"awg"``, ``"sae"`` or ``"metric"``. [-]
    conductor_temp_c : float
        Temperature of the metal, not of the air; -60 to 250. [°C]
    basis : str
        ``"solid_20c"``: 17.241 Ω·mm²/km over the nominal area (10 AWG 3.277 mΩ/m), the figure trade tables
        at 20 °C print; metric sizes use IEC 60228 class 5 plain. ``"printed"``: the stranded, uncoated
        column of NFPA 70 (10 AWG 1.24 Ω per 1000 ft at 75 °C), 2 % higher. [-]

    Returns
    -------
    float
        Resistance of one conductor; a circuit has two. [Ω/m]

    Raises
    ------
    InputOutOfRange
        If the size is not in the tables or the temperature lies outside -60 to 250 °C.

    Notes
    -----
    ``R = R20·(1 + 0.00393·(T - 20))``; printed AWG: ``R = R75·(1 + 0.00323·(T - 75))``.

    References
    ----------
    .. [1] NFPA 70 (2017), chapter 9, table 8 and its note 2.
    .. [2] IEC 60228, tables 2 and 3; IEC 60028 (0.00393 from memory).
    """
    if not -60.0 <= conductor_temp_c <= 250.0:
        raise InputOutOfRange("conductor_temp_c", f"must be -60 to 250 °C, got {conductor_temp_c}")
    return conductor(size, standard).resistance_ohm_per_m(conductor_temp_c, ResistanceBasis(basis))


def drop(
    cable: Conductor,
    run_len_m: float,
    current_a: float,
    circuit_v: float,
    *,
    conductor_temp_c: float = 20.0,
    parallel_conductors: int = 1,
    basis: ResistanceBasis = ResistanceBasis.SOLID_20C,
) -> Drop:
    """Return the drop out and back: ``Vd = 2·L·I·R/n``, as volts and as a fraction of ``circuit_v``."""
    resistance = cable.resistance_ohm_per_m(conductor_temp_c, basis) / parallel_conductors
    lost_v = loop_len_m(run_len_m) * current_a * resistance
    return Drop(lost_v, lost_v / circuit_v, resistance, circuit_v)


def voltage_drop_v(run_len_m: float, current_a: float, ohm_per_m: float) -> float:
    """Return the voltage lost out and back along a two-wire circuit.

    Parameters
    ----------
    run_len_m : float or ndarray
        One-way path. [m]
    current_a : float or ndarray
        Current. [A]
    ohm_per_m : float or ndarray
        Resistance of one conductor. [Ω/m]

    Returns
    -------
    float or ndarray
        Lost voltage, ``2·L·I·R``. [V]

    Raises
    ------
    Nothing; arrays broadcast.

    References
    ----------
    .. [1] Ohm's law over the loop; NFPA 70 (2017) 210.19(A) informational note 4 names 3 % as good practice.
    """
    return 2.0 * run_len_m * current_a * ohm_per_m


def circular_mils_needed(
    current_a: float, loop_m: float, drop_v: float, k_ohm_cmil_per_ft: float = K_E11
) -> float:
    """Return the area that keeps the drop, by the circular-mil formula.

    Parameters
    ----------
    current_a : float
        Current. [A]
    loop_m : float
        Length out and back. [m]
    drop_v : float
        Allowed drop, above 0. [V]
    k_ohm_cmil_per_ft : float
        10.75 (ABYC E-11) or 12.9 (copper at 75 °C, as two electricians' pages quote). [Ω·cmil/ft]

    Returns
    -------
    float
        Area, ``CM = K·I·L/E`` with ``L`` in feet round trip. [cmil]

    Raises
    ------
    InputOutOfRange
        If the allowed drop is not above 0 V.

    References
    ----------
    .. [1] ABYC E-11, voltage drop formula (as reprinted by marine suppliers).
    """
    if not drop_v > 0:
        raise InputOutOfRange("drop_v", f"allowed drop must be above 0 V, got {drop_v}")
    return k_ohm_cmil_per_ft * current_a * (loop_m / M_PER_FT) / drop_v
