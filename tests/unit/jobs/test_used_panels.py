"""A used panel on its way: survey, design, question, answer, quote."""

from __future__ import annotations

import pytest

import sizing
from jobs.design.panels import panels_change
from jobs.design.revision import Change, DesignRefused, design_size
from jobs.engine.state import design_state
from jobs.engine.stored import design_in_full, latest_run, result_of
from jobs.engine.system import system_basis, system_input
from jobs.models import Design, ExistingItem, Job, LineKind, Survey
from jobs.parts.panel_model import panel_models
from jobs.quote.draft import quote_create
from jobs.roof.read import roof_state
from jobs.workspace.edit import layout_save, layout_try, read_layout
from jobs.workspace.state import layout_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def weak(golden_job) -> ExistingItem:
    """Return a panel that stays: 7.14 A in 875 W/m² is 8.16 A of the 10.2 A on its sheet, 80 %."""
    return ExistingItem.objects.create(
        survey=golden_job.survey,
        kind=ExistingItem.Kind.PANEL,
        name="Old panel",
        measured_isc_a=7.14,
        measured_at_w_m2=875.0,
        age_years=11.0,
    )


@pytest.fixture
def design(golden_job, weak, alice, now) -> Design:
    """Return the golden design with its first panel taken from the old roof, sized."""
    design = golden_job.designs.get()
    design.panels.filter(number=1).update(existing=weak)
    design_size(design=design, actor=alice, at=now)
    return design


def asked(design: Design) -> sizing.SystemInput:
    full = design_in_full(design.pk)
    return system_input(roof_state(full), system_basis(full))


def test_the_survey_reaches_the_question(design):
    first, *rest = asked(design).panels
    assert (first.is_used, first.age_years) == (True, 11.0)
    assert (first.measured_isc_a, first.measured_at_w_m2) == (7.14, 875.0)
    assert not any(panel.is_used for panel in rest)


def test_a_panel_far_below_its_sisters_is_flagged(design):
    check = result_of(latest_run(design)).check("panel:1/used")
    assert (check.verdict, check.value) == (sizing.Verdict.CAUTION, pytest.approx(0.8))


def test_the_quote_offers_a_new_one_and_does_not_sell_the_old(design, alice, now):
    """Four panels on the roof, one of them the customer's: three are bought, the fourth is offered."""
    lines = quote_create(design=design, actor=alice, at=now).lines
    panel = design.panels.get(number=1).part
    bought = lines.get(part=panel, is_optional=False)
    assert bought.quantity == 3
    offered = lines.get(part=panel, is_optional=True)
    assert (offered.kind, offered.quantity, offered.unit_cost) == (LineKind.PART, 1, panel.cost)
    assert "used panel 1" in offered.text


def test_a_sound_used_panel_is_neither_sold_nor_replaced(design, weak, alice, now):
    weak.measured_isc_a = 8.9  # 8.9 × 1000/875 = 10.17 A: as on the sheet
    weak.save()
    design_size(design=design, actor=alice, at=now)
    lines = quote_create(design=design, actor=alice, at=now).lines
    assert lines.get(part=design.panels.get(number=1).part).quantity == 3


def test_moving_panels_by_hand_keeps_it_used(design, alice, now):
    full = design_in_full(design.pk)
    models = panel_models({panel.part for panel in full.panels.all()})
    edit = read_layout(layout_state(roof_state(full)), models, ["A"])
    tried = layout_try(design_state(full), edit)
    assert [panel.used is not None for panel in tried.roof.panels] == [True, False, False, False]
    layout_save(design=design, edit=edit, change=Change(alice, now))
    assert design.panels.get(number=1).existing_id is not None


def test_a_panel_of_another_vehicle_is_refused(design, alice, now):
    job = design.job
    elsewhere = Job.objects.create(shop=job.shop, vehicle=job.vehicle, number="77", title="Another")
    survey = Survey.objects.create(job=elsewhere)
    other = ExistingItem.objects.create(survey=survey, kind=ExistingItem.Kind.PANEL)
    panel = design.panels.get(number=2)
    with pytest.raises(DesignRefused, match="not surveyed on this vehicle"):
        panels_change(design=design, rows=[{"id": panel.pk, "existing": other}], change=Change(alice, now))
