"""Recording through the plain form: ticks, numbers, photos, undo; the same form twice is one record."""

from __future__ import annotations

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from checklists.models import Photo, StepEvent
from checklists.record.read import work_of
from tests.roles import step_of
from tests.unit.checklists.walk import complete, picture


@pytest.fixture
def send(client_of, bob, checklist):
    """Return a sender of one step's form."""

    def make(role, data=None, subject="", person=None, submission=None, **extra):
        pk = step_of(checklist, role, subject).pk
        body = {"submission": str(submission or uuid.uuid4()), **(data or {}), **extra}
        return client_of(person or bob).post(reverse("checklists:step_record", args=[pk]), body)

    return make


def value(checklist, role, name, subject=""):
    return work_of(checklist).install.value(role, name, subject)


def test_it_works(send, checklist):
    answer = send("rest_volts", {"rest_v": "12.6"})
    assert answer.status_code == 302
    assert value(checklist, "rest_volts", "rest_v") == 12.6
    event = StepEvent.objects.get()
    assert (event.by_name, event.by_role, event.design_number) == ("Bob Test", "technician", 1)


def test_a_tick_is_one_tap(send, checklist):
    send("appliances_tried", {"tick": "tried"})
    assert value(checklist, "appliances_tried", "tried") is True


def test_the_same_form_twice_is_one_record(send):
    submission = uuid.uuid4()
    for _ in range(2):
        assert send("appliances_tried", {"tick": "tried"}, submission=submission).status_code == 302
    assert StepEvent.objects.count() == 1


def test_the_same_form_with_another_value_replaces_its_own(send, checklist):
    submission = uuid.uuid4()
    send("rest_volts", {"rest_v": "12.6"}, submission=submission)
    send("rest_volts", {"rest_v": "12.7"}, submission=submission)
    assert value(checklist, "rest_volts", "rest_v") == 12.7
    assert StepEvent.objects.count() == 2


def test_a_value_the_page_did_not_show_stays_beside_the_new_one(send, checklist, lena):
    send("rest_volts", {"rest_v": "12.6"})
    send("rest_volts", {"rest_v": "12.7"}, person=lena)
    work = work_of(checklist)
    assert work.install.mark(work.install.step("rest_volts"))["rest_v"].mark == "conflict"
    seen = " ".join(str(pk) for pk in StepEvent.objects.values_list("pk", flat=True))
    send("rest_volts", {"rest_v": "12.65", "seen_rest_v": seen})
    assert value(checklist, "rest_volts", "rest_v") == 12.65


def test_feet_become_metres(send, checklist, lena, now):
    complete(checklist, lena, now, only="ABCDE")
    send("wire_length", {"run_len_m": "34"}, subject="circuit:C2")
    assert value(checklist, "wire_length", "run_len_m", "circuit:C2") == pytest.approx(34 * 0.3048)


def test_an_imperial_reading_of_torque_and_warmth(send, checklist, lena, now):
    complete(checklist, lena, now, only="ABC")
    send("sealant", {"temp_air_c": "64.4"})
    assert value(checklist, "sealant", "temp_air_c") == pytest.approx(18.0)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("900", "Rest voltage must be 0 V to 70 V; you typed 900 V."),
        ("-1", "Rest voltage must be 0 V to 70 V; you typed -1 V."),
        ("abc", "Rest voltage: “abc” cannot be read as a voltage"),
        ("nan", "cannot be read"),
        ("1e9", "cannot be read"),
    ],
)
def test_what_cannot_be_is_refused_and_kept(send, typed, words):
    answer = send("rest_volts", {"rest_v": typed})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert f'value="{typed}"' in text
    assert not StepEvent.objects.exists()


def test_one_bad_value_keeps_the_others_typed(send):
    answer = send("rest_volts", {"rest_v": "900", "soc_percent": "80"})
    assert 'value="80"' in answer.content.decode()
    assert not StepEvent.objects.exists()


def test_half_a_foot_is_no_count(send, checklist, lena, now):
    complete(checklist, lena, now, only="ABC")
    answer = send("feet", {"feet": "4.5"}, subject="panel:1")
    assert answer.status_code == 422
    assert "a whole number is needed" in answer.content.decode()


