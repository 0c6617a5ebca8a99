"""How many bay days a plan of hours takes (F26)."""

from __future__ import annotations

import math
from typing import Final

from sizing.core.inputs import InputOutOfRange

#: Productive hours of a working day by place; shop defaults. [h]
PRODUCTIVE_HOURS: Final = {"shop": 6.5, "driveway": 5.5, "campsite": 5.0}
#: What so many people get done of one person's work; shop defaults. [-]
PEOPLE_FACTOR: Final = {1: 1.0, 2: 1.7}


def bay_days(plan_h: float, *, place: str = "shop", people: int = 1) -> int:
    """Return the whole days a plan of one-person hours takes (F26).

    Parameters
    ----------
    plan_h : float
        Planned hours of one person, 0 or more. [h]
    place : str
        ``shop`` 6.5, ``driveway`` 5.5 or ``campsite`` 5.0 productive hours a day. [-]
    people : int
        1, or 2 who get 1.7 times as much done. [-]

    Returns
    -------
    int
        Days, rounded up. [d]

    Raises
    ------
    InputOutOfRange
        If the hours are negative, the place unknown or the people not 1 or 2.

    References
    ----------
    .. [1] Shop defaults, no source.
    """
    if not plan_h >= 0 or not math.isfinite(plan_h):
        raise InputOutOfRange("plan_h", f"must be 0 h or more, got {plan_h}")
    if place not in PRODUCTIVE_HOURS:
        raise InputOutOfRange("place", f"must be one of {', '.join(PRODUCTIVE_HOURS)}, got {place!r}")
    if people not in PEOPLE_FACTOR:
        raise InputOutOfRange("people", f"must be 1 or 2, got {people}")
    return math.ceil(plan_h / PEOPLE_FACTOR[people] / PRODUCTIVE_HOURS[place] - 1e-9)
