"""The one question about unusual values."""

from __future__ import annotations

import re

from django import forms

from common.fields import LengthField, MassField
from common.forms import ShopForm


class Trailer(ShopForm, forms.Form):
    length = LengthField(low=1, high=30, usual=(2.4, 13.7))
    mass_kg = MassField(low=0, high=20000, usual=(50, 9000), required=False)


def sure_key(form):
    """Return what the box to tick would send."""
    return re.search(r'value="([0-9a-f]{16})"', str(form["sure"])).group(1)


def test_a_usual_value_passes_unasked():
    form = Trailer({"length": "27 ft"}, units="imperial")
    assert form.is_valid()
    assert form.unusual == {}


def test_an_unusual_value_is_asked_about_then_kept_with_a_flag():
    form = Trailer({"length": "60 ft"}, units="imperial")
    assert not form.is_valid()
    assert "usual: 7' 10 1/2\" to 44' 11 3/8\"" in str(form.errors["sure"].as_data()[0].message)
    again = Trailer({"length": "60 ft", "sure": sure_key(form)}, units="imperial")
    assert again.is_valid()
    assert again.cleaned_data["length"] > 18
    assert set(again.unusual) == {"length"}


def test_a_tick_for_one_value_does_not_carry_to_another():
    asked = Trailer({"length": "60 ft"}, units="imperial")
    assert not asked.is_valid()
    assert not Trailer({"length": "70 ft", "sure": sure_key(asked)}, units="imperial").is_valid()


def test_units_reach_every_field_and_labels_are_never_blank():
    form = Trailer(units="metric")
    assert form.fields["length"].units == "metric"
    assert form.fields["mass_kg"].label == "Mass kg"
