"""Decimals of currencies: minor units as ISO 4217:2015 lists them (list one), typed from the standard."""

from __future__ import annotations

from decimal import Decimal

import pytest

from common import currency

MINOR_UNITS = {
    0: ("JPY", "KRW"),
    2: ("USD", "CAD", "MXN", "EUR", "GBP", "CHF", "DKK", "NOK", "SEK", "PLN", "CZK", "AUD", "NZD"),
    3: ("BHD", "JOD", "KWD", "OMR", "TND"),
}


def test_every_currency_a_shop_may_choose_has_the_standards_decimals():
    listed = {code: places for places, codes in MINOR_UNITS.items() for code in codes}
    assert {code: currency.places_of(code) for code in currency.CURRENCIES} == listed
    assert max(listed.values()) == currency.MOST_PLACES


@pytest.mark.parametrize(
    ("amount", "code", "rounded", "said", "written"),
    [
        ("1234.5", "USD", "1234.50", "$1,234.50", "1234.50"),
        ("1234.5", "JPY", "1235", "¥1,235", "1235"),  # half up
        ("1234.5", "KWD", "1234.500", "KWD\xa01,234.500", "1234.500"),
        ("0.0005", "TND", "0.001", "TND\xa00.001", "0.001"),
        ("-0.005", "EUR", "-0.01", "-€0.01", "-0.01"),  # away from zero
    ],
)
def test_an_amount_has_its_currencys_decimals_everywhere(amount, code, rounded, said, written):
    found = currency.rounded(Decimal(amount), code)
    assert str(found) == rounded
    assert currency.money_text(found, code) == said
    assert currency.digits_text(Decimal(amount), code) == written
