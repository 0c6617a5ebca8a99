"""What the job sheet says was done, in words."""

from __future__ import annotations

import pytest

import sizing
from checklists.sheet.summary import _inverter_words


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Sine inverter 1000 W, 12 V", "Sine inverter 1000 W, 12 V."),
        ("Inverter-charger 3000 W, 12 V", "Inverter-charger 3000 W, 12 V."),
        ("Quietbox 20", "Inverter Quietbox 20, 2000 W."),
    ],
)
def test_an_inverter_is_named_once(name, words):
    watts = next((float(part) for part in ("1000", "3000") if part in name), 2000.0)
    assert _inverter_words(sizing.InverterInput(name=name, power_w=watts)) == words
