"""The wire path drawn in the workspace: it feeds the schedule, and gauge and drop follow live."""

from __future__ import annotations

import copy
import json
import uuid

import pytest
from django.urls import reverse

from jobs.design.revision import design_create, design_resize
from jobs.engine.stored import design_in_full
from jobs.models import Design, DesignCircuit, WireLeg
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName
from jobs.workspace.state import layout_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job, now):
    """Return the golden design, sized, its way inside measured: 3 m."""
    survey = golden_job.survey
    WireLeg.objects.filter(survey=survey).delete()
    WireLeg.objects.create(survey=survey, circuit="C2", place="drop", length_m=3.0, confidence="measured")
    design = golden_job.designs.get()
    design_resize(design, actor=ByName("test"), at=now)
    return Design.objects.get(pk=design.pk)


@pytest.fixture
def layout(design):
    """Return the layout with a combiner 3 m behind the gland, which is 3.5 m from the rear."""
    state = layout_state(roof_state(design))
    state["path"] |= {"combiners": {"A": [500.0, 1100.0]}, "gland": [3500.0, 1100.0]}
    return state


@pytest.fixture
def send(client_of, erin):
    """Return a way to send a layout to one of the workspace's addresses."""

    def post(name, design, layout, **more):
        body = json.dumps({"layout": layout, "key": str(uuid.uuid4()), **more})
        address = reverse(f"jobs:{name}", args=[design.pk])
        return client_of(erin).post(address, body, content_type="application/json")

    return post


def home_run(design):
    """Return the stored home run."""
    return DesignCircuit.objects.get(design=design, kind="C2")


def test_it_works(design, layout, send):
    layout["path"]["homes"] = {"A": [[500.0, 1600.0], [3500.0, 1600.0]]}
    layout["strings"][0]["lead"] = [[600.0, 400.0]]
    assert send("workspace_save", design, layout, seen=design.edit_count).status_code == 200
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) == layout
    # 0.5 + 3.0 + 0.5 m drawn, a tenth of slack, 3 m inside
    assert home_run(design).run_len_m == pytest.approx(4.0 * 1.1 + 3.0)
    assert home_run(design).confidence == "scaled"
    svg = plan_svg(roof_state(design_in_full(design.pk)), shop_units="metric")
    assert 'class="plan-home"' in svg
    assert "home run from combiner A: 4.00 m on the roof" in svg.replace(
        "home run of A", "home run from combiner A"
    )
    assert "Leads of string 1" in svg


def test_the_live_answer_shows_length_gauge_drop_and_verdict(design, layout, send):
    near = send("workspace_live", design, layout, draw=True).json()["wires"]
    far = copy.deepcopy(layout)
    far["path"]["homes"] = {"A": [[500.0, 2000.0], [7500.0, 2000.0], [7500.0, 200.0]]}
    longer = send("workspace_live", design, far, draw=True).json()["wires"]
    before, after = (next(one for one in rows if one["label"] == "C2") for rows in (near, longer))
    assert set(before) == {"label", "words", "length", "how", "gauge", "drop", "verdict"}
    # F15 is proportional to the path: 6.3 m against (0.9 + 7 + 1.8 + root(4² + 0.9²)) · 1.1 + 3 = 18.18 m
    share = float(after["drop"].rstrip("%")) / float(before["drop"].rstrip("%"))
    if before["gauge"] == after["gauge"]:
        assert share == pytest.approx(18.18 / 6.3, rel=0.02)
    assert "9.8 ft drawn + 10% slack + 9.8 ft inside, measured in the survey." in before["how"]  # 3 m, 3 m
    assert home_run(design).run_len_m != pytest.approx(6.3)  # nothing was stored


def test_a_panel_moved_moves_the_leads(design, layout, send):
    count = send("workspace_save", design, layout, seen=design.edit_count).json()["edit_count"]
    before = DesignCircuit.objects.get(design=design, kind="C1").run_len_m
    for panel in layout["panels"]:
        panel["x_mm"] += 300
    send("workspace_save", design, layout, seen=count)
    assert DesignCircuit.objects.get(design=design, kind="C1").run_len_m > before


def test_without_a_combiner_the_schedule_goes_back_to_the_survey(design, layout, send):
    count = send("workspace_save", design, layout, seen=design.edit_count).json()["edit_count"]
    layout["path"] |= {"combiners": {}, "homes": {}}
    send("workspace_save", design, layout, seen=count)
    assert (home_run(design).run_len_m, home_run(design).confidence) == (3.0, "measured")


def test_a_gland_moved_belongs_to_the_survey(design, layout, send):
    layout["path"]["gland"] = [4000.0, 900.0]
    send("workspace_save", design, layout, seen=design.edit_count)
    survey = Design.objects.get(pk=design.pk).job.survey
    assert (survey.gland_x_m, survey.gland_y_m) == (4.0, 0.9)


def test_a_copy_keeps_the_wire_and_the_strings_form_too(design, layout, send, client_of, erin, now):
    layout["strings"][0]["lead"] = [[600.0, 400.0]]
    send("workspace_save", design, layout, seen=design.edit_count)
    copied = design_create(job=design.job, actor=erin, at=now, copy_of=Design.objects.get(pk=design.pk))
    assert layout_state(roof_state(design_in_full(copied.pk))) == layout


def test_a_drawn_length_is_not_typed_over_in_the_schedule(design, layout, send, client_of, erin):
    page = client_of(erin).get(reverse("jobs:design_edit", args=[design.pk, "circuits"]))
    assert "From the roof drawing" not in page.text
    send("workspace_save", design, layout, seen=design.edit_count)
    page = client_of(erin).get(reverse("jobs:design_edit", args=[design.pk, "circuits"]))
    assert "From the roof drawing" in page.text


WRONG = [
    ({"combiners": {"Z": [1, 1]}}, "there is no controller Z"),
    ({"combiners": {"A": [1e6, 1]}}, "Combiner A, from the rear: must be from -39 3/8 in to 629 7/8 in."),
    ({"combiners": {"A": "here"}}, "Combiner A: must be a place on the roof."),
    ({"combiners": []}, "could not be saved"),
    ({"homes": {"A": [[1, 1]] * 21}}, "at most 20 bends"),
    (
        {"homes": {"A": [[1, None]]}},
        "Home run A, bend 1, from the right: must be from -39 3/8 in to 157 1/2 in.",
    ),
    ({"slack": 3}, "Slack: must be from 0 to 50%."),
    ({"slack": float("nan")}, "Slack: must be from 0 to 50%."),
    ({"gland": [-5, 0]}, "Gland, from rear: must be from 0 in to 1,181 1/8 in."),
    ({"gland": 7}, "Gland: must be a place on the roof."),
]


def test_what_cannot_be_right_is_refused_by_name(design, layout, send):
    for path, said in WRONG:
        wrong = {**layout, "path": layout["path"] | path}
        for name in ("workspace_live", "workspace_save"):
            answer = send(name, design, wrong, seen=design.edit_count)
            assert answer.status_code == 422, path
            assert said in answer.json()["error"]


def test_leads_that_cannot_be_are_refused(design, layout, send):
    layout["strings"][0]["lead"] = [["x", 0]]
    answer = send("workspace_save", design, layout, seen=design.edit_count)
    assert "String 1, leads, bend 1, from the rear" in answer.json()["error"]
