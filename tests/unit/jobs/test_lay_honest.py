"""Automatic layouts that say what they are: never worse than by hand, off gland and leads, blocks last.

The judges are the layout checks, the answer of the workspace, and a second search with the rule really gone;
none of them knows how the first one was made.
"""

from __future__ import annotations

import pytest

from jobs.autolayout import answer
from jobs.autolayout.answer import _chosen
from jobs.autolayout.question import GLAND, LEADS, LayoutOptions, layout_search_rules
from jobs.autolayout.relaxed import relaxations
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignController, DesignPanel, Part, Survey
from jobs.parts.panel_model import panel_model
from jobs.roof.checks import layout_findings
from jobs.roof.layout import Box, design_layout
from jobs.roof.read import roof_state
from jobs.workspace.edit import layout_try, read_layout
from tests.unit.jobs.test_lay_services import searched, take

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design."""
    return Design.objects.select_related("job__shop").get(pk=golden_job.designs.get().pk)


@pytest.fixture
def part(design):
    """Return a panel of the catalog."""
    return Part.objects.get(shop=design.job.shop, sku="P200")


def laid(design, candidate):
    """Return the roof with a candidate on it, as the workspace would try it."""
    state = design_state(design_in_full(design.pk))
    parts = Part.objects.filter(shop=design.job.shop, panel_sheet__isnull=False)
    models = {one.pk: panel_model(one) for one in parts.select_related("panel_sheet")}
    labels = [one.label for one in state.roof.controllers]
    return design_layout(layout_try(state, read_layout(candidate["layout"], models, labels)).roof)


def against(design, candidate):
    """Return what the checks of a layout by hand say against a candidate."""
    findings = layout_findings(laid(design, candidate))
    return [one.check.sentence for one in findings if one.check.verdict != "pass"]


def one_of(key, panels, mean_kwh, verdict="pass", **more):
    """Return what the choice looks at."""
    facts = {"key": key, "title": "", "panels": panels, "mean_kwh": mean_kwh, "verdict": verdict}
    return facts | {"is_unwired": False} | more


@pytest.mark.parametrize(
    ("tried", "other", "by_hand", "expected"),
    [
        ([("most", 9, 1000, "block")], ("other", 4, 600), None, ["other", "most"]),
        ([("most", 9, 1000)], ("other", 4, 600, "block"), None, ["most", "other"]),
        ([("most", 9, 1000)], None, ("drawn", 9, 1001), ["drawn", "most"]),
        ([("most", 9, 1000)], None, ("drawn", 9, 1000), ["most"]),
        ([("most", 9, 1000, "block")], None, ("drawn", 3, 400), ["drawn", "most"]),
        ([("most", 9, 1000, "block")], ("other", 4, 600), ("drawn", 3, 400), ["other", "most"]),
        ([("most", 9, 1000, "block")], ("other", 4, 600, "block"), None, ["most", "other"]),
    ],
)
def test_what_is_blocked_stands_last_and_the_hand_first_only_where_it_gives_more(
    tried, other, by_hand, expected
):
    make = lambda one: None if one is None else one_of(*one)  # noqa: E731
    assert [
        one["key"] for one in _chosen([make(one) for one in tried], make(other), make(by_hand))
    ] == expected


def test_titles_stand_by_themselves_where_the_best_is_blocked():
    blocked, other = one_of("most", 9, 1000, "block", title="Most energy"), one_of("other", 4, 600)
    assert [one["title"] for one in _chosen([blocked], other)] == [
        "Most energy that can be built",
        "Most energy",
    ]


@pytest.mark.parametrize(
    ("width_m", "vents"), [(2.2, {}), (2.31, {"x_m": 2.35}), (2.05, {"y_m": 0.31}), (2.445, {"x_m": 4.9})]
)
def test_what_is_laid_passes_every_check_of_a_hand(design, erin, now, part, width_m, vents):
    survey = design.job.survey
    Survey.objects.filter(pk=survey.pk).update(roof_width_m=width_m)
    survey.obstacles.filter(kind="vent").update(**vents) if vents else None
    for candidate in searched(design, erin, now, part, on_rafters=False).result["candidates"]:
        assert against(design, candidate) == []


def test_gland_and_leads_stay_free(design, erin, now, part):
    bare = searched(design, erin, now, part).result["candidates"][0]
    box = laid(design, bare).panels[0].box
    x, y = box.middle  # a gland just where the search would lay, and the way of a home run along the roof
    Survey.objects.filter(pk=design.job.survey.pk).update(gland_x_m=x / 1000, gland_y_m=y / 1000)
    controller = DesignController.objects.filter(design=design)[:1].get()
    controller.combiner_x_m, controller.combiner_y_m = x / 1000 + 1.5, y / 1000
    controller.save()
    rules = layout_search_rules(
        design_state(design_in_full(design.pk)),
        [panel_model(part)],
        LayoutOptions(parts=(part.pk,)),
        0.1,
    )
    assert {GLAND, LEADS} <= {area.name for area in rules.keep_outs}
    for candidate in searched(design, erin, now, part).result["candidates"]:
        for panel in laid(design, candidate).panels:
            assert _apart(panel.box, Box(x - 100, y - 100, x + 100, y + 100))
            assert _apart(panel.box, Box(x, y - 25, x + 1500, y + 25))


def _apart(one, other):
    noise = 0.5
    return (
        one.x1 <= other.x0 + noise
        or other.x1 <= one.x0 + noise
        or one.y1 <= other.y0 + noise
        or other.y1 <= one.y0 + noise
    )


def test_a_slanting_way_of_leads_is_followed_in_pieces(design, part):
    survey = design.job.survey
    Survey.objects.filter(pk=survey.pk).update(gland_x_m=1.0, gland_y_m=0.5)
    controller = DesignController.objects.filter(design=design)[:1].get()
    controller.combiner_x_m, controller.combiner_y_m = 3.0, 1.5
    controller.save()
    state = design_state(design_in_full(design.pk))
    options = LayoutOptions(parts=(part.pk,))
    areas = layout_search_rules(state, [panel_model(part)], options, 0.1).keep_outs
    way = [area for area in areas if area.name == LEADS]
    assert len(way) == 12
    assert sum((a.x1_m - a.x0_m) * (a.y1_m - a.y0_m) for a in way) < 0.5  # not the whole 2 by 1 m between
    for share in (0.0, 0.3, 0.5, 0.99):
        x, y = 1.0 + 2.0 * share, 0.5 + 1.0 * share
        assert any(a.x0_m <= x <= a.x1_m and a.y0_m <= y <= a.y1_m for a in way)


def test_the_answer_is_never_worse_than_what_is_drawn(design, erin, now, part, monkeypatch):
    best = searched(design, erin, now, part).result["candidates"][0]
    take(design, erin, now, best)
    monkeypatch.setattr(answer, "FIRST_GRID_M", 0.5)
    monkeypatch.setattr(answer, "grid_m", lambda _options: 0.5)  # a search that finds little by itself
    again = searched(Design.objects.get(pk=design.pk), erin, now, part).result["candidates"][0]
    assert again["mean_kwh"] >= best["mean_kwh"] - 0.05


def test_what_is_drawn_wrong_is_no_candidate(design, erin, now, part):
    DesignPanel.objects.filter(design=design, number=1).update(x_m=-0.2)
    found = searched(design, erin, now, part).result["candidates"]
    assert "drawn" not in {one["key"] for one in found}


def test_what_the_way_to_walk_costs_is_what_fits_without_it(design, erin, now, part):
    DesignController.objects.filter(design=design).delete()  # five panels fit, but make no equal strings
    with_way = searched(design, erin, now, part).result["candidates"][0]
    cost = next(one for one in with_way["costs"] if one["words"] == "the way to walk")
    Survey.objects.filter(pk=design.job.survey.pk).update(walkway_width_mm=0)
    without = searched(design, erin, now, part).result["candidates"][0]
    assert 1 <= cost["panels"] <= without["panels"] - with_way["panels"]
    assert cost["kwh"] > 0


def test_rules_are_let_go_one_at_a_time_and_a_guess_is_named(design, part):
    survey = Survey.objects.get(pk=design.job.survey.pk)
    survey.guessed_fields = [*survey.guessed_fields, "roof.rafters"]
    survey.save()
    state = design_state(design_in_full(design.pk))
    rules = layout_search_rules(state, [panel_model(part)], LayoutOptions(parts=(part.pk,)), 0.1)
    found = list(relaxations(state, rules))
    assert {"the way to walk", "feet on rafters near both ends"} <= {one.words for one in found}
    assert [one.words for one in found if one.is_guess] == ["feet on rafters near both ends"]
    for one in found:
        changed = [
            name
            for name in ("ways", "rafters_x_m", "keep_outs", "edge_m", "clearance_m")
            if getattr(one.rules, name) != getattr(rules, name)
        ]
        assert len(changed) == 1, one.words


def test_the_roof_of_the_tests_has_a_gland(design):
    assert roof_state(design).surveyed.gland is not None
