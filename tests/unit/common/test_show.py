"""How quantities, shares, money, verdicts and icons are printed in any template."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.template import Context, Template

IMPERIAL, METRIC = (
    SimpleNamespace(units="imperial", currency="USD"),
    SimpleNamespace(units="metric", currency="EUR"),
)


def printed(source: str, **context: object) -> str:
    """Return a template's text; the tags are built in."""
    return Template(source).render(Context(context))


def test_a_quantity_follows_the_shops_units():
    source = '{% qty value "m_run" %}'
    assert printed(source, value=6.096, shop=IMPERIAL) == '<span class="qty">20.0 ft</span>'
    assert printed(source, value=6.096, shop=METRIC) == '<span class="qty">6.1 m</span>'


def test_without_markup_for_titles_and_with_other_digits():
    assert printed('{% qty value "V" 2 plain=True %}', value=56.123) == "56.12 V"


@pytest.mark.parametrize("value", [None, "", float("nan"), float("inf")])
@pytest.mark.parametrize("source", ['{% qty value "m" %}', "{{ value|number:1 }}", "{{ value|percent }}"])
def test_no_number_prints_a_dash_not_a_nought(value, source):
    assert printed(source, value=value) == "–"


def test_markup_in_feet_and_inches_is_escaped():
    assert "&quot;" in printed('{% qty value "m" %}', value=0.0254, shop=IMPERIAL)


def test_numbers_shares_and_money():
    assert printed("{{ v|number:1 }}", v=3144.25) == "3,144.3"
    assert printed("{{ v|percent:2 }}", v=0.0227) == "2.27%"
    assert printed("{{ v|money:shop.currency }}", v="9437.79", shop=IMPERIAL) == "$9,437.79"
    assert printed("{{ v|money:shop.currency }}", v=-3, shop=METRIC) == "-€3.00"
    assert printed("{{ v|money }}", v=None) == "–"


@pytest.mark.parametrize(
    ("value", "word"),
    [("pass", "Pass"), ("caution", "Caution"), ("block", "Block"), ("not_enough_data", "Not enough data")],
)
def test_a_verdict_is_shape_word_and_colour(value, word):
    text = printed("{% verdict v %}", v=value)
    assert word in text
    assert "<svg" in text
    assert f"verdict-{value.replace('_', '-')}" in text
    assert "style=" not in text


@pytest.mark.parametrize("value", [None, "", "<b>odd</b>"])
def test_what_is_no_verdict_never_prints_as_pass(value):
    text = printed("{% verdict v %}", v=value)
    assert "Not enough data" in text
    assert "<b>" not in text


def test_an_icon_is_decoration_unless_named():
    assert 'aria-hidden="true"' in printed('{% icon "pencil" %}')
    assert "<title>Edit</title>" in printed('{% icon "pencil" "Edit" %}')
    with pytest.raises(ValueError, match="icon names"):
        printed('{% icon "../../secret" %}')
