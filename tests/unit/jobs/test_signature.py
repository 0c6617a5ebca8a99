"""Of a drawn signature nothing but its strokes is kept."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.shop.signature import MAX_CHARACTERS, clean_signature_svg

INK = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 606.6666666666666 176" width="606" height="176">'
    '<path d="M 30.000,80.000 C 35.000,86.000 35.000,86.000 40.000,92.000" stroke-width="2.125" stroke="#000"'
    ' fill="none" stroke-linecap="round"></path>{more}</svg>'
)


def test_strokes_and_dots_are_drawn_anew():
    dot = '<circle r="1.7000000000000002" cx="12.5" cy="40" fill="#000"></circle>'
    drawn = clean_signature_svg(INK.format(more=dot))
    tree = ET.fromstring(drawn)
    assert [child.tag.split("}")[1] for child in tree] == ["title", "path", "circle"]
    assert 'stroke-width="2.125"' in drawn
    assert 'viewBox="0 0 606.6666666666666 176"' in drawn


@pytest.mark.parametrize(
    "evil",
    [
        "<script>alert(1)</script>", '<image href="https://elsewhere.example/x.png"/>',
        '<path onload="alert(1)" d="M 1,1 L 2,2"/>', "<style>*{display:none}</style>",
        "<foreignObject><p>hello</p></foreignObject>", '<a href="javascript:alert(1)">x</a>',
        "<!ENTITY x SYSTEM 'file:///etc/passwd'>&x;",
    ],
)  # fmt: skip
def test_nothing_else_survives(evil):
    drawn = clean_signature_svg(INK.format(more=evil))
    for word in ("script", "image", "onload", "style", "foreignObject", "href", "ENTITY", "passwd"):
        assert word not in drawn


@pytest.mark.parametrize("empty", ["", "<svg></svg>", "no drawing", '<svg viewBox="0 0 1 1"></svg>'])
def test_no_strokes_no_signature(empty):
    assert clean_signature_svg(empty) == ""


def test_one_too_long_is_refused():
    assert clean_signature_svg(INK.format(more=" " * MAX_CHARACTERS)) == ""


@given(text=st.text(max_size=300))
def test_any_text_gives_our_own_drawing_or_nothing(text):
    drawn = clean_signature_svg(INK.format(more=text.replace("{", "").replace("}", "")))
    assert drawn == "" or {child.tag.split("}")[1] for child in ET.fromstring(drawn)} <= {
        "title", "path", "circle",
    }  # fmt: skip
