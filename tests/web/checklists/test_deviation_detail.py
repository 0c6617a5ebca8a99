"""A deviation: planned, as built, the ways out, the owner's decision."""

from __future__ import annotations

import pytest
from django.urls import reverse

from checklists.models import Deviation

REASON = "Customer agreed on the phone, see note"


@pytest.fixture
def deviation(checklist, record):
    record(checklist, "wire_length", "run_len_m", 14.0, "circuit:C2")
    return checklist.deviations.get(check_key="circuit:C2/drop")


@pytest.fixture
def url(deviation):
    return reverse("checklists:deviation_detail", args=[deviation.pk])


def test_it_works(client_of, alice, deviation, url):
    text = client_of(alice).get(url).content.decode()
    assert "2.27%" in text
    assert "3.00%" in text
    assert "Ways to fix it" in text
    assert "Use 8 AWG" in text
    assert client_of(alice).post(url, {"reason": REASON}).status_code == 302
    deviation.refresh_from_db()
    assert (deviation.state, deviation.decision) == (Deviation.State.ACCEPTED, REASON)


def test_the_wire_has_a_cost_for_those_who_see_costs(client_of, alice, bob, url):
    # By hand: 14.0 m × 2 × 1.10 = 30.8 m = 101.05 ft, 101.1 in tenths, of 8 AWG at 0.98 a foot = 99.08
    assert "wire $99.08 at cost" in client_of(alice).get(url).content.decode()
    text = client_of(bob).get(url).content.decode()
    assert "at cost" not in text
    assert "$" not in text


def test_a_technician_reads_and_does_not_decide(client_of, bob, url):
    text = client_of(bob).get(url).content.decode()
    assert "The owner decides" in text
    assert 'name="reason"' not in text
    assert client_of(bob).post(url, {"reason": REASON}).status_code == 403


def test_a_short_reason_is_refused(client_of, alice, deviation, url):
    assert client_of(alice).post(url, {"reason": "ok"}).status_code == 422
    deviation.refresh_from_db()
    assert deviation.state == Deviation.State.OPEN


def test_what_may_never_stand_offers_no_form(client_of, alice, checklist, record):
    record(checklist, "protection", "fuse_a", 60.0, "circuit:C2")
    row = checklist.deviations.get(check_key="circuit:C2/ocpd_cable")
    url = reverse("checklists:deviation_detail", args=[row.pk])
    text = client_of(alice).get(url).content.decode()
    assert "Nobody can accept this" in text
    assert client_of(alice).post(url, {"reason": REASON}).status_code == 422


def test_it_needs_few_queries(client_of, alice, url, django_assert_max_num_queries):
    client = client_of(alice)
    with django_assert_max_num_queries(12):
        client.get(url)


def test_it_hides_the_deviation_from_a_stranger(client_of, charlie, url):
    assert client_of(charlie).get(url).status_code == 404
