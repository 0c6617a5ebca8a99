"""Facts that cannot be true together, whichever way they come in: a form, a file or Python."""

from __future__ import annotations

from typing import Final

#: Of the rated power that Vmp × Imp may differ by: rounding of three printed figures; shop default. [-]
POWER_GAP: Final = 0.03


def power_gap_words(*, pmp_w: float, vmp_v: float, imp_a: float) -> str | None:
    """Return what is wrong where a panel's watts are not its volts times its amps, else ``None``.

    Parameters
    ----------
    pmp_w : float
        Rated power. [W]
    vmp_v, imp_a : float
        Voltage and current at maximum power. [V], [A]

    Returns
    -------
    str or None
        A sentence without a full stop; ``None`` up to 3 % of the rated power.

    Raises
    ------
    Nothing
        A bad sheet is an answer.

    References
    ----------
    .. [1] P = U·I; the 3 % are a shop default for the rounding of a data sheet.
    """
    product_w = vmp_v * imp_a
    if abs(product_w - pmp_w) <= POWER_GAP * pmp_w * (1 + 1e-9):
        return None
    return f"Vmp × Imp is {product_w:.1f} W, more than {POWER_GAP:.0%} off the {pmp_w:g} W of the sheet"
