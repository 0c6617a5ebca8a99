"""The owner's override of a hold."""

from __future__ import annotations

import pytest
from django.urls import reverse

from checklists.models import HoldOverride
from tests.roles import step_of
from tests.unit.checklists.walk import complete

REASON = "Ceiling is new, photos taken last week"


@pytest.fixture
def url(checklist, lena, now):
    complete(checklist, lena, now, only="A", skip=("ceiling_stains",))
    return reverse("checklists:hold_override", args=[step_of(checklist, "custody").pk])


def test_it_works(client_of, alice, checklist, url):
    assert "Ceiling: 1 photo missing" in client_of(alice).get(url).content.decode()
    answer = client_of(alice).post(url, {"reason": REASON})
    assert answer.status_code == 302
    row = HoldOverride.objects.get()
    assert (row.by_name, row.reason) == ("Alice Test", REASON)
    text = client_of(alice).get(answer.url).content.decode()
    assert "Overridden by the owner" in text


def test_a_short_reason_is_refused_and_kept(client_of, alice, url):
    answer = client_of(alice).post(url, {"reason": "fine with me"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "at least 15 characters" in text
    assert "fine with me" in text
    assert not HoldOverride.objects.exists()


@pytest.mark.parametrize("role", ["dead_proof", "polarity_proven", "licensed_person"])
def test_what_no_one_may_override_offers_no_form(client_of, alice, checklist, role):
    url = reverse("checklists:hold_override", args=[step_of(checklist, role).pk])
    text = client_of(alice).get(url).content.decode()
    assert "Nobody can override this" in text
    assert 'name="reason"' not in text
    assert client_of(alice).post(url, {"reason": REASON}).status_code == 422
    assert not HoldOverride.objects.exists()


def test_only_the_owner_may(client_of, lena, bob, erin, url):
    for person in (lena, bob, erin):
        assert client_of(person).post(url, {"reason": REASON}).status_code == 403


def test_it_hides_the_hold_from_a_stranger(client_of, charlie, url):
    assert client_of(charlie).post(url, {"reason": REASON}).status_code == 404
