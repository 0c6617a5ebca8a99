"""The roof workspace: page, live answer, saving, each refusal, then the stranger."""

from __future__ import annotations

import copy
import json
import uuid

import pytest
from django.urls import reverse

from jobs.engine.scene import sun_basis
from jobs.models import Design, LogEntry
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.workspace.state import differences, layout_state

pytestmark = pytest.mark.django_db


def post(client, name, design, **body):
    """Send JSON to one of the workspace's addresses."""
    return client.post(
        reverse(f"jobs:{name}", args=[design.pk]), json.dumps(body), content_type="application/json"
    )


def save(client, design, layout, seen, key=None):
    """Send a layout to be stored."""
    return post(client, "workspace_save", design, layout=layout, seen=seen, key=str(key or uuid.uuid4()))


def test_it_works(client_of, erin, design, django_assert_max_num_queries):
    client = client_of(erin)
    with django_assert_max_num_queries(12):
        answer = client.get(reverse("jobs:workspace", args=[design.pk]))
    assert answer.status_code == 200
    assert (
        plan_svg(roof_state(design), shop_units=design.job.shop.units) in answer.text
    )  # the one plan, unchanged
    assert "workspace-start" in answer.text


def test_live_answers_without_storing(client_of, erin, design, layout):
    before = copy.deepcopy(layout)
    layout["panels"][0]["x_mm"] = layout["panels"][1]["x_mm"] + 100
    layout["panels"][0]["y_mm"] = layout["panels"][1]["y_mm"]
    answer = post(client_of(erin), "workspace_live", design, layout=layout, sequence=7, draw=True)
    got = answer.json()
    assert got["sequence"] == 7
    overlap = next(rule for rule in got["rules"] if "overlap" in rule["sentence"])
    assert (overlap["verdict"], [f"panel:{one}" for one in overlap["panels"]]) == (
        "block",
        [overlap["subject"]],
    )
    assert got["strings"]["count"] > 0
    assert 'class="plan-panel"' in got["svg"]
    assert len(answer.content) <= 30_000
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == before


def test_a_layout_is_stored_sized_and_logged(client_of, erin, design, layout):
    layout["panels"][0]["x_mm"] += 10
    answer = save(client_of(erin), design, layout, design.edit_count)
    assert answer.json()["edit_count"] == design.edit_count + 1
    stored = Design.objects.get(pk=design.pk)
    assert layout_state(roof_state(stored)) == layout
    assert stored.runs.exists()
    assert LogEntry.objects.filter(job=stored.job, verb="roof changed").exists()


def test_a_panel_taken_off_and_put_back_keeps_number_and_string(client_of, erin, design, layout):
    client, whole = client_of(erin), copy.deepcopy(layout)
    gone = layout["panels"].pop(0)["number"]
    for string in layout["strings"]:
        string["panels"] = [one for one in string["panels"] if one != gone]
    count = save(client, design, layout, design.edit_count).json()["edit_count"]
    assert not design.panels.filter(number=gone).exists()
    assert save(client, design, whole, count).status_code == 200
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == whole


def test_the_same_key_twice_is_done_once(client_of, erin, design, layout):
    client, key = client_of(erin), uuid.uuid4()
    layout["panels"][0]["x_mm"] += 10
    first = save(client, design, layout, design.edit_count, key)
    again = save(client, design, layout, design.edit_count, key)
    assert first.json() == again.json()


def test_a_change_meanwhile_is_never_overwritten(client_of, alice, erin, design, layout):
    mine = copy.deepcopy(layout)
    layout["panels"][0]["x_mm"] += 100
    save(client_of(alice), design, layout, design.edit_count)
    mine["panels"][1]["y_mm"] += 10
    answer = save(client_of(erin), design, mine, design.edit_count)
    assert answer.status_code == 409
    assert len(answer.json()["differences"]) == 2
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == layout


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("x_mm", 1e9, "From the rear: must be from -39 3/8 in to 629 7/8 in"),
        ("y_mm", "far", "From the right: must be from -39 3/8 in to 157 1/2 in"),
        ("height_mm", -1, "Above roof: must be from 0 in to 23 5/8 in"),
        ("feet", 2.5, "Feet: must be a whole number from 0 to 20"),
        ("fasteners", None, "Screws per foot: must be a whole number from 0 to 12"),
        ("part", 0, "not in the catalog"),
        ("number", 0, "Panel number: must be a whole number from 1 to 999"),
    ],
)
@pytest.mark.parametrize("name", ["workspace_live", "workspace_save"])
def test_what_cannot_be_right_is_refused_by_name(client_of, erin, design, layout, field, value, said, name):
    layout["panels"][0][field] = value
    answer = post(client_of(erin), name, design, layout=layout, seen=design.edit_count)
    assert answer.status_code == 422
    assert said in answer.json()["error"].replace(", ", " ").replace("Panel 1 ", "") or said in answer.text


