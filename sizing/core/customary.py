"""The customary units: how much SI one of them is, and how a sentence holds a quantity in both."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from sizing.core.judge import show

N_PER_LBF: Final = 4.448222  # [N/lbf]
KG_PER_LB: Final = 0.45359237  # [kg/lb]
M_PER_FT: Final = 0.3048  # [m/ft]
_CUSTOMARY: Final = {"N": ("lbf", N_PER_LBF), "kg": ("lb", KG_PER_LB), "m": ("ft", M_PER_FT)}

_PAIR: Final = re.compile(r"‹([^‹|›]*)\|([^‹|›]*)›")
_SIDES: Final = {"metric": r"\1", "imperial": r"\2"}


def pair(si: str, us: str) -> str:
    """Return one quantity written for either kind of shop, to stand in a sentence: ``‹309 N|69 lbf›``.

    Parameters
    ----------
    si, us : str
        The quantity with its unit, each rounded as its own system rounds. [-]

    Returns
    -------
    str
        A mark that :func:`in_units` opens when the sentence is shown. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] A form of our own: sentences are stored once and read in shops of both kinds.
    """
    return f"‹{si}|{us}›"


def in_units(text: str, units: str = "both") -> str:
    """Return a text with every mark of :func:`pair` opened for one kind of shop.

    Parameters
    ----------
    text : str
        Any words; without marks, as in answers stored before there were any, they come back as they are.
    units : str
        ``"metric"``, ``"imperial"``, or anything else where no shop is known: ``309 N (69 lbf)``. [-]

    Returns
    -------
    str
        Words to be read. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] As :func:`pair`.
    """
    return _PAIR.sub(_SIDES.get(units, r"\1 (\2)"), text) if "‹" in text else text


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


def show_apart(value: float, limit: float, unit: str, *, digits: int = 0) -> tuple[str, str, str]:
    """Return value, limit and how far they lie apart, in both units, with digits enough to tell them apart.

    Parameters
    ----------
    value, limit : float
        In the unit. [N], [kg] or [m]
    unit : str
        ``"N"``, ``"kg"`` or ``"m"``.
    digits : int
        Decimals to begin with. [-]

    Returns
    -------
    tuple of str
        Words: 0.4 kg over a limit never reads as the limit, and never as 0 over it.

    Raises
    ------
    KeyError
        If the unit is another.

    References
    ----------
    .. [1] As :func:`show_both`.
    """
    gap = abs(value - limit)
    enough = _digits(unit, digits, lambda size, n: show(value / size, "", n) != show(limit / size, "", n))
    of_gap = _digits(unit, max(digits, 1), lambda size, n: show(gap / size, "", n) != "0")
    return show_both(value, unit, enough), show_both(limit, unit, enough), show_both(gap, unit, of_gap)


def _digits(unit: str, least: int, is_plain: Callable[[float, int], bool]) -> int:
    """Return the fewest decimals that are plain in both units; ``least`` where none up to six are."""
    _, size = _CUSTOMARY[unit]
    return next((n for n in range(least, 7) if is_plain(1.0, n) and is_plain(size, n)), least)
