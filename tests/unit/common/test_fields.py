"""Form fields: trade units in, SI out, refusals that name field, limit and unit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django import forms
from django.core.exceptions import ValidationError

from common.fields import LengthField, NumberField, PercentField, TemperatureField


class Roof(forms.Form):
    length = LengthField(label="Roof length", low=0.5, high=15)


def test_trade_units_become_si():
    assert LengthField(units="imperial").clean("12' 6\"") == pytest.approx(3.81)
    assert TemperatureField(units="imperial").clean("-4") == pytest.approx(-20)


def test_out_of_range_names_field_limit_and_unit():
    with pytest.raises(ValidationError) as caught:
        LengthField(label="Roof length", units="imperial", low=1.5, high=14).clean("80 ft")
    assert caught.value.messages == ["Roof length must be 4' 11 1/16\" to 45' 11 3/16\"; you typed 80'."]


@pytest.mark.parametrize("text", ["-1", "1e9", "nan", "inf", "10 kg", "abc"])
def test_impossible_text_is_refused_naming_the_field(text):
    with pytest.raises(ValidationError, match="Battery voltage"):
        NumberField(label="Battery voltage", unit="V", low=0, high=100).clean(text)


def test_blank_is_none_when_not_required_and_refused_when_required():
    assert LengthField(required=False).clean("  ") is None
    with pytest.raises(ValidationError):
        LengthField().clean("")


def test_a_stored_value_comes_back_to_the_last_digit_when_untouched():
    stored = 3.5004  # not on a sixteenth of an inch
    shown = str(Roof(initial={"length": stored})["length"].value())
    form = Roof({"length": shown}, initial={"length": stored})
    assert form.is_valid()
    assert form.cleaned_data["length"] == stored
    assert not form.has_changed()


def test_a_touched_value_is_read_anew():
    form = Roof({"length": "11' 6\""}, initial={"length": 3.5004})
    assert form.is_valid()
    assert form.cleaned_data["length"] == pytest.approx(3.5052)
    assert form.has_changed()


def test_typed_text_stays_as_typed_after_a_refusal():
    form = Roof({"length": "99 apples"})
    assert not form.is_valid()
    assert "99 apples" in str(form["length"])


def test_help_names_unit_and_usual_range():
    field = LengthField(units="imperial", low=1, high=18, usual=(2.4, 13.7), help_text="Outside.")
    assert field.help_text == "Outside. Feet and inches, usually 8' to 45'."
    field.units = "metric"
    assert field.help_text == "Outside. Usually 2.4 m to 13.7 m."


@pytest.mark.parametrize(
    ("text", "share"), [("30", "0.3"), ("7.75 %", "0.0775"), ("7,75", "0.0775"), ("0", "0"), ("100%", "1")]
)
def test_percent_becomes_a_share(text, share):
    assert PercentField(label="Tax").clean(text) == Decimal(share)


@pytest.mark.parametrize("text", ["-1", "101", "abc", "nan", "1e5"])
def test_percent_out_of_range_is_refused(text):
    with pytest.raises(ValidationError, match="Tax"):
        PercentField(label="Tax").clean(text)


def test_percent_shows_a_share_as_percent():
    assert PercentField().prepare_value(Decimal("0.07750")) == "7.75%"
    assert PercentField().prepare_value(0.3) == "30%"
    assert not PercentField().has_changed(Decimal("0.40000"), "40%")
