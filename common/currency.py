"""How many decimals a currency has (the minor units of ISO 4217), and amounts rounded to them.

The number comes from Babel's copy of the Unicode CLDR; it is the one ISO 4217 gives for every currency a shop
may choose (a test compares them with the standard's own table).
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from babel.numbers import format_currency, get_currency_precision

#: What a shop may charge in, ISO 4217.
CURRENCIES: Final = (
    "USD", "CAD", "MXN", "EUR", "GBP", "CHF", "DKK", "NOK", "SEK", "PLN", "CZK", "AUD", "NZD", "JPY", "KRW",
    "BHD", "JOD", "KWD", "OMR", "TND",
)  # fmt: skip
#: The most decimals any of them has: what columns hold.
MOST_PLACES: Final = 3
USUAL: Final = "USD"
#: Letters before a number stand apart from it (CLDR, spacing of currencies).
_LETTERS: Final = re.compile(r"([A-Z]{3})(?=\d)")


def places_of(currency: str) -> int:
    """Return how many decimals amounts of a currency have."""
    return get_currency_precision(currency or USUAL)


def smallest(currency: str) -> Decimal:
    """Return the smallest amount of a currency, a cent for one."""
    return Decimal(1).scaleb(-places_of(currency))


def rounded(amount: Decimal, currency: str) -> Decimal:
    """Return an amount rounded half up, away from zero, to what can be paid."""
    return amount.quantize(smallest(currency), rounding=ROUND_HALF_UP)


def money_text(amount: Decimal, currency: str) -> str:
    """Return an amount as people read it, with its sign and decimals: $1,234.50, ¥1,235, KWD 1,234.500."""
    text = format_currency(amount, currency or USUAL, locale="en_US")
    return _LETTERS.sub("\\1\u00a0", text)


def digits_text(amount: Decimal, currency: str) -> str:
    """Return an amount as files hold it: the currency's decimals, no sign of it and no thousands."""
    return f"{rounded(amount, currency):f}"
