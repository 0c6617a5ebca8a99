"""Putting the devices that pass in place of those that do not, by one click on the page of a revision."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.design.revision import design_freeze, design_resize
from jobs.engine.stored import latest_run, result_of
from jobs.shop.actor import ByName
from sizing import Verdict

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job, now):
    """Return the reference design with a 10 kA device on the main of its lithium bank."""
    design = golden_job.designs.get()
    design.circuits.filter(label="C4").update(fuse_family="terminal fuse", fuse_interrupting_a=10_000.0)
    design_resize(design, actor=ByName("test"), at=now)
    return design


def url(design) -> str:
    return reverse("jobs:design_devices", args=[design.pk])


def test_the_page_offers_it_and_one_click_does_it(design, erin, client_of):
    client = client_of(erin)
    page = client.get(reverse("jobs:design_detail", args=[design.pk])).content.decode()
    assert "Use these instead" in page
    assert "class T" in page
    design.refresh_from_db()
    answer = client.post(url(design), {"circuit": ["C4"], "seen": str(design.edit_count)}, follow=True)
    assert "Replaced and sized: C4." in answer.content.decode()
    check = result_of(latest_run(design)).check("circuit:C4/interrupting")
    assert check.verdict is Verdict.PASS


def test_an_old_page_changes_nothing(design, erin, client_of):
    answer = client_of(erin).post(url(design), {"circuit": ["C4"], "seen": "9999"}, follow=True)
    assert "Somebody changed this revision" in answer.content.decode()
    assert design.circuits.get(label="C4").fuse_family == "terminal fuse"


def test_a_circuit_whose_device_passes_is_left_alone(design, erin, client_of):
    answer = client_of(erin).post(url(design), {"circuit": ["C2"]}, follow=True)
    assert "nothing to replace" in answer.content.decode()


def test_a_frozen_one_stays(design, erin, client_of, now):
    design_freeze(design=design, actor=ByName("customer"), at=now)
    client = client_of(erin)
    page = client.get(reverse("jobs:design_detail", args=[design.pk])).content.decode()
    assert "Use these instead" not in page
    answer = client.post(url(design), {"circuit": ["C4"]}, follow=True)
    assert "is frozen" in answer.content.decode()


def test_looking_changes_nothing(design, erin, client_of):
    assert client_of(erin).get(url(design)).status_code == 405


def test_a_technician_may_not(design, bob, client_of):
    assert client_of(bob).post(url(design), {"circuit": ["C4"]}).status_code == 403


def test_the_stranger_finds_nothing(design, charlie, client_of):
    assert client_of(charlie).post(url(design), {"circuit": ["C4"]}).status_code == 404
    assert design.circuits.get(label="C4").fuse_family == "terminal fuse"
