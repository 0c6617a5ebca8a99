"""Sizing a revision anew by hand."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.design.revision import design_freeze
from jobs.models import SizingRun
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db


def url(design) -> str:
    """Return where a revision is sized anew."""
    return reverse("jobs:design_size", args=[design.pk])


def test_it_works(golden_job, erin, client_of):
    design = golden_job.designs.get()
    text = client_of(erin).post(url(design), follow=True).content.decode()
    assert "Sized with the newest survey and catalog." in text
    assert SizingRun.objects.filter(design=design, by_name="Erin Test").count() == 1


def test_looking_does_not_size(golden_job, erin, client_of):
    assert client_of(erin).get(url(golden_job.designs.get())).status_code == 405


def test_what_is_missing_is_said(golden_job, erin, client_of):
    design = golden_job.designs.get()
    design.panels.first().part.panel_sheet.delete()
    text = client_of(erin).post(url(design), follow=True).content.decode()
    assert "has no data sheet in the catalog" in text


def test_a_frozen_one_stays(golden_job, erin, client_of, now):
    design = golden_job.designs.get()
    design_freeze(design=design, actor=ByName("customer"), at=now)
    text = client_of(erin).post(url(design), follow=True).content.decode()
    assert "its numbers stay as they were accepted" in text
    assert SizingRun.objects.filter(design=design).count() == 1


def test_a_technician_may_not(golden_job, bob, client_of):
    assert client_of(bob).post(url(golden_job.designs.get())).status_code == 403


def test_the_stranger_finds_nothing(golden_job, charlie, client_of):
    assert client_of(charlie).post(url(golden_job.designs.get())).status_code == 404
