"""Where a panel may be stored: every page keeps one rule, and what one page stored every page accepts.

The roof is 12.192 m (40 ft) by 2.2 m; a P400 is 1.722 by 1.134 m. Expected numbers are sums on paper.
"""

from __future__ import annotations

import json
import re
import uuid

import pytest
from django.urls import reverse

from jobs.autolayout.run import layout_candidate_take
from jobs.design.panels import panels_change, panels_place_row
from jobs.design.revision import Change, DesignRefused, design_create
from jobs.models import Design, DesignPanel, Part
from jobs.roof.bounds import Spot, off_by, refusal_of
from jobs.roof.read import roof_state
from jobs.workspace.state import layout_state
from tests.web.jobs.test_design_edit import form_of, words

pytestmark = pytest.mark.django_db
ROOF = (12_192.0, 2_200.0)
SIZE = (1_722.0, 1_134.0)


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design on a roof of 40 ft."""
    survey = golden_job.survey
    survey.roof_length_m, survey.roof_width_m = ROOF[0] / 1000, ROOF[1] / 1000
    survey.save()
    return Design.objects.get(pk=golden_job.designs.get().pk)


@pytest.fixture
def change(erin, now):
    """Return the circumstances of a change."""
    return Change(actor=erin, at=now)


@pytest.fixture
def older(design):
    """Return a design whose fourth panel was stored 75 ft from the rear, before there was a rule."""
    DesignPanel.objects.filter(design=design, number=4).update(x_m=22.86)
    return Design.objects.get(pk=design.pk)


def stored(design):
    """Return the layout as it is stored now."""
    return layout_state(roof_state(Design.objects.get(pk=design.pk)))


def sent(client, name, design, layout):
    """Send a layout as the workspace does."""
    body = {"layout": layout, "seen": Design.objects.get(pk=design.pk).edit_count, "key": str(uuid.uuid4())}
    address = reverse(f"jobs:{name}", args=[design.pk])
    return client.post(address, json.dumps(body), content_type="application/json")


def row_of(count, **more):
    """Return a row of big panels from a corner 0.2 m in."""
    part = Part.objects.get(sku="P400")
    row = {"part": part, "count": count, "x_m": 0.2, "y_m": 0.3, "gap_m": 0.03}
    return row | {"is_turned": False, "is_along": True} | more


def test_a_row_that_runs_off_the_roof_is_refused_with_what_fits(design, change):
    # The 15th begins at 0.2 + 14 × 1.752 = 24.728 m and ends at 26.45 m; the 7th begins at 10.712 m and the
    # 8th at 12.464 m, beyond 12.192 m.
    with pytest.raises(DesignRefused) as refused:
        panels_place_row(design=design, **row_of(15), change=change)
    for said in ("How many", "15 panels", "‹26.45 m|86.8 ft›", "‹12.19 m|40 ft›", "7 of them"):
        assert said in str(refused.value)
    assert design.panels.count() == 4
    panels_place_row(design=design, **row_of(7), change=change)  # the 7th hangs over: judged, not refused
    assert design.panels.count() == 11


def test_the_form_of_a_row_keeps_what_was_typed(design, erin, client_of):
    client = client_of(erin)
    typed = form_of(client, design, "panels", "place") | {
        "place-part": str(Part.objects.get(sku="P400").pk), "place-count": "15",
        "place-x_m": "8 in", "place-y_m": "12 in", "place-gap_m": "1 in",
    }  # fmt: skip
    answer = client.post(reverse("jobs:design_edit", args=[design.pk, "panels"]), typed)
    assert answer.status_code == 422
    assert "How many: a row of 15 panels" in words(answer)
    assert re.search(r'name="place-count"[^>]*value="15"', answer.content.decode())


def by_form(design, change, client, x_m, y_m):
    """Store a place by the form of the panels."""
    row = {"id": design.panels.get(number=1).pk, "x_m": x_m, "y_m": y_m}
    panels_change(design=design, rows=[row], change=change)


def by_row(design, change, client, x_m, y_m):
    """Store a place by the row's helper."""
    panels_place_row(design=design, **row_of(1, x_m=x_m, y_m=y_m), change=change)


def by_hand(design, change, client, x_m, y_m):
    """Store a place by the workspace."""
    layout = stored(design)
    layout["panels"][0] |= {"x_mm": x_m * 1000, "y_mm": y_m * 1000}
    answer = sent(client, "workspace_save", design, layout)
    if answer.status_code == 422:
        raise DesignRefused(answer.json()["error"])


def by_search(design, change, client, x_m, y_m):
    """Store a place by taking a layout."""
    layout = {key: stored(design)[key] for key in ("panels", "strings")}
    layout["panels"][0] |= {"x_mm": x_m * 1000, "y_mm": y_m * 1000}
    layout_candidate_take(design=design, candidate={"layout": layout}, change=change)


