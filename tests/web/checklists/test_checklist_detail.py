"""The install overview: phases, locks, holds, what to do next."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.models import ChangeOrder, Part
from tests.unit.checklists.walk import complete


@pytest.fixture
def url(checklist):
    return reverse("checklists:checklist_detail", args=[checklist.job_id])


def test_it_works(client_of, bob, url):
    page = client_of(bob).get(url)
    assert page.status_code == 200
    text = page.content.decode()
    assert "A1 The vehicle is the one on the job" in text
    assert "0 of 154 steps done" in text
    assert "Locked: A10 Custody sheet signed has not passed." in text
    assert "Not in scope of this job" in text


def test_the_first_open_phase_is_unfolded(client_of, bob, lena, checklist, url, now):
    complete(checklist, lena, now, only="AB")
    text = client_of(bob).get(url).content.decode()
    assert '<details class="phase" open id="phase-C">' in text
    assert '<details class="phase phase-done" id="phase-A">' in text


def test_it_needs_few_queries_whatever_is_recorded(
    client_of, bob, lena, checklist, url, now, django_assert_max_num_queries
):
    client = client_of(bob)
    with django_assert_max_num_queries(12) as few:
        client.get(url)
    complete(checklist, lena, now)
    with django_assert_max_num_queries(12) as many:
        client.get(url)
    assert len(few) == len(many)


def test_deviations_and_change_orders_stand_on_top(client_of, bob, checklist, record, url, now):
    record(checklist, "wire_length", "run_len_m", 14.0, "circuit:C2")
    ChangeOrder.objects.create(
        job=checklist.job, number=3, found_by_name="Bob", found_at=now, cause="x", locked_phases=["C", "D"]
    )
    text = client_of(bob).get(url).content.decode()
    assert "Not as planned" in text
    assert "<strong>Change order 3</strong> waits for the customer" in text
    assert "phases C, D" in text


def test_wet_wood_suggests_a_change_order(client_of, bob, checklist, record, url):
    record(checklist, "arrival_moisture", "moisture_percent", 27.0)
    assert "20% or more is wet wood" in client_of(bob).get(url).content.decode()


def test_a_technician_sees_no_money(client_of, bob, lena, checklist, url, now):
    complete(checklist, lena, now, only="ABC")
    client = client_of(bob)
    first = checklist.steps.first().pk
    pages = [url] + [reverse("checklists:step_detail", args=[first + n]) for n in (0, 40, 80)]
    costs = {f"{part.cost:,.2f}" for part in Part.objects.filter(cost__gte=10)}
    for page in pages:
        text = client.get(page).content.decode()
        assert "$" not in text
        assert not [cost for cost in costs if cost in text]


def test_before_the_quote_is_accepted_it_says_so(client_of, bob, golden_job):
    page = client_of(bob).get(reverse("checklists:checklist_detail", args=[golden_job.pk]))
    assert page.status_code == 200
    assert "opens by itself when the customer accepts the quote" in page.content.decode()


def test_it_hides_the_job_from_a_stranger(client_of, charlie, url):
    assert client_of(charlie).get(url).status_code == 404


def test_a_visitor_is_asked_to_sign_in(client, url):
    assert client.get(url).status_code == 302


def test_the_roof_plan_shows_the_count(client_of, bob, charlie, checklist):
    url = reverse("checklists:checklist_plan", args=[checklist.job_id])
    text = client_of(bob).get(url).content.decode()
    assert "<svg" in text
    assert "72 holes made" in text
    assert client_of(charlie).get(url).status_code == 404
