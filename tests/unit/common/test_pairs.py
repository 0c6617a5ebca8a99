"""Quantities in sentences: written once for both kinds of shop, opened where they are shown."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest
from django.template.loader import engines
from django.test import RequestFactory

import sizing
from jobs.views.answers import shop_json
from tests.js import needs_node, run_js

TEXT = "A foot carries ‹309 N|69 lbf› at ‹-20 °C|-4 °F›; 24 V."
READ = {
    "metric": "A foot carries 309 N at -20 °C; 24 V.",
    "imperial": "A foot carries 69 lbf at -4 °F; 24 V.",
    "": "A foot carries 309 N (69 lbf) at -20 °C (-4 °F); 24 V.",
}
PLAIN = ["", "Stored before: 309 N (69 lbf).", "‹no bar›", "a | b", "‹open|only"]


@pytest.mark.parametrize("units", READ)
def test_a_sentence_is_read_in_one_system_or_in_both(units):
    assert sizing.in_units(TEXT, units) == READ[units]


@pytest.mark.parametrize("text", PLAIN)
def test_text_without_marks_stays_as_it_is(text):
    assert sizing.in_units(text, "imperial") == text


def test_a_pair_opens_to_what_went_in():
    made = sizing.pair("0.31 m", "12 in")
    assert [sizing.in_units(made, units) for units in ("metric", "imperial")] == ["0.31 m", "12 in"]


@needs_node
def test_the_tablet_opens_marks_as_the_engine_does():
    script = """
    import { inUnits, pair } from "./units.js";
    answer([
      ...data.map(([text, units]) => inUnits(text, units)), pair("309 N", "69 lbf"),
    ]);
    """
    asked = [(text, units) for text in [TEXT, *PLAIN] for units in READ]
    expected = [sizing.in_units(*one) for one in asked] + [sizing.pair("309 N", "69 lbf")]
    assert run_js(script, asked) == expected


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_a_page_speaks_the_units_of_its_shop_also_in_data_for_scripts(units):
    page = engines["django"].from_string('{{ text }} {{ text|json_script:"x" }}')
    shop = SimpleNamespace(units=units)
    printed = page.render({"text": TEXT, "shop": shop}).replace(r"\u00b0", "°")
    assert printed.count(READ[units]) == 2


def test_a_page_of_no_shop_says_both_and_a_part_of_a_page_leaves_it_to_the_page():
    page = engines["django"].from_string("{{ text }}")
    assert page.render({"text": TEXT}, RequestFactory().get("/")) == READ[""]
    assert page.render({"text": TEXT}) == TEXT


def test_answers_to_scripts_speak_the_units_of_the_shop():
    request = SimpleNamespace(shop=SimpleNamespace(units="imperial"))
    answer = shop_json(request, {"sentence": TEXT, "inches": sizing.pair("0.1 m", '4"')})
    assert json.loads(answer.content) == {"sentence": READ["imperial"], "inches": '4"'}
