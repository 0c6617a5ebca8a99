"""Beginning a revision in the browser."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.models import Job

pytestmark = pytest.mark.django_db


def url(job) -> str:
    """Return where a revision is begun."""
    return reverse("jobs:design_create", args=[job.pk])


def test_it_works(golden_job, erin, client_of):
    answer = client_of(erin).post(url(golden_job), follow=True)
    assert golden_job.designs.count() == 2
    text = answer.content.decode()
    assert "Revision 2, Hearth is open." in text
    assert "No panel on a measured roof yet" in text


def test_a_copy(golden_job, erin, client_of):
    first = golden_job.designs.get()
    client_of(erin).post(url(golden_job), {"copy_of": first.pk})
    copy = golden_job.designs.get(number=2)
    assert copy.panels.count() == 4
    assert copy.circuits.count() == first.circuits.count()


def test_a_copy_of_another_jobs_design_is_not_found(golden_job, erin, client_of, django_user_model):
    other = Job.objects.exclude(pk=golden_job.pk).filter(designs__isnull=False).first()
    answer = client_of(erin).post(url(golden_job), {"copy_of": other.designs.first().pk})
    assert answer.status_code == 404


def test_looking_does_not_create(golden_job, erin, client_of):
    assert client_of(erin).get(url(golden_job)).status_code == 405
    assert golden_job.designs.count() == 1


def test_a_closed_job_says_why_not(golden_job, erin, client_of):
    Job.objects.filter(pk=golden_job.pk).update(state=Job.State.CANCELLED)
    text = client_of(erin).post(url(golden_job), follow=True).content.decode()
    assert "This job is closed" in text
    assert golden_job.designs.count() == 1


def test_a_technician_may_not(golden_job, bob, client_of):
    assert client_of(bob).post(url(golden_job)).status_code == 403
    assert golden_job.designs.count() == 1


def test_the_stranger_finds_nothing(golden_job, charlie, client_of):
    assert client_of(charlie).post(url(golden_job)).status_code == 404
    assert golden_job.designs.count() == 1
