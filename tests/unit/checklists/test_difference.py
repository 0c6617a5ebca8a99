"""What a later revision makes the people on the roof do again: what they would redo by hand, and no more."""

from __future__ import annotations

import copy

import pytest

from checklists.plan.difference import Plan, plan_touch
from tests.roles import code_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def touched_by(checklist):
    """Return a maker of the (role, subject) pairs asked anew after a change of the plan's question."""
    before = Plan(checklist.run.inputs, checklist.facts)

    def touched(change):
        inputs = copy.deepcopy(before.inputs)
        change(inputs)
        answer = plan_touch(before, Plan(inputs, before.facts), checklist.template_version)
        assert not answer.added
        assert not answer.gone
        return answer.touched

    return touched


@pytest.fixture
def step(checklist):
    return lambda role, subject="": (code_of(checklist, role), subject)


def test_the_same_plan_asks_nothing_anew(touched_by):
    assert touched_by(lambda inputs: None) == frozenset()


def test_another_model_of_panel_is_read_and_its_string_measured_again(touched_by, step, checklist):
    first = checklist.run.inputs["panels"][0]["id"]
    string = next(one for one in checklist.run.inputs["strings"] if first in one["panel_ids"])
    others = [one["id"] for one in checklist.run.inputs["panels"][1:]]

    def other_model(inputs):
        inputs["panels"][0]["panel"]["name"] = "another model"

    touched = touched_by(other_model)
    assert step("panel_serial", f"panel:{first}") in touched
    assert step("string_voc", f"string:{string['id']}") in touched
    assert not {step("panel_serial", f"panel:{other}") for other in others} & touched


def test_a_moved_panel_is_chalked_and_sealed_again_but_not_measured(touched_by, step, checklist):
    first = checklist.run.inputs["panels"][0]["id"]
    touched = touched_by(lambda inputs: inputs["panels"][0].update(x_m=inputs["panels"][0]["x_m"] + 0.2))
    assert {step("panel_chalked", f"panel:{first}"), step("seal_over", f"panel:{first}")} <= touched
    assert not any(code == code_of(checklist, "string_voc") for code, _ in touched)


def test_a_larger_bank_undoes_the_battery_work_and_the_go(touched_by, step, checklist):
    touched = touched_by(lambda inputs: inputs["bank"].update(quantity=inputs["bank"]["quantity"] + 1))
    assert {step("battery_monitor"), step("load_test"), step("go")} <= touched
    assert not any(subject.startswith("panel:") for _, subject in touched)


def test_another_inverter_is_torqued_and_loaded_again(touched_by, step, checklist):
    def other(inputs):
        inputs["inverter"]["power_w"] += 500

    touched = touched_by(other)
    assert {step("torque", "joint:inverter"), step("load_test"), step("go")} <= touched


def test_a_changed_charger_is_set_again_and_no_other(touched_by, step, checklist):
    sources = [one["id"] for one in checklist.run.inputs["sources"]]
    name = next(iter(sources))

    def stronger(inputs):
        inputs["sources"][0]["output_a"] += 10

    touched = touched_by(stronger)
    assert step("charge_sum") in touched
    rest = {step("charger_settings", f"source:{other}") for other in sources if other != name}
    assert not rest & touched
