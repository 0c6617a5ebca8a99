"""A drawn signature becomes SVG in its field; a ticked box lets the typed name stand instead."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.django_db(transaction=True)

SHEET = """<!doctype html><html lang="en"><head><title>t</title>
<link rel="stylesheet" href="/static/css/base.css">
<script type="module" src="/static/js/signature.js"></script></head><body>
<form method="post"><input type="hidden" id="id_signature_svg" value="{value}">
<label><input type="checkbox" id="id_is_typed"> typed</label>
<div class="signature" data-signature-for="id_signature_svg"></div></form></body></html>"""


@pytest.fixture
def paper(page: Page, site: str) -> Any:
    """Return a way to open a page that holds nothing but the signature."""

    def open_page(value: str = "") -> Page:
        page.route(
            "**/signature-only/",
            lambda route: route.fulfill(body=SHEET.format(value=value), content_type="text/html"),
        )
        page.goto(f"{site}/signature-only/")
        expect(page.locator("canvas")).to_be_visible()
        return page

    return open_page


def draw(page: Page) -> None:
    """Draw a stroke with the mouse."""
    box = page.locator("canvas").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + 60)
    page.mouse.down()
    for step in range(1, 12):
        page.mouse.move(box["x"] + 30 + 12 * step, box["y"] + 60 + (step % 3) * 15)
    page.mouse.up()


def test_a_stroke_becomes_svg_and_clear_takes_it_away(paper: Any):
    page = paper()
    draw(page)
    field = page.locator("#id_signature_svg")
    expect(field).to_have_value(re.compile(r"^<svg .*<path "))
    page.get_by_role("button", name="Clear").click()
    expect(field).to_have_value("")


def test_a_typed_name_rests_the_canvas(paper: Any):
    page = paper()
    page.locator("#id_is_typed").check()
    draw(page)
    expect(page.locator("#id_signature_svg")).to_have_value("")


def test_ink_of_a_refused_form_stands_until_signed_anew(paper: Any):
    page = paper()
    draw(page)
    ink = page.locator("#id_signature_svg").input_value()
    again = paper(ink.replace("&", "&amp;").replace('"', "&quot;"))
    again.wait_for_timeout(200)
    expect(again.locator("#id_signature_svg")).to_have_value(ink)
    expect(again.get_by_role("img", name="Signature, drawn")).to_be_visible()
    again.locator("canvas").hover()
    draw(again)
    expect(again.locator("#id_signature_svg")).not_to_have_value(ink)
