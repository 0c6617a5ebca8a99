"""The page of automatic layouts: asking, looking, stopping, taking without script, refusals, the stranger."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.autolayout.drawing import small_plan_svg
from jobs.engine.stored import design_in_full
from jobs.models import Design, LayRun, Part
from jobs.roof.read import roof_state
from jobs.workspace.state import layout_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def part(design):
    """Return a panel of the catalog."""
    return Part.objects.get(shop=design.job.shop, sku="P200")


@pytest.fixture
def found(design, part, now):
    """Return a search that has found one layout: the golden one, a panel moved."""
    layout = {key: layout_state(roof_state(design))[key] for key in ("panels", "strings")}
    layout["panels"][0]["x_mm"] += 50
    facts = {
        "key": "most", "title": "Most energy", "layout": layout, "models": {str(part.pk): 4}, "panels": 4,
        "drawing": small_plan_svg(roof_state(design_in_full(design.pk)), "Most energy, 4 panels"),
        "mean_kwh": 1140.4, "worst_kwh": 1131.8, "worst": "SSE", "verdict": "caution",
        "said": [{"verdict": "caution", "words": "X"}],
        "more": 0, "unsized": "", "plan": "2S2P on A", "is_unwired": False, "gap_fraction": 0.0,
        "grid_m": 0.05,
        "power_w": 800, "holes": 64, "feet": 16, "feet_on_rafter": 12, "has_rafters": True, "mass_kg": 46.0,
        "wire_m": 14.9, "place": "Piedmont",
    }  # fmt: skip
    return LayRun.objects.create(
        design=design, state="done", result={"candidates": [facts]}, at=now, touched_at=now,
        options={"parts": [part.pk], "one_model": True},
    )  # fmt: skip


def url(name, design):
    """Return one of the addresses."""
    return reverse(f"jobs:{name}", args=[design.pk])


def taking(found, design, **more):
    """Return what the form of a card sends."""
    return {"run": found.pk, "candidate": "most", "seen": design.edit_count, **more}


def test_it_works(client_of, erin, design, part, django_assert_max_num_queries):
    client = client_of(erin)
    page = client.get(url("lay_detail", design))
    assert f'value="{part.pk}"' in page.text
    sent = client.post(url("lay_detail", design), {"lay-parts": [part.pk], "lay-one_model": "on"})
    assert sent.status_code == 302
    run = design.lay_runs.get()
    assert run.options["parts"] == [part.pk]
    assert run.options["one_model"] is True
    assert run.options["on_rafters"] is False
    with django_assert_max_num_queries(14):
        waiting = client.get(url("lay_detail", design))
    assert "Waiting for its turn" in waiting.text
    assert client.post(url("lay_stop", design)).status_code == 302
    assert design.lay_runs.get().state == "stopped"


def test_candidates_are_compared_line_by_line(client_of, erin, design, found, shop, part):
    page = client_of(erin).get(url("lay_detail", design))
    for words in (
        "1,140 kWh",
        "1,132 kWh facing SSE",
        "2S2P on A",
        "64",
        "101.4 lb",
        "proved",
        "a 2 in grid",
    ):
        assert words in page.text
    assert f"{part.cost * (1 + shop.markup) * 4:,.2f}" in page.text  # F25: cost and markup, four panels
    assert 'class="lay-plan"' in page.text
    piece = client_of(erin).get(url("lay_detail", design), headers={"HX-Request": "true"})
    assert "<html" not in piece.text
    assert "lay-layout-most" in piece.text


def test_a_card_says_what_its_proof_is_about_and_what_rules_cost(client_of, erin, design, found):
    facts = found.result["candidates"][0]
    facts["n_places"] = 1166
    facts["costs"] = [
        {"words": "the way to walk", "panels": 1, "kwh": 268, "is_guess": False},
        {"words": "feet on rafters near both ends", "panels": 2, "kwh": 530, "is_guess": True},
    ]
    found.save()
    page = client_of(erin).get(url("lay_detail", design)).text
    assert "proved: none better among the 1,166 places tried" in page
    assert "without the way to walk: 1 more panel would fit, +268 kWh" in page
    assert "without feet on rafters near both ends: 2 more panels would fit, +530 kWh" in page
    assert page.count("rests on a guess") == 1


def test_where_every_layout_is_blocked_the_page_says_so(client_of, erin, design, found):
    client = client_of(erin)
    assert "Every layout found is blocked" not in client.get(url("lay_detail", design)).text
    found.result["candidates"][0]["verdict"] = "block"
    found.save()
    assert "Every layout found is blocked" in client.get(url("lay_detail", design)).text


def test_a_card_of_what_is_drawn_claims_no_proof(client_of, erin, design, found):
    found.result["candidates"][0] |= {"key": "drawn", "title": "As drawn now", "gap_fraction": None}
    found.save()
    page = client_of(erin).get(url("lay_detail", design)).text
    assert "no layout found gives more" in page
    assert "proved" not in page


def test_one_is_taken_without_script(client_of, erin, design, found):
    answer = client_of(erin).post(url("lay_take", design), taking(found, design))
    assert answer.url == url("workspace", design)
    after = layout_state(roof_state(Design.objects.get(pk=design.pk)))
    assert {key: after[key] for key in ("panels", "strings")} == found.result["candidates"][0]["layout"]


@pytest.mark.parametrize("more", [{"seen": 999}, {"candidate": "none"}, {"run": "x"}, {"seen": ""}])
def test_what_is_out_of_date_is_not_taken(client_of, erin, design, found, more):
    before = layout_state(roof_state(design))
    answer = client_of(erin).post(url("lay_take", design), taking(found, design, **more), follow=True)
    assert "again" in answer.text
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == before


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "choose at least one model"),
        ({"lay-parts": ["0"]}, "Select a valid choice"),
        ({"lay-panels_max": "0"}, "Most panels: must be a whole number from 1 to 60"),
        ({"lay-panels_max": "two"}, "Most panels: must be a whole number"),
        ({"lay-hole_kwh": "-1"}, "Each roof hole counts"),
        ({"lay-wire_kwh_m": "1e9"}, "A foot from the gland"),
    ],
)
def test_what_cannot_be_asked_is_named(client_of, erin, design, part, sent, said):
    body = {"lay-parts": [part.pk], **sent} if sent else {}
    answer = client_of(erin).post(url("lay_detail", design), body)
    assert answer.status_code == 422
    assert said in answer.text
    assert not design.lay_runs.exists()


def test_a_roof_without_a_place_says_what_is_missing(client_of, erin, design, part):
    design.job.survey.stops.all().delete()
    answer = client_of(erin).post(url("lay_detail", design), {"lay-parts": [part.pk]})
    assert "names no place" in answer.text


def test_only_who_may_design(client_of, bob, ken, charlie, design, found):
    for person, status in ((bob, 403), (ken, 403), (charlie, 404)):
        client = client_of(person)
        assert client.get(url("lay_detail", design)).status_code == status
        assert client.post(url("lay_stop", design)).status_code == status
        assert client.post(url("lay_take", design), taking(found, design)).status_code == status
