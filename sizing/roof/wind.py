"""How hard the wind lifts a panel and what a screw holds: the sums behind every foot (F18, F19)."""

from __future__ import annotations

from typing import Final

from sizing.core.customary import N_PER_LBF
from sizing.core.inputs import InputOutOfRange, PanelSpec

AIR_DENSITY_KG_M3: Final = 1.225  # standard atmosphere at sea level, 15 °C [kg/m³]
GRAVITY_M_S2: Final = 9.81  # [m/s²]
MM_PER_INCH: Final = 25.4
UPLIFT_CP: Final = 1.0  # suction coefficient of a flush panel, common practice [-]
WOOD_SPECIFIC_GRAVITY: Final = 0.45  # spruce-pine-fir to southern pine [-]
PLY_SHARE: Final = 0.5  # of the solid-wood value, as plywood is over-predicted; shop default [-]
SCREW_DIAMETER_IN: Final = {"#8": 0.164, "#10": 0.190, "#12": 0.216, "#14": 0.242, "1/4": 0.250, "M6": 0.236}


def dynamic_pressure_pa(speed_m_s: float) -> float:
    """Return the dynamic pressure of moving air (F18).

    Parameters
    ----------
    speed_m_s : float
        Road speed plus head wind, 0 or more. [m/s]

    Returns
    -------
    float
        ``0.5·ρ·v²`` at 1.225 kg/m³. [Pa]

    Raises
    ------
    InputOutOfRange
        If the speed is negative.

    References
    ----------
    .. [1] Bernoulli; standard atmosphere at sea level (ISO 2533).
    """
    if speed_m_s < 0:
        raise InputOutOfRange("speed_m_s", f"must be 0 m/s or more, got {speed_m_s}")
    return 0.5 * AIR_DENSITY_KG_M3 * speed_m_s**2


def uplift_n(panel: PanelSpec, speed_m_s: float, *, cp: float = UPLIFT_CP) -> float:
    """Return the net upward force on a panel (F18): the gust factor works on the lift, not on the weight.

    Parameters
    ----------
    panel : PanelSpec
        Length, width and mass. [m], [kg]
    speed_m_s : float
        Road speed plus head wind, 0 or more. [m/s]
    cp : float
        Suction coefficient. [-]

    Returns
    -------
    float
        ``q·Cp·A - m·g``, never below 0. [N]

    Raises
    ------
    InputOutOfRange
        If the speed is negative.

    References
    ----------
    .. [1] Bernoulli; Cp 1.0 at 105 mph is common practice, no source.
    """
    lift = dynamic_pressure_pa(speed_m_s) * cp * panel.length_m * panel.width_m
    return max(0.0, lift - panel.mass_kg * GRAVITY_M_S2)


def screw_withdrawal_n(screw: str, thread_mm: float, *, in_plywood: bool) -> float:
    """Return what a wood screw may be pulled with (F19).

    Parameters
    ----------
    screw : str
        ``#8``, ``#10``, ``#12``, ``#14``, ``1/4`` or ``M6``. [-]
    thread_mm : float
        Thread in the wood, 0 or more. [mm]
    in_plywood : bool
        Whether the wood is plywood, which holds half of what the formula says. [-]

    Returns
    -------
    float
        Allowable withdrawal, side grain, G = 0.45. [N]

    Raises
    ------
    InputOutOfRange
        If the screw is not in the list or the thread is negative.

    References
    ----------
    .. [1] Wood-screw withdrawal formula of wood engineering handbooks, ``W = 2850·G²·D`` lb per inch.
    """
    if screw not in SCREW_DIAMETER_IN:
        raise InputOutOfRange("roof.screw", f"must be one of {', '.join(SCREW_DIAMETER_IN)}, got {screw!r}")
    if thread_mm < 0:
        raise InputOutOfRange("thread_mm", f"must be 0 mm or more, got {thread_mm}")
    pounds_per_inch = 2850.0 * WOOD_SPECIFIC_GRAVITY**2 * SCREW_DIAMETER_IN[screw]
    share = PLY_SHARE if in_plywood else 1.0
    return pounds_per_inch * N_PER_LBF * thread_mm / MM_PER_INCH * share


def foot_utilisation(
    uplift: float, *, feet: int, capacity_per_foot_n: float, edge_factor: float = 1.0
) -> float | None:
    """Return how much of one foot's hold the wind uses (F19): the load goes where the foot is.

    Parameters
    ----------
    uplift : float
        Net force on the panel. [N]
    feet : int
        Feet of the panel, 1 or more. [-]
    capacity_per_foot_n : float
        What this very foot holds. [N]
    edge_factor : float
        1.5 for the leading feet of the front panel, else 1. [-]

    Returns
    -------
    float or None
        ``k_edge·F/n/(capacity)``; ``None`` for a foot that holds nothing. [-]

    Raises
    ------
    InputOutOfRange
        If there is no foot.

    References
    ----------
    .. [1] Per foot, never per panel: common practice, no source.
    """
    if feet < 1:
        raise InputOutOfRange("feet", f"must be 1 or more, got {feet}")
    return edge_factor * uplift / feet / capacity_per_foot_n if capacity_per_foot_n > 0 else None
