"""The column of an amount of money: exact, with room for three decimals."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Final

from django.db import models

from common.currency import MOST_PLACES

_CENT: Final = Decimal("0.01")


class MoneyField(models.DecimalField):  # type: ignore[type-arg]  # generic for the checker only
    """An amount in any currency; a third decimal is read only where it says something."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 10 + MOST_PLACES)
        kwargs.setdefault("decimal_places", MOST_PLACES)
        super().__init__(*args, **kwargs)

    def from_db_value(self, value: Decimal | None, expression: Any, connection: Any) -> Decimal | None:
        """Return 12.5 as 12.50 and 12.345 as it is."""
        if value is None:
            return None
        short = value.quantize(_CENT)
        return short if short == value else value
