"""The page of one step: what is asked, in the shop's units, with what stands and what is expected."""

from __future__ import annotations

import pytest
from django.urls import reverse

from checklists.models import Step


@pytest.fixture
def show(client_of, bob, checklist):
    """Return the page of a step, by code and subject."""

    def get(code, subject="", person=None):
        pk = Step.objects.get(checklist=checklist, code=code, subject=subject).pk
        return client_of(person or bob).get(reverse("checklists:step_detail", args=[pk]))

    return get


def test_it_works(show):
    text = show("A1").content.decode()
    assert "Read the VIN or maker&#x27;s serial at the vehicle" in text
    assert "Expected <strong>003456</strong>" in text
    assert 'name="submission"' in text
    assert "step 1 of 154" in text


def test_lengths_are_in_the_shops_units(show, shop):
    assert "Expected <strong>23.6 ft</strong>" in show("F1", "circuit:C2").content.decode()
    shop.units = "metric"
    shop.save()
    assert "Expected <strong>7.2 m</strong>" in show("F1", "circuit:C2").content.decode()


def test_torque_shows_its_band(show):
    assert "Accepted <strong>85 in-lb to 95 in-lb</strong>" in show("G6", "joint:battery-1").content.decode()


def test_a_foot_is_one_row_and_one_tap(show):
    text = show("D3", "panel:1").content.decode()
    assert text.count("Foot ") >= 4
    assert "All 4" not in text  # locked: nothing to tap yet
    assert "72 holes made" in text


def test_labels_to_engrave_are_listed(show):
    """The array switch says the cold volts, 2 × 24.3 × (1 + 0.0028 × 55), and 1.25 × 2 × 10.2 A."""
    text = show("M1").content.decode()
    assert "C2 combiner–controller · 10 AWG" in text
    assert "PV disconnect: max 56.1 V, max 25.5 A" in text


def test_a_locked_phase_says_why_and_takes_nothing(show):
    text = show("D3", "panel:1").content.decode()
    assert "Phase D is locked:</strong> C7 Layout accepted has not passed" in text
    assert 'name="tick"' not in text


def test_safety_lines_stand_on_every_page_of_a_roof_phase(show):
    for code in ("C1", "C5", "D9"):
        assert "Nobody alone on a roof above 2 m" in show(code).content.decode()


def test_the_string_page_shows_expected_and_hint(show, checklist, record):
    record(checklist, "K2", "g_wm2", 640.0)
    record(checklist, "K2", "t_cell_c", 43.0)
    record(checklist, "K1", "sun_meter", "calibrated")
    record(checklist, "K3", "voc_v", 37.9, "string:2")
    text = show("K3", "string:2").content.decode()
    assert "Expected <strong>45.3 V</strong>" in text
    assert "accepted <strong>43 V to 47.5 V</strong>" in text
    assert "one third of one panel" in text


def test_the_go_lists_what_is_open(show):
    text = show("J3").content.decode()
    assert "Open items" in text
    assert "this hold has not passed" in text


def test_a_page_of_every_kind_of_step_renders(client_of, bob, checklist):
    """One of each code: a browser opens every step of this job while it walks through it."""
    client = client_of(bob)
    one_of = dict(checklist.steps.values_list("code", "pk"))
    assert len(one_of) > 80
    for pk in one_of.values():
        assert client.get(reverse("checklists:step_detail", args=[pk])).status_code == 200


def test_it_needs_few_queries(client_of, bob, django_assert_max_num_queries, checklist, record):
    record(checklist, "K2", "g_wm2", 640.0)
    record(checklist, "K2", "t_cell_c", 43.0)
    record(checklist, "K3", "voc_v", 37.9, "string:2")
    client = client_of(bob)
    for code in ("K5", "I6", "J2", "J3", "A1"):
        url = reverse("checklists:step_detail", args=[checklist.steps.get(code=code).pk])
        with django_assert_max_num_queries(12):
            client.get(url)


def test_the_bookkeeper_reads_and_records_nothing(show, ken):
    text = show("A4", person=ken).content.decode()
    assert 'name="tick"' not in text


def test_it_hides_the_step_from_a_stranger(show, charlie):
    assert show("A1", person=charlie).status_code == 404
