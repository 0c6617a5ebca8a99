"""What the survey lets in, the sizing engine can be asked: every bound of every fact it reads."""

from __future__ import annotations

import pytest

from jobs.engine.stored import design_in_full
from jobs.engine.system import input_from_json, input_to_json, system_basis, system_input
from jobs.roof.read import roof_state
from jobs.survey import PARTS

READ = {
    "roof": ["roof_length_m", "roof_width_m", "deck_thickness_mm", "rafter_spacing_mm", "overall_height_m",
             "height_limit_m"],
    "wire": ["gland_screws", "cable_holes"],
    "equipment": ["battery_tmin_c"],
    "weight": ["cargo_label_kg", "fresh_water_carried_l", "people_on_board_kg", "customer_cargo_kg"],
    "travel": ["autonomy_days", "k_sys", "tmin_travel_c", "tmin_storage_c", "tmax_c"],
}  # fmt: skip
FACTS = [fact for slug, names in READ.items() for fact in PARTS[slug].facts if fact.name in names]
ROW_FACTS = [
    (sheet.prefix, fact)
    for slug in ("loads", "travel")
    for sheet in PARTS[slug].rows
    for fact in sheet.facts
    if fact.unit is not None and fact.name != "nights"
]


@pytest.fixture
def design(golden_job):
    return design_in_full(golden_job.designs.get().pk)


def ask(design):
    """Put the design as a question and read it back; raises InputOutOfRange when it cannot be asked."""
    return input_from_json(input_to_json(system_input(roof_state(design), system_basis(design))))


@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact.name)
def test_a_fact_at_its_bound_can_be_asked(design, fact, end):
    record = design.job.vehicle if fact.on == "vehicle" else design.job.survey
    setattr(record, fact.name, fact.possible[end])
    assert ask(design)


@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize(("prefix", "fact"), ROW_FACTS, ids=lambda one: getattr(one, "name", one))
def test_a_row_at_its_bound_can_be_asked(design, prefix, fact, end):
    row = getattr(design.job.survey, prefix).all()[0]
    setattr(row, fact.name, fact.possible[end])
    assert ask(design)


def test_every_word_for_a_guess_can_be_asked(design):
    words = {fact.guess for part in PARTS.values() for fact in part.facts if fact.guess}
    words |= {sheet.guess for part in PARTS.values() for sheet in part.rows if sheet.guess}
    design.job.survey.guessed_fields = sorted(words)
    assert words - {"weight.label"} <= ask(design).guesses | {"weight"}


@pytest.mark.parametrize("volts", [12, 24, 36, 48])
def test_every_system_voltage_can_be_asked(design, volts):
    design.job.survey.v_nominal_v = volts
    assert ask(design).v_nominal_v == volts
