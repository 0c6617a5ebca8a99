"""What a vehicle identification number looks like and how its check digit is worked out."""

from __future__ import annotations

import re
from typing import Final

# 49 CFR 565.15: letters I, O and Q are never used; weights by place; the check digit is the ninth.
_SHAPE: Final = re.compile(r"[A-HJ-NPR-Z0-9]{17}")
_VALUES: Final = {
    **{str(digit): digit for digit in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def vin_has_shape(vin: str) -> bool:
    """Return whether the text has the 17 permitted characters of a VIN."""
    return _SHAPE.fullmatch(vin) is not None


def vin_check_digit(vin: str) -> str:
    """Return the check digit that a VIN of the right shape should carry in its ninth place."""
    total = sum(_VALUES[letter] * weight for letter, weight in zip(vin, _WEIGHTS, strict=True))
    return "X" if total % 11 == 10 else str(total % 11)
