"""The customary units: how much SI one of them is, and how a sentence holds a quantity in both."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from sizing.core.words import show

N_PER_LBF: Final = 4.448222  # [N/lbf]
KG_PER_LB: Final = 0.45359237  # [kg/lb]
M_PER_FT: Final = 0.3048  # [m/ft]
MM_PER_IN: Final = 25.4  # exact
NM_PER_IN_LB: Final = N_PER_LBF * 0.0254  # [N·m per in-lb]
PA_PER_PSF: Final = N_PER_LBF / M_PER_FT**2  # [Pa per psf]
MPS_PER_MPH: Final = 0.44704  # exact


@dataclass(frozen=True, slots=True)
class _Unit:
    """A customary unit: its name, how much SI it is, its zero, how many decimals fewer it takes."""

    name: str
    size: float
    zero: float = 0.0
    fewer: int = 0

    def of(self, value: float) -> float:
        """Return an amount of SI in this unit."""
        return value / self.size + self.zero

    def show(self, value: float, digits: int) -> str:
        """Return an amount of SI in words of this unit."""
        if self.name == "in":
            return show_inches(self.of(value))
        return show(self.of(value), self.name, max(0, digits - self.fewer))


_CUSTOMARY: Final = {
    "N": _Unit("lbf", N_PER_LBF),
    "kg": _Unit("lb", KG_PER_LB, fewer=1),
    "m": _Unit("ft", M_PER_FT, fewer=1),
    "mm": _Unit("in", MM_PER_IN),
    "km": _Unit("mi", 1.609344),
    "°C": _Unit("°F", 5 / 9, zero=32.0, fewer=2),
    "K": _Unit("°F", 5 / 9, fewer=1),
    "m/s": _Unit("mph", MPS_PER_MPH, fewer=2),
    "Pa": _Unit("psf", PA_PER_PSF, fewer=-1),
    "N·m": _Unit("in-lb", NM_PER_IN_LB, fewer=2),
    "m²": _Unit("ft²", M_PER_FT**2, fewer=1),
    "kg/m²": _Unit("lb/ft²", KG_PER_LB / M_PER_FT**2),
    "mΩ/m": _Unit("mΩ/ft", 1 / M_PER_FT),
}

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


def show_both(value: float | None, unit: str, digits: int = 0) -> str:
    """Return a quantity for either kind of shop, ``‹309 N|69 lbf›``; alike in both, it is said once.

    Parameters
    ----------
    value : float or None
        In the unit; what is not known is a dash.
    unit : str
        Any of the engine: ``"N"``, ``"°C"``, ``"V"``. Millimeters are said in eighths of an inch.
    digits : int
        Most decimals in SI; feet take one fewer, degrees Fahrenheit and inch-pounds two. [-]

    Returns
    -------
    str
        Words that :func:`in_units` opens.

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] NIST SP 811 (2008), appendix B.8: pound-force, pound, foot, inch, mile, degree Fahrenheit.
    """
    here = _CUSTOMARY.get(unit)
    if value is None or here is None or not math.isfinite(value):
        return show(value, unit, digits)
    return pair(show(value, unit, digits), here.show(value, digits))


def show_inches(inches: float) -> str:
    """Return inches as a tape shows them, to an eighth; less than half of that in decimals.

    Parameters
    ----------
    inches : float
        A length. [in]

    Returns
    -------
    str
        Words: ``8 1/4 in``. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Common practice, no source: no length of this work is cut finer but where it is drilled.
    """
    eighths = math.floor(abs(inches) * 8 + 0.5)
    if not eighths:
        return show(inches, "in", 2)
    whole, part = divmod(Fraction(eighths, 8), 1)
    words = " ".join(filter(None, [f"{whole:,}" if whole else "", str(part) if part else ""]))
    return f"{'-' if inches < 0 else ''}{words} in"


def show_sum(words: str, values: Sequence[float | None], unit: str, digits: int = 2) -> str:
    """Return a sum of one unit for either kind of shop: ``‹1 + 2 = 3 kg|2.2 + 4.4 = 6.6 lb›``.

    Parameters
    ----------
    words : str
        The sum with ``{}`` for each number, the result last. [-]
    values : sequence of float or None
        The numbers, each in the unit.
    unit : str
        One that is said otherwise in customary units, ``"kg"``. [-]
    digits : int
        As for :func:`show_both`. [-]

    Returns
    -------
    str
        Words that :func:`in_units` opens.

    Raises
    ------
    KeyError
        If the unit is said alike in both.

    References
    ----------
    .. [1] As :func:`show_both`.
    """
    here = _CUSTOMARY[unit]
    us_digits = max(0, digits - here.fewer)
    us = [None if value is None else here.of(value) for value in values]
    return pair(
        words.format(*(show(each, "", digits) for each in values[:-1]), show(values[-1], unit, digits)),
        words.format(*(show(each, "", us_digits) for each in us[:-1]), show(us[-1], here.name, us_digits)),
    )


def show_apart(value: float, limit: float, unit: str, *, digits: int = 0) -> tuple[str, str, str]:
    """Return value, limit and how far they lie apart, for either kind of shop, told apart in both systems.

    Parameters
    ----------
    value, limit : float
        In the unit. [N] or [kg]
    unit : str
        ``"N"`` or ``"kg"``.
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
    sides = []
    here = _CUSTOMARY[unit]
    for name, size, fewer in ((unit, 1.0, 0), (here.name, here.size, here.fewer)):
        own, bound = value / size, limit / size
        enough = _digits(max(0, digits - fewer), own, bound)
        of_gap = _digits(1 if not fewer or abs(own - bound) < 10 else 0, own - bound, 0.0)
        sides.append(
            (show(own, name, enough), show(bound, name, enough), show(abs(own - bound), name, of_gap))
        )
    first, second, third = (pair(si, us) for si, us in zip(*sides, strict=True))
    return first, second, third


def unit_sizes() -> dict[str, tuple[str, float, float]]:
    """Return each unit of the engine that is said otherwise in customary units.

    Parameters
    ----------
    None

    Returns
    -------
    dict of str to (str, float, float)
        Name, how much of the engine's unit it is, and where its zero lies: amount = value/size + zero. [-]

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] As :func:`show_both`.
    """
    return {unit: (each.name, each.size, each.zero) for unit, each in _CUSTOMARY.items()}


def _digits(least: int, value: float, other: float) -> int:
    """Return the fewest decimals that tell two numbers apart; ``least`` where none up to six do."""
    return next((n for n in range(least, 7) if show(value, "", n) != show(other, "", n)), least)
