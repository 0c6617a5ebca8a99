"""A job keeps the list of steps it was opened with, also when a later revision becomes its plan."""

from __future__ import annotations

import pytest

from checklists.models import Checklist
from checklists.office.plan_change import plan_change
from checklists.plan.templates import newest_version, templates, versions
from checklists.record.read import work_of
from jobs.design.revision import design_create, design_resize
from jobs.models import Part

#: What a larger controller is put in, set to and switched on by, in the words of each list: by hand.
REDONE = {
    "1": {"controller_mounted controller:A", "first_charge controller:A", "charger_settings source:A"},
    "2": {"pv_gear controller:A", "torque_pv joint:pv-A", "pv_on controller:A", "charger_settings source:A"},
}


@pytest.fixture
def larger_controller(erin, now):
    """Return a maker of the next revision of a job, with a larger controller."""

    def make(job):
        design = design_create(job=job, actor=erin, at=now, copy_of=job.designs.get(number=1))
        unit = design.controllers.get(label="A")
        unit.part = Part.objects.get(name="Tracking controller, 28 A")
        unit.save()
        design_resize(design, actor=erin, at=now)
        design.refresh_from_db()
        return design

    return make


@pytest.mark.parametrize("version", versions())
def test_a_job_is_planned_anew_from_its_own_list(opened, larger_controller, erin, now, version):
    checklist = opened(version)
    design = larger_controller(checklist.job)
    plan_change(checklist=checklist, design=design, reason="the larger controller fits", actor=erin, at=now)
    after = Checklist.objects.get(pk=checklist.pk)
    assert after.template_version == version
    titles = {(row["code"], row["title"]) for row in templates(version)["steps"]}
    for step in after.steps.all():
        assert any(step.code == code and step.title.startswith(title) for code, title in titles), step
    anew = {
        f"{step.role} {step.subject}".strip()
        for step in work_of(after).install.steps
        if step.since_design == 2
    }
    assert REDONE[version] <= anew
    assert "go" in anew
    assert not any(role.startswith(("seal_over", "battery ", "inverter_cable")) for role in anew)


def test_new_jobs_open_on_the_newest_list():
    assert newest_version() == versions()[-1]