DOORS = [by_form, by_row, by_hand, by_search]


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize(
    ("x_m", "y_m", "said"),
    [
        (12.3, 0.2, "From the rear"),  # the roof ends at 12.192 m
        (15.9, 0.2, "From the rear"),
        (0.2, 2.21, "From the right"),  # and at 2.2 m
        (0.2, 3.9, "From the right"),
    ],
)
def test_no_page_stores_a_panel_wholly_beside_the_roof(design, change, client_of, erin, door, x_m, y_m, said):
    before = stored(design)
    with pytest.raises(DesignRefused) as refused:
        door(design, change, client_of(erin), x_m, y_m)
    assert re.search(rf"Panel \d, {said}: must be from (?:‹.* mm\|.* in›|.* in)", str(refused.value))
    assert stored(design) == before


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize(("x_m", "y_m"), [(12.1, 0.2), (-0.3, 0.2), (0.2, 2.1), (0.2, -0.3), (0.0, 0.0)])
def test_what_one_page_stores_every_page_accepts(design, change, client_of, erin, door, x_m, y_m):
    client = client_of(erin)
    door(design, change, client, x_m, y_m)
    layout = stored(design)
    layout["panels"][1]["x_mm"] += 10
    assert sent(client, "workspace_live", design, layout).status_code == 200
    assert sent(client, "workspace_save", design, layout).status_code == 200
    fresh = Design.objects.get(pk=design.pk)
    rows = [{"id": fresh.panels.get(number=2).pk, "x_m": 1.0}]
    panels_change(design=fresh, rows=rows, change=change)
    copied = design_create(job=design.job, actor=change.actor, at=change.at, copy_of=fresh)
    assert stored(copied)["panels"] == stored(design)["panels"]


def test_older_data_opens_is_judged_and_another_panel_can_be_moved(older, client_of, erin):
    client = client_of(erin)
    assert client.get(reverse("jobs:workspace", args=[older.pk])).status_code == 200
    layout = stored(older)
    layout["panels"][0]["x_mm"] += 10
    live = sent(client, "workspace_live", older, layout)
    assert live.status_code == 200
    assert any(one["verdict"] == "block" and one["panels"] == [4] for one in live.json()["rules"])
    assert sent(client, "workspace_save", older, layout).status_code == 200
    assert stored(older) == layout


def test_older_data_is_brought_back_step_by_step_but_not_further_off(older, client_of, erin):
    client = client_of(erin)
    for x_mm, status in ((25_000, 422), (14_000, 200), (14_500, 422), (2_000, 200), (22_860, 422)):
        layout = stored(older)
        layout["panels"][3]["x_mm"] = x_mm
        assert sent(client, "workspace_save", older, layout).status_code == status, x_mm


def test_the_form_saves_others_beside_an_older_bad_panel(older, client_of, erin):
    client = client_of(erin)
    address = reverse("jobs:design_edit", args=[older.pk, "panels"])
    data = form_of(client, older, "panels") | {"panels-0-x_m": "6' 6\""}
    asked = client.post(address, data)
    assert asked.status_code == 422  # 75 ft is unusual: asked once, not refused
    assert "From the rear must be" not in words(asked)
    box = re.search(r'<input[^>]*name="panels-3-sure"[^>]*>', asked.content.decode())[0]
    data["panels-3-sure"] = re.search(r'value="([0-9a-f]{16})"', box)[1]
    assert client.post(address, data).status_code == 302
    assert older.panels.get(number=1).x_m == pytest.approx(78 * 0.0254)
    assert older.panels.get(number=4).x_m == 22.86


def test_a_copy_of_older_data_is_taken_over_as_it_is(older, change):
    copied = design_create(job=older.job, actor=change.actor, at=change.at, copy_of=older)
    assert stored(copied)["panels"] == stored(older)["panels"]


@pytest.mark.parametrize(
    ("corner", "expected"),
    [
        ((0.0, 0.0), 0.0),
        ((12_191.0, 0.0), 0.0),  # a millimeter lies on the roof
        ((12_192.0, 0.0), 1.0),
        ((-1_000.0, 0.0), 0.0),  # hangs over by a meter of 1.722
        ((-1_001.0, 0.0), 1.0),  # beyond what any vehicle has
        ((0.0, -1_000.0), 0.0),
        ((0.0, 2_300.0), 101.0),
        ((13_192.0, 2_300.0), 1_001.0),
    ],
)
def test_how_far_a_panel_lies_off(corner, expected):
    assert off_by(Spot(1, corner, SIZE), ROOF) == pytest.approx(expected)


def test_without_a_roof_only_what_no_vehicle_has_is_refused():
    nowhere = (None, None)
    assert refusal_of([Spot(1, (15_999.0, 3_999.0), SIZE)], {}, nowhere) == ""
    assert "‹16,000 mm|629 7/8 in›" in refusal_of([Spot(1, (16_001.0, 0.0), SIZE)], {}, nowhere)


def test_more_panels_than_a_roof_carries_are_refused_and_older_ones_stay():
    many = [Spot(number, (0.0, 0.0), SIZE) for number in range(1, 62)]
    assert "at most 60" in refusal_of(many, {}, ROOF)
    assert refusal_of(many, {spot.number: spot for spot in many}, ROOF) == ""
