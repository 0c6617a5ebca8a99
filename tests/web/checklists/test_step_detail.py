"""The page of one step: what is asked, in the shop's units, with what stands and what is expected."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.roles import step_of


@pytest.fixture
def show(client_of, bob, checklist):
    """Return the page of a step, by role and subject."""

    def get(role, subject="", person=None):
        pk = step_of(checklist, role, subject).pk
        return client_of(person or bob).get(reverse("checklists:step_detail", args=[pk]))

    return get


def test_it_works(show):
    text = show("vehicle_identity").content.decode()
    assert "Read the VIN or maker&#x27;s serial at the vehicle" in text
    assert "Expected <strong>003456</strong>" in text
    assert 'name="submission"' in text
    assert "step 1 of 154" in text


def test_lengths_are_in_the_shops_units(show, shop):
    assert "Expected <strong>23.6 ft</strong>" in show("wire_length", "circuit:C2").content.decode()
    shop.units = "metric"
    shop.save()
    assert "Expected <strong>7.2 m</strong>" in show("wire_length", "circuit:C2").content.decode()


def test_torque_shows_its_band(show):
    assert (
        "Accepted <strong>85 in-lb to 95 in-lb</strong>" in show("torque", "joint:battery-1").content.decode()
    )


def test_a_foot_is_one_row_and_one_tap(show):
    text = show("seal_under", "panel:1").content.decode()
    assert text.count("Foot ") >= 4
    assert "All 4" not in text  # locked: nothing to tap yet
    assert "72 holes made" in text


def test_labels_to_engrave_are_listed(show):
    """The array switch says the cold volts, 2 × 24.3 × (1 + 0.0028 × 55), and 1.25 × 2 × 10.2 A."""
    text = show("labels").content.decode()
    assert "C2 combiner–controller · 10 AWG" in text
    assert "PV disconnect: max 56.1 V, max 25.5 A" in text


def test_a_locked_phase_says_why_and_takes_nothing(show):
    text = show("seal_under", "panel:1").content.decode()
    assert "This step is locked:</strong> C7 Layout accepted has not passed" in text
    assert 'name="tick"' not in text


def test_safety_lines_stand_on_every_page_of_a_roof_phase(show):
    for role in ("roof_material", "clear_below", "frames_bonded"):
        assert "Nobody alone on a roof above 2 m" in show(role).content.decode()


def test_the_string_page_shows_expected_and_hint(show, checklist, record):
    record(checklist, "sun", "g_wm2", 640.0)
    record(checklist, "sun", "t_cell_c", 43.0)
    record(checklist, "instruments", "sun_meter", "calibrated")
    record(checklist, "string_voc", "voc_v", 37.9, "string:2")
    text = show("string_voc", "string:2").content.decode()
    assert "Expected <strong>45.3 V</strong>" in text
    assert "accepted <strong>43 V to 47.5 V</strong>" in text
    assert "one third of one panel" in text


def test_the_go_lists_what_is_open(show):
    text = show("open_items").content.decode()
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
    record(checklist, "sun", "g_wm2", 640.0)
    record(checklist, "sun", "t_cell_c", 43.0)
    record(checklist, "string_voc", "voc_v", 37.9, "string:2")
    client = client_of(bob)
    for role in ("readings_compared", "charge_sum", "schedule_read", "open_items", "vehicle_identity"):
        url = reverse("checklists:step_detail", args=[step_of(checklist, role).pk])
        with django_assert_max_num_queries(12):
            client.get(url)


def test_the_bookkeeper_reads_and_records_nothing(show, ken):
    text = show("appliances_tried", person=ken).content.decode()
    assert 'name="tick"' not in text


def test_it_hides_the_step_from_a_stranger(show, charlie):
    assert show("vehicle_identity", person=charlie).status_code == 404
