"""The customary units: how much SI one of them is, and how a quantity is said in both."""

from __future__ import annotations

from typing import Final

from sizing.core.judge import show

N_PER_LBF: Final = 4.448222  # [N/lbf]
KG_PER_LB: Final = 0.45359237  # [kg/lb]
M_PER_FT: Final = 0.3048  # [m/ft]
_CUSTOMARY: Final = {"N": ("lbf", N_PER_LBF), "kg": ("lb", KG_PER_LB), "m": ("ft", M_PER_FT)}


def show_both(value: float, unit: str, digits: int = 0) -> str:
    """Return a quantity in both units, ``309 N (69 lbf)``: a stored sentence is read by either kind of shop.

    Parameters
    ----------
    value : float
        In the unit. [N], [kg] or [m]
    unit : str
        ``"N"``, ``"kg"`` or ``"m"``.
    digits : int
        Most decimals of either number. [-]

    Returns
    -------
    str
        Words.

    Raises
    ------
    KeyError
        If the unit is another.

    References
    ----------
    .. [1] NIST SP 811 (2008), appendix B.8: pound-force, pound and foot.
    """
    name, size = _CUSTOMARY[unit]
    return f"{show(value, unit, digits)} ({show(value / size, name, digits)})"
