"""The plan on paper is the plan on screen: read back from the PDF itself, to the millimeter."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from django.urls import reverse

from jobs.engine.stored import design_in_full
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from tests.papers import text_of

pytestmark = pytest.mark.django_db
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def drawn_middles(svg):
    """Return the middle of every drawn shape of a plan [mm], in the order they are drawn."""
    found = []
    for one in ElementTree.fromstring(svg).iter():
        kind, at = one.tag.rpartition("}")[2], one.attrib
        if kind == "rect":
            x, y, width, height = (float(at[name]) for name in ("x", "y", "width", "height"))
            found.append((x + width / 2, y + height / 2))
        elif kind in {"circle", "ellipse"}:
            found.append((float(at["cx"]), float(at["cy"])))
        elif kind == "line":
            x1, y1, x2, y2 = (float(at[name]) for name in ("x1", "y1", "x2", "y2"))
            found.append(((x1 + x2) / 2, (y1 + y2) / 2))
        elif kind in {"path", "polyline"}:
            found.append(None)  # there, and not measured: its bounds need its commands
    return found


def printed_middles(content):
    """Return for each page the middle of every printed path, in points from the top left."""
    pages = []
    for page in pypdfium2.PdfDocument(content):
        paths = page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=15)
        bounds = [path.get_bounds() for path in paths]
        high = page.get_height()
        pages.append([((left + right) / 2, high - (low + top) / 2) for left, low, right, top in bounds])
    return pages


def misses(drawn, printed):
    """Return how far each printed shape lies from its place [mm], by the scale of the two farthest apart."""
    pairs = [(one, other) for one, other in zip(drawn, printed, strict=True) if one is not None]
    (x0, y0), (px0, py0) = pairs[0]
    (x1, _), (px1, _) = max(pairs, key=lambda pair: abs(pair[0][0] - x0))
    scale = (px1 - px0) / (x1 - x0)
    if not scale:
        return [float("inf")]
    return [
        max(abs((px - px0) / scale - (x - x0)), abs((py - py0) / scale - (y - y0)))
        for (x, y), (px, py) in pairs
    ]


def test_a_drafts_pdf_says_so_and_holds_the_plan_of_the_screen_to_the_millimetre(
    draft_quote, alice, client_of
):
    design = draft_quote.design
    design.controllers.update(combiner_x_m=2.0, combiner_y_m=1.0, home_bends_m=[[2.5, 1.6]])
    svg = plan_svg(roof_state(design_in_full(design.pk)), shop_units=design.job.shop.units)
    screen = client_of(alice).get(reverse("jobs:workspace", args=[design.pk])).text
    assert svg in screen
    content = client_of(alice).get(reverse("jobs:quote_pdf", args=[draft_quote.pk])).content
    assert "DRAFT" in text_of(content).upper()
    drawn = drawn_middles(svg)
    assert len(drawn) > 60
    best = min(
        (
            misses(drawn, page[start : start + len(drawn)])
            for page in printed_middles(content)
            for start in range(len(page) - len(drawn) + 1)
        ),
        key=max,
    )
    assert max(best) < 1.0  # mm on the roof