def test_a_failed_number_asks_why_it_is_read_again(send, checklist, lena, now):
    complete(checklist, lena, now, only="A")
    send("proven_dead", {"bus_v": "12.4", "sure": "1"})
    seen = str(StepEvent.objects.get(field="bus_v").pk)
    answer = send("proven_dead", {"bus_v": "0.2", "seen_bus_v": seen})
    assert answer.status_code == 422
    assert "the last number failed and stays on record" in answer.content.decode()
    send("proven_dead", {"bus_v": "0.2", "seen_bus_v": seen, "cause_bus_v": "Work redone"})
    assert value(checklist, "proven_dead", "bus_v") == 0.2
    assert StepEvent.objects.get(field="bus_v", value=0.2).cause == "Work redone"
    assert StepEvent.objects.filter(field="bus_v").count() == 2


def test_undo_is_one_tap_and_deletes_nothing(send, checklist):
    send("appliances_tried", {"tick": "tried"})
    event = StepEvent.objects.get()
    send("appliances_tried", {"undoes": str(event.pk)})
    assert value(checklist, "appliances_tried", "tried") is None
    assert StepEvent.objects.count() == 2


def test_a_photo_goes_with_its_step(send, checklist):
    upload = SimpleUploadedFile("front.jpg", picture().read(), "image/jpeg")
    assert send("damage_found", {"photo": upload}).status_code == 302
    photo = Photo.objects.get()
    work = work_of(checklist)
    assert work.install.state(work.install.step("damage_found"))["photo"].photos == (photo.pk,)


def test_a_file_that_is_no_photo_is_refused_and_nothing_is_kept(send):
    upload = SimpleUploadedFile("x.jpg", b"<script>", "image/jpeg")
    answer = send("damage_found", {"photo": upload, "damage": "scratch"})
    assert answer.status_code == 422
    assert "no photo we can read" in answer.content.decode()
    assert 'value="scratch"' in answer.content.decode()
    assert not Photo.objects.exists()
    assert not StepEvent.objects.exists()


def test_save_and_next_goes_to_the_next_open_step(send, checklist):
    answer = send("appliances_tried", {"tick": "tried", "next": "1"})
    assert answer.url == reverse("checklists:step_detail", args=[step_of(checklist, "rest_volts").pk])


def test_save_and_next_stays_while_something_is_missing(send, checklist):
    answer = send("arrival_state", {"fuel": "half", "next": "1"})
    assert answer.url == reverse("checklists:step_detail", args=[step_of(checklist, "arrival_state").pk])


def test_a_deviation_is_told_at_once(client_of, bob, checklist, lena, now):
    complete(checklist, lena, now, only="ABCDE")
    step = step_of(checklist, "wire_length", "circuit:C2")
    body = {"submission": str(uuid.uuid4()), "run_len_m": "50"}
    page = client_of(bob).post(reverse("checklists:step_record", args=[step.pk]), body, follow=True)
    text = page.content.decode()
    assert "limit 3%" in text
    assert "Ways to fix it" in text
    assert text.count("combiner–controller: voltage drop went from pass") == 1  # once: by the step itself


def test_a_locked_phase_refuses_with_the_reason(send):
    answer = send("frames_bonded", {"resistance_ohm": "0.05"})
    assert answer.status_code == 422
    assert "D9 Frames bonded is locked: C7 Layout accepted has not passed" in answer.content.decode()


def test_a_note_is_kept(send, checklist):
    send("damage_found", {"note": "old dent by the door"})
    assert StepEvent.objects.get().verb == "note"


def test_a_form_without_its_id_is_refused(client_of, bob, checklist):
    pk = step_of(checklist, "appliances_tried").pk
    answer = client_of(bob).post(reverse("checklists:step_record", args=[pk]), {"tick": "tried"})
    assert answer.status_code == 422


@pytest.mark.parametrize("seen", ["not a uuid", "' OR 1=1", ""])
def test_a_page_somebody_edited_does_no_harm(send, checklist, seen):
    send("rest_volts", {"rest_v": "12.6", "seen_rest_v": seen})
    assert value(checklist, "rest_volts", "rest_v") == 12.6
    assert send("rest_volts", {"undoes": "nonsense"}).status_code == 422


def test_reading_it_by_get_is_not_recording(client_of, bob, checklist):
    pk = step_of(checklist, "appliances_tried").pk
    assert client_of(bob).get(reverse("checklists:step_record", args=[pk])).status_code == 405


def test_the_bookkeeper_records_nothing(send, ken):
    assert send("appliances_tried", {"tick": "tried"}, person=ken).status_code == 403


def test_it_hides_the_step_from_a_stranger(send, charlie):
    assert send("appliances_tried", {"tick": "tried"}, person=charlie).status_code == 404
    assert not StepEvent.objects.exists()
