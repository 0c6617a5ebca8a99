"""The demo fixture loads beside other records and belongs to one shop."""

import pytest
from django.core.management import call_command

from config.demo.shop import shade_the_roofs
from jobs.engine import years
from jobs.models import Job, Part, ShadeRun

pytestmark = pytest.mark.django_db


def test_the_golden_job_is_complete(golden_job, shop):
    assert golden_job.shop == shop
    assert golden_job.survey.obstacles.count() == 7
    assert golden_job.designs.get().panels.count() == 4


def test_nothing_of_it_is_visible_to_a_stranger(golden_job, alice, charlie):
    assert Job.objects.visible_to(alice).filter(pk=golden_job.pk).exists()
    assert not Job.objects.visible_to(charlie).exists()
    assert not Part.objects.visible_to(charlie).exists()


def test_every_roof_of_the_demo_is_shaded_once(db, monkeypatch):
    monkeypatch.setattr(years, "year_answer", lambda inputs, tell: {"year": {}})
    call_command("loaddata", "demo_shop", verbosity=0)
    assert shade_the_roofs() == 5
    assert ShadeRun.objects.filter(state="done").count() == 5
    assert shade_the_roofs() == 0
