"""The page that puts a later revision to work, and what the install shows afterwards."""

from __future__ import annotations

from django.urls import reverse

from jobs.design.revision import design_create, design_resize
from jobs.models import DesignCircuit
from tests.roles import step_of


def test_it_works(checklist, record, client_of, erin, bob, charlie, now):
    record(checklist, "wire_length", "run_len_m", 7.2, "circuit:C2")
    record(checklist, "appliances_tried", "tried", True)
    install = reverse("checklists:checklist_detail", args=[checklist.job_id])
    url = reverse("checklists:plan_change", args=[checklist.job_id])
    office, roof = client_of(erin), client_of(bob)
    assert "later than the plan" not in office.get(install).content.decode()
    design = design_create(job=checklist.job, actor=erin, at=now, copy_of=checklist.design)
    DesignCircuit.objects.filter(design=design, label="C2").update(run_len_m=9.0)
    design_resize(design, actor=erin, at=now)
    assert "later than the plan" in office.get(install).content.decode()
    assert "later than the plan" not in roof.get(install).content.decode()
    page = office.get(url).content.decode()
    assert "recorded already" in page
    assert roof.get(url).status_code == 403
    assert client_of(charlie).get(url).status_code == 404
    assert office.post(url, {"number": "2", "reason": "short"}).status_code == 422
    assert office.post(url, {"number": "9" * 5, "reason": "a longer way round the tank"}).status_code == 404
    answer = office.post(url, {"number": "2", "reason": "a longer way round the tank"})
    assert answer.status_code == 302
    assert "plan changed: look again" in roof.get(install).content.decode()
    step = step_of(checklist, "wire_length", "circuit:C2")
    page = roof.get(reverse("checklists:step_detail", args=[step.pk])).content.decode()
    assert "Done on revision 1" in page
    assert "it no longer counts" in page
    other = step_of(checklist, "appliances_tried")
    page = roof.get(reverse("checklists:step_detail", args=[other.pk])).content.decode()
    assert "done on revision 1" in page
    assert "no longer counts" not in page
