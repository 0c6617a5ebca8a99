"""Numbers of an older engine: sized anew when asked, with a list of what changed; frozen ones stay."""

from __future__ import annotations

import pytest
from django.urls import reverse

import sizing
from jobs.design.revision import design_freeze, design_size
from jobs.models import LogEntry, SizingRun
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job, alice, now):
    """Return a draft that engine 1 answered: another verdict, another value, one check not asked."""
    design = golden_job.designs.get()
    run = design_size(design=design, actor=alice, at=now)
    checks = run.result["checks"]
    turned, moved = checks[0], next(one for one in checks[1:] if one["value"])
    turned["verdict"] = "block" if turned["verdict"] != "block" else "pass"
    moved["value"] *= 1.25
    gone = checks.pop()
    run.engine_version = "1"
    run.save()
    design.said = {turned["key"], moved["key"], gone["key"]}
    return design


def url(name, design) -> str:
    """Return a path of the design."""
    return reverse(f"jobs:{name}", args=[design.pk])


def test_the_list_names_what_changed_and_nothing_else(design, erin, client_of):
    client = client_of(erin)
    assert "Size it with the newer engine" in client.get(url("design_detail", design)).content.decode()
    page = client.post(url("design_renewal", design), follow=True)
    found = page.context["changes"]
    assert {change.newest["key"] for change in found} == design.said
    assert [change.turned for change in found] == [True, True, False]
    assert "not asked" in page.content.decode()
    assert design.runs.filter(engine_version="1").count() == 1  # the older answer stays stored
    assert design.runs.first().engine_version == sizing.ENGINE_VERSION
    entry = LogEntry.objects.get(verb="sized by a newer engine")
    assert (entry.actor_name, "3 changes" in entry.detail) == ("Erin Test", True)


def test_a_second_click_sizes_once(design, erin, alice, client_of):
    client_of(erin).post(url("design_renewal", design))
    page = client_of(alice).post(url("design_renewal", design), follow=True)
    assert "sized this revision already" in page.content.decode()
    assert SizingRun.objects.filter(design=design).count() == 2


def test_a_frozen_one_is_never_rewritten(design, erin, client_of, now):
    design_freeze(design=design, actor=ByName("customer"), at=now)
    client = client_of(erin)
    assert "Size it with the newer engine" not in client.get(url("design_detail", design)).content.decode()
    assert "frozen" in client.post(url("design_renewal", design), follow=True).content.decode()
    assert SizingRun.objects.filter(design=design).count() == 1


def test_where_it_cannot_be_sized_the_older_answer_stays(design, erin, client_of):
    design.panels.first().part.panel_sheet.delete()
    page = client_of(erin).post(url("design_renewal", design), follow=True)
    assert "has no data sheet in the catalog" in page.content.decode()
    design.refresh_from_db()
    assert (design.unsized_reason, design.runs.get().engine_version) == ("", "1")


def test_nothing_to_compare_is_said(golden_job, erin, client_of):
    page = client_of(erin).get(url("design_changed", golden_job.designs.get()))
    assert "nothing to compare" in page.content.decode()


def test_a_technician_looks_and_does_not_size(design, bob, client_of):
    assert client_of(bob).post(url("design_renewal", design)).status_code == 403
    assert client_of(bob).get(url("design_changed", design)).status_code == 200


def test_the_stranger_finds_nothing(design, charlie, client_of):
    assert client_of(charlie).post(url("design_renewal", design)).status_code == 404
    assert client_of(charlie).get(url("design_changed", design)).status_code == 404
