"""The roof plan: to scale, the same on screen and paper, told in words for those who do not see it."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from jobs.design.revision import design_size
from jobs.engine.stored import design_in_full
from jobs.engine.system import built_input
from jobs.models import Obstacle
from jobs.roof.plan import plan_svg, survey_plan_svg
from jobs.roof.plan_marks import STRINGS, string_style
from jobs.roof.read import roof_state, surveyed_roof
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def design(golden_job):
    """Return the design of the golden job."""
    return design_in_full(golden_job.designs.get().pk)


def drawn(design, **kwargs) -> ElementTree.Element:
    """Return the plan as a tree."""
    return ElementTree.fromstring(plan_svg(roof_state(design), shop_units="metric", **kwargs))


def texts(tree: ElementTree.Element) -> list[str]:
    """Return every word on the plan."""
    return [element.text or "" for element in tree.iter(f"{SVG}text")]


def test_panels_are_drawn_to_scale_where_they_lie(design):
    panels = drawn(design).findall(f".//{SVG}g[@class='plan-panel']")
    first = panels[0].find(f"{SVG}rect").attrib
    # 1490 by 670 mm, 1950 mm from the rear and 180 mm from the right of a roof 2200 mm wide; up is left.
    assert (first["width"], first["height"], first["x"]) == ("1490", "670", "1950")
    assert float(first["y"]) == 2200 - 180 - 670
    assert len(panels) == 4


def test_the_front_is_to_the_right(design):
    tree = drawn(design)
    front = next(element for element in tree.iter(f"{SVG}text") if element.text == "Front")
    assert float(front.attrib["x"]) > 7900


def test_everything_lies_inside_the_picture(design):
    tree = drawn(design)
    left, top, width, height = map(float, tree.attrib["viewBox"].split())
    for rect in tree.iter(f"{SVG}rect"):
        x, y = float(rect.attrib["x"]), float(rect.attrib["y"])
        assert left <= x
        assert x + float(rect.attrib["width"]) <= left + width
        assert top <= y
        assert y + float(rect.attrib["height"]) <= top + height
    for word in tree.iter(f"{SVG}text"):
        assert top <= float(word.attrib["y"]) <= top + height


def test_what_is_kept_clear_ends_at_the_edge_of_the_roof(design):
    design.job.survey.obstacles.filter(kind="antenna").update(keep_out_m=1.25)
    areas = drawn(design_in_full(design.pk)).findall(f".//{SVG}rect[@class='plan-keep-out']")
    assert areas
    for area in (one.attrib for one in areas):
        x, y = float(area["x"]), float(area["y"])
        assert x >= 0
        assert y >= 0
        assert x + float(area["width"]) <= 7900  # the flat roof is 7.9 by 2.2 m
        assert y + float(area["height"]) <= 2200


def test_strings_differ_by_number_colour_and_pattern(design):
    tree = drawn(design)
    words = texts(tree)
    assert words.count("string 1") == 2
    assert words.count("string 2") == 2
    assert "string 2, controller A: panels 3, 4" in words
    assert len({colour for colour, _ in STRINGS}) == len({pattern for _, pattern in STRINGS}) == len(STRINGS)
    assert string_style("7") == string_style("1")


def legs(tree: ElementTree.Element) -> list[dict[str, str]]:
    """Return the colored lines that show the order of the strings."""
    lines = tree.findall(f".//{SVG}g[@class='plan-order']/{SVG}line")
    return [line.attrib for line in lines if line.attrib["stroke"] in {colour for colour, _ in STRINGS}]


def middle(panel) -> tuple[float, float]:
    """Return the middle of a panel on the drawing [mm]: 1490 by 670 mm, y counted from the left edge."""
    return panel.x_m * 1000 + 1490 / 2, 2200 - panel.y_m * 1000 - 670 / 2


def test_the_order_of_a_string_is_a_line_in_its_colour_and_pattern(design):
    rows = {panel.number: panel for panel in design.panels.all()}
    drawn_legs = legs(drawn(design))
    assert len(drawn_legs) == 2  # two strings of two panels
    first = next(leg for leg in drawn_legs if leg["stroke"] == string_style("1")[0])
    assert "stroke-dasharray" not in first
    other = next(leg for leg in drawn_legs if leg["stroke"] == string_style("2")[0])
    assert other["stroke-dasharray"] == string_style("2")[1]
    # It runs on the line between the two middles, from the first toward the second.
    (ax, ay), (bx, by) = middle(rows[1]), middle(rows[2])
    x1, y1, x2, y2 = (float(first[key]) for key in ("x1", "y1", "x2", "y2"))
    for x, y in ((x1, y1), (x2, y2)):
        assert abs((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / math.hypot(bx - ax, by - ay) < 0.2
    assert (x2 - x1) * (bx - ax) + (y2 - y1) * (by - ay) > 0


def test_the_order_follows_the_places_and_not_the_numbers(design):
    for number, place in ((1, 2), (2, 1)):
        design.panels.filter(number=number).update(position_in_string=place)
    tree = drawn(design_in_full(design.pk))
    assert "string 1, controller A: panels 2, 1" in texts(tree)
    assert "Panel 2, Rigid panel P200, 200 W, string 1, place 1:" in tree.find(f"{SVG}desc").text


def test_a_panel_in_no_string_has_no_line(design):
    design.panels.update(string=None)
    assert legs(drawn(design_in_full(design.pk))) == []


def contrast(colour: str, other: str) -> float:
    """Return the contrast of two colors (WCAG 2.2, relative luminance)."""

    def luminance(text: str) -> float:
        parts = [int(text[start : start + 2], 16) / 255 for start in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(colour), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colour", [colour for colour, _ in STRINGS])
def test_string_colours_can_be_read(colour):
    """WCAG 2.2, success criterion 1.4.3: 4.5:1 for text."""
    assert contrast(colour, "#e3eaf0") >= 4.5
    assert contrast(colour, "#fffdf8") >= 4.5


def test_it_holds_under_a_strict_policy_and_in_a_pdf(design):
    text = plan_svg(roof_state(design), shop_units="imperial")
    assert "style=" not in text
    assert "<style" not in text
    assert "<script" not in text
    assert "url(" not in text  # nothing is looked up elsewhere


def test_words_for_those_who_do_not_see_it(design):
    tree = drawn(design)
    assert tree.attrib["role"] == "img"
    named = tree.attrib["aria-labelledby"].split()
    assert [tree.find(f"{SVG}{tag}").attrib["id"] for tag in ("title", "desc")] == named
    said = tree.find(f"{SVG}desc").text
    assert (
        "Panel 1, Rigid panel P200, 200 W, string 1, place 1: 1.95 m from the rear, 0.18 m from the right, "
        "4 feet" in said
    )
    assert "Air conditioner, 330 mm high" in said
    assert "Entry gland 3.50 m from the rear" in said


@pytest.mark.parametrize(
    ("units", "length", "height"), [("metric", "7.90 m", "330 mm"), ("imperial", "25' 11\"", "13 in")]
)
def test_measures_are_in_the_shops_units(design, units, length, height):
    tree = ElementTree.fromstring(plan_svg(roof_state(design), shop_units=units))
    words = texts(tree)
    assert length in words
    assert f"Air conditioner, {height}" in words


def test_names_typed_by_people_stay_text(design):
    Obstacle.objects.filter(label="Air conditioner").update(label='<script>alert("x")</script> & Co')
    text = plan_svg(roof_state(design_in_full(design.pk)), shop_units="metric")
    assert "<script" not in text
    assert any("& Co" in word for word in texts(ElementTree.fromstring(text)))


def test_what_comes_off_is_drawn_as_gone(design):
    Obstacle.objects.filter(label="TV antenna").update(will_be_removed=True)
    assert "TV antenna, to come off" in texts(drawn(design_in_full(design.pk)))


def test_an_unwired_panel_says_so(design):
    design.panels.filter(number=4).update(string=None)
    words = texts(drawn(design_in_full(design.pk)))
    assert "no string" in words
    assert "not in a string: panel 4" in words


def test_as_built_feet_and_strings_are_drawn(design, now):
    accepted = design_size(design=design, actor=ByName("test"), at=now)
    tree = drawn(design, built=built_input(accepted, {"roof.feet": 20, "strings.ns": 4}))
    words = texts(tree)
    assert "foot (20)" in words
    assert words.count("string 1") == 4
    assert len(tree.findall(f".//{SVG}rect[@class='plan-foot']")) == 20


def test_a_roof_nobody_measured_gives_no_plan(design):
    design.job.survey.roof_width_m = None
    assert plan_svg(roof_state(design), shop_units="metric") == ""
    assert survey_plan_svg(surveyed_roof(design.job.survey), shop_units="metric") == ""


def test_the_survey_has_a_plan_without_panels(design):
    tree = ElementTree.fromstring(survey_plan_svg(surveyed_roof(design.job.survey), shop_units="metric"))
    assert tree.find(f"{SVG}title").text.startswith("Roof as surveyed")
    assert not tree.findall(f".//{SVG}g[@class='plan-panel']")
    assert "Air conditioner, 330 mm" in texts(tree)


def test_rafters_cross_where_they_were_found(design):
    tree = drawn(design)
    at = [line.attrib["x1"] for line in tree.iter(f"{SVG}line") if line.attrib["stroke"] == "#cfc7b8"]
    assert at[:3] == ["140", "546", "952"]  # the first at 140 mm, then every 406 mm
    assert "rafter (first one assumed)" not in texts(tree)
    design.job.survey.rafter_first_mm = None
    assert "rafter (first one assumed)" in texts(drawn(design))
    design.job.survey.rafter_kind = "none"
    assert not any("rafter" in word for word in texts(drawn(design)))


def test_a_seam_is_a_broken_outline_and_named(design):
    Obstacle.objects.filter(label="TV antenna").update(kind="seam", keep_out_m=0)
    tree = drawn(design_in_full(design.pk))
    (seam,) = tree.findall(f".//{SVG}rect[@class='plan-seam']")
    assert seam.attrib["fill"] == "none"
    assert seam.attrib["stroke-dasharray"]
    assert "seam" in texts(tree)


def test_every_panel_shows_its_junction_box_on_its_own_side(design):
    design.panels.filter(number=1).update(box_is_far=True)
    tree = drawn(design_in_full(design.pk))
    places = {}
    for group in tree.findall(f".//{SVG}g[@class='plan-panel']"):
        box = group.find(f"{SVG}rect[@class='plan-box']").attrib
        places[group.attrib["data-panel"]] = float(box["x"]) + float(box["width"]) / 2
    # panel 1 lies from 1950 to 3440 mm; a box stands 70 mm inside its side, here the front one
    assert places["1"] == 3440 - 70
    assert places["2"] == 4920 + 70
    assert "junction box" in texts(tree)


def test_wire_is_drawn_in_its_strings_pattern_and_told(design):
    design.controllers.update(combiner_x_m=1.0, combiner_y_m=1.1)
    tree = drawn(design_in_full(design.pk))
    (home,) = tree.findall(f".//{SVG}polyline[@class='plan-home']")
    assert home.attrib["points"] == "1000,1100 3500,1100"  # combiner to gland; the roof is 2200 mm wide
    leads = tree.findall(f".//{SVG}polyline[@class='plan-lead']")
    assert {lead.attrib["stroke"] for lead in leads} == {string_style("1")[0], string_style("2")[0]}
    assert {lead.attrib.get("stroke-dasharray", "") for lead in leads} >= {string_style("2")[1]}
    assert "Home run A 2.50 m on the roof." in tree.find(f"{SVG}desc").text


def test_the_drawing_is_not_a_new_one_each_time(design):
    assert plan_svg(roof_state(design), shop_units="metric") == plan_svg(
        roof_state(design_in_full(design.pk)), shop_units="metric"
    )


def test_coordinates_are_plain_numbers(design):
    text = plan_svg(roof_state(design), shop_units="metric")
    assert not re.search(r'="-?(nan|inf|[\d.]+e[+-]?\d+")', text)


def sizes(svg: str) -> tuple[float, float]:
    """Return the smallest text and the width of a plan [mm]."""
    tree = ElementTree.fromstring(svg)
    return min(float(word.attrib["font-size"]) for word in tree.iter(f"{SVG}text")), float(
        tree.attrib["viewBox"].split()[2]
    )


@pytest.mark.parametrize("length_m", [3.0, 5.2, 7.9, 14.0])
def test_the_smallest_words_can_be_read_on_screen_and_paper(design, length_m):
    """The plan is never shown narrower than 704 px (44 rem) nor printed narrower than 170 mm: 11 px, 6.5 pt.

    Both limits are ours, no source.
    """
    survey = design.job.survey
    survey.roof_length_m = length_m
    for svg in (
        plan_svg(roof_state(design), shop_units="imperial"),
        survey_plan_svg(surveyed_roof(survey), shop_units="imperial"),
    ):
        smallest, width = sizes(svg)
        assert smallest * 704 / width >= 11
        assert smallest * (170 / 25.4 * 72) / width >= 6.5


def test_a_name_without_room_stands_in_the_key_under_a_letter(design):
    long = "Folding ladder with a rack for two kayaks and a paddle board"
    Obstacle.objects.filter(label="TV antenna").update(label=long)
    tree = drawn(design_in_full(design.pk))
    (entry,) = (word for word in tree.iter(f"{SVG}text") if (word.text or "").startswith(long))
    assert entry.attrib["class"] == "plan-key"
    assert float(entry.attrib["y"]) > 2200  # beneath the roof
    letters = [word.text for word in tree.iter(f"{SVG}text") if word.attrib.get("class") == "plan-label"]
    assert {"a"} <= {word for word in letters if len(word) == 1}
