"""Amounts are typed as exact decimals; what cannot be one is refused with field, limits and unit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from jobs.forms.amounts import AmountField


@pytest.fixture
def hours() -> AmountField:
    """Return a field of hours, 0 to 999, three decimals."""
    return AmountField(label="Hours", unit="h", high="999", places=3)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("3.6", "3.6"), ("3,6", "3.6"), (" 12 ", "12"), ("$12.50", "12.50"), ("0", "0"), ("1e2", "1e2"),
    ],
)  # fmt: skip
def test_it_reads_what_people_type(hours, typed, read):
    assert hours.clean(typed) == Decimal(read)


@pytest.mark.parametrize(("typed", "read"), [("1,234", "1234"), ("1,234.50", "1234.50"), ("12,34", "12.34")])
def test_thousands_and_decimal_commas(typed, read):
    assert AmountField(label="Price", unit="per unit").clean(typed) == Decimal(read)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("-1", "Hours must be 0 to 999 h; you typed -1."), ("1000", "Hours must be 0 to 999 h"),
        ("1e400", "Hours must be 0 to 999 h"), ("NaN", "not a number"), ("Infinity", "not a number"),
        ("two", "Hours: “two” is not a number."), ("1.2345", "at most 3 decimals"),
        ("1.2.3", "not a number"),
    ],
)  # fmt: skip
def test_it_names_field_limits_and_unit(hours, typed, said):
    with pytest.raises(ValidationError, match=said.replace("(", r"\(")):
        hours.clean(typed)


def test_a_stored_amount_comes_back_as_it_would_be_typed(hours):
    assert hours.prepare_value(Decimal("28.20000")) == "28.2"
    assert AmountField(unit="").prepare_value(Decimal("135")) == "135.00"
    assert AmountField(unit="", places=4).prepare_value(Decimal("4.1000")) == "4.1"


@given(text=st.text(max_size=40))
def test_any_text_is_an_amount_within_limits_or_a_refusal(text):
    field = AmountField(label="Hours", unit="h", high="999", places=3, required=False)
    try:
        amount = field.clean(text)
    except ValidationError:
        return
    assert amount is None or 0 <= amount <= 999


@given(amount=st.decimals(min_value=0, max_value=999, places=3))
def test_what_is_shown_reads_back_the_same(amount):
    field = AmountField(label="Hours", unit="h", high="999", places=3)
    assert field.clean(field.prepare_value(amount)) == amount
    assert not field.has_changed(amount, field.prepare_value(amount))
