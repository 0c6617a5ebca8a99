"""The list of a job's revisions."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.design.revision import design_size
from jobs.models import Design, SizingRun
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db


def test_it_works(golden_job, erin, client_of, now):
    run = design_size(design=golden_job.designs.get(), actor=ByName("test"), at=now)
    page = client_of(erin).get(reverse("jobs:design_list", args=[golden_job.pk]))
    text = page.content.decode()
    assert "Revision 1" in text
    assert "Hearth" in text
    assert f"verdict-{run.verdict.replace('_', '-')}" in text
    assert "New revision" in text


def test_a_revision_that_was_never_sized_says_so(golden_job, erin, client_of):
    text = client_of(erin).get(reverse("jobs:design_list", args=[golden_job.pk])).content.decode()
    assert "not sized yet" in text


def test_no_design_yet(golden_job, erin, client_of):
    golden_job.designs.all().delete()
    text = client_of(erin).get(reverse("jobs:design_list", args=[golden_job.pk])).content.decode()
    assert "There is no design for this job yet" in text


def test_a_technician_reads_and_does_not_create(golden_job, bob, client_of):
    text = client_of(bob).get(reverse("jobs:design_list", args=[golden_job.pk])).content.decode()
    assert "Revision 1" in text
    assert "New revision" not in text


@pytest.mark.parametrize("revisions", [10, 1000])
def test_as_many_queries_for_many_as_for_few(
    golden_job, erin, client_of, now, django_assert_num_queries, revisions
):
    numbers = range(2, revisions + 1)
    made = Design.objects.bulk_create(Design(job=golden_job, number=number) for number in numbers)
    run = {"inputs": {}, "result": {}, "verdict": "pass", "engine_version": "1", "at": now}
    SizingRun.objects.bulk_create(SizingRun(design=one, **run) for one in made)
    client = client_of(erin)
    with django_assert_num_queries(5):
        page = client.get(reverse("jobs:design_list", args=[golden_job.pk]))
    assert page.status_code == 200


def test_the_stranger_finds_nothing(golden_job, charlie, client_of):
    assert client_of(charlie).get(reverse("jobs:design_list", args=[golden_job.pk])).status_code == 404
