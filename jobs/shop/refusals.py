"""How a service says no: a sentence fit for the person on the screen."""

from __future__ import annotations

import math
from typing import Any

import sizing
from common.units import with_unit


class Refusal(Exception):
    """A change that may not happen now; its text is shown to the person. Views catch only this."""


def number_within(
    value: Any, name: str, low: float, high: float, unit: str, *, refused: type[Refusal], whole: bool = False
) -> float:
    """Return a number that was sent; raise ``refused`` with name, limits and unit when it cannot be right."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if not is_number or not low <= value <= high or (whole and value != int(value)):
        kind = "a whole number " if whole else ""
        limits = f"{sizing.show_both(low, unit)} to {sizing.show_both(high, unit)}"
        if "‹" not in limits:  # said alike everywhere: the unit once
            limits = with_unit(f"{low:.0f} to {high:.0f}", unit)
        raise refused(f"{name}: must be {kind}from {limits}.")
    return float(value)