@pytest.mark.parametrize(
    ("strings", "said"),
    [
        ([{"controller": "Z", "panels": [1]}], "no controller Z"),
        ([{"controller": "A", "panels": [1, 1]}], "wired twice"),
        ([{"controller": "A", "panels": [99]}], "not on the roof"),
        ([{"controller": "A", "panels": [1], "fuse_a": float("inf")}], "fuse: must be"),
        ("x", "strings are missing"),
    ],
)
def test_strings_that_cannot_be_are_refused(client_of, erin, design, layout, strings, said):
    layout["strings"] = strings
    answer = save(client_of(erin), design, layout, design.edit_count)
    assert answer.status_code == 422
    assert said in answer.json()["error"]


@pytest.mark.parametrize("body", ["", "[]", "{", '{"layout": {"panels": [3]}}', '{"layout": {}}'])
def test_nonsense_is_refused(client_of, erin, design, body):
    for name in ("workspace_live", "workspace_save"):
        address = reverse(f"jobs:{name}", args=[design.pk])
        assert client_of(erin).post(address, body, content_type="application/json").status_code == 422


def test_saving_without_saying_what_was_seen_is_refused(client_of, erin, design, layout):
    answer = post(client_of(erin), "workspace_save", design, layout=layout)
    assert answer.status_code == 422
    assert "could not be saved: reload" in answer.json()["error"]


def test_a_frozen_revision_is_only_looked_at(client_of, erin, design, layout):
    Design.objects.update(state="frozen")
    page = client_of(erin).get(reverse("jobs:workspace", args=[design.pk]))
    assert "workspace-start" not in page.text
    assert "roof-plan" in page.text
    answer = save(client_of(erin), design, layout, design.edit_count)
    assert answer.status_code == 422
    assert "frozen" in answer.json()["error"]


def test_a_technician_looks_and_moves_nothing(client_of, bob, design, layout):
    client = client_of(bob)
    assert "workspace-start" not in client.get(reverse("jobs:workspace", args=[design.pk])).text
    assert post(client, "workspace_live", design, layout=layout).status_code == 403
    assert post(client, "workspace_detail", design, layout=layout).status_code == 403
    assert save(client, design, layout, design.edit_count).status_code == 403


def test_an_unmeasured_roof_says_so(client_of, erin, design):
    design.job.survey.__class__.objects.update(roof_length_m=None)
    page = client_of(erin).get(reverse("jobs:workspace", args=[design.pk]))
    assert "not in the survey yet" in page.text


def test_differences_are_said_plainly(layout):
    mine, theirs = copy.deepcopy(layout), copy.deepcopy(layout)
    assert differences(mine, theirs, "imperial") == []
    number = theirs["panels"].pop()["number"]
    theirs["panels"][0]["feet"] += 1
    theirs["strings"] = []
    said = differences(mine, theirs, "metric")
    assert f"Panel {number} is on your roof, not on theirs." in said
    assert "The strings are wired differently." in said
    assert len(said) == 3


def test_another_shops_design_is_not_found(client_of, charlie, design, layout):
    client = client_of(charlie)
    assert client.get(reverse("jobs:workspace", args=[design.pk])).status_code == 404
    assert post(client, "workspace_live", design, layout=layout).status_code == 404
    assert post(client, "workspace_detail", design, layout=layout).status_code == 404
    assert save(client, design, layout, design.edit_count).status_code == 404
    assert not Design.objects.get(pk=design.pk).edit_count > design.edit_count


def test_detail_names_panels_and_costs(client_of, erin, design, layout):
    got = post(client_of(erin), "workspace_detail", design, layout=layout, sequence=3)
    answer = got.json()
    assert answer["sequence"] == 3
    assert [one["number"] for one in answer["panels"]] == [one["number"] for one in layout["panels"]]
    assert "air conditioner" in [one["name"] for one in answer["obstacles"]]
    costs = [one["cost_kwh"] for one in answer["obstacles"]]
    assert costs == sorted(costs, reverse=True)
    assert len(got.content) <= 30_000


def test_the_live_year_is_the_engines_year(client_of, erin, design, layout):
    import sizing
    from jobs.engine.scene import scene_json, shade_question

    got = post(client_of(erin), "workspace_live", design, layout=layout).json()
    scene = sizing.scene_from_json(scene_json(shade_question(roof_state(design), sun_basis(design))))
    year = sizing.shade_year(scene, detail=False).wirings[0]
    assert got["year"]["mean_kwh"] == pytest.approx(year.mean_kwh, abs=0.06)
    assert got["year"]["worst_kwh"] == pytest.approx(year.worst_kwh, abs=0.06)
    assert got["year"]["loss_fraction"] == pytest.approx(year.mean_loss_fraction, abs=1e-4)


def test_an_empty_roof_has_no_year_and_says_why(client_of, erin, design):
    got = post(client_of(erin), "workspace_live", design, layout={"panels": []}).json()
    assert got["year"] is None
    assert "no panel on the roof" in got["year_reason"]
