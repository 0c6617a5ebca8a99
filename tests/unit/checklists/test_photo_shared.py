"""One picture that stands at several fields: recorded, taken back at one of them, printed once."""

from __future__ import annotations

import io
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template.loader import render_to_string
from PIL import Image

from checklists.models import Checklist
from checklists.photos.photos import photo_keep, photo_read
from checklists.record.events import RecordRefused, events_record
from checklists.record.read import work_of
from checklists.rules.entries import Entry
from checklists.rules.reducer import UNDO
from checklists.sheet import record as sheet_record

pytestmark = pytest.mark.django_db


@pytest.fixture
def places(checklist):
    """Return two photo fields of different steps: (step, name of the field, its label)."""
    found = [
        (step, spec["name"], spec["label"])
        for step in checklist.steps.filter(is_in_scope=True)
        for spec in step.fields
        if spec["kind"] == "photo"
    ]
    first = found[0]
    return first, next(place for place in found if place[0].pk != first[0].pk)


@pytest.fixture
def photo(checklist, bob, now):
    """Return a picture of the job."""
    out = io.BytesIO()
    Image.new("RGB", (80, 60), "teal").save(out, "JPEG")
    upload = SimpleUploadedFile("one.jpg", out.getvalue(), "image/jpeg")
    return photo_keep(checklist=checklist, picture=photo_read(upload), actor=bob, at=now)


def shown(step, name, photo):
    return Entry(id=uuid.uuid4(), step=step.pk, field=name, value=None, photo=photo.pk)


def standing(checklist, step, name):
    work = work_of(Checklist.objects.get(pk=checklist.pk))
    return work.install.states[step.pk][name].photos if step.pk in work.install.states else ()


def test_it_stands_at_each_field_and_goes_from_one_alone(checklist, places, photo, bob, now):
    entries = [shown(step, name, photo) for step, name, _ in places]
    events_record(checklist=checklist, entries=entries, actor=bob, at=now)
    assert [standing(checklist, step, name) for step, name, _ in places] == [(photo.pk,)] * 2
    back = Entry(id=uuid.uuid4(), step=places[0][0].pk, verb=UNDO, field="", value=None, undoes=entries[0].id)
    events_record(checklist=checklist, entries=[back], actor=bob, at=now)
    assert [standing(checklist, step, name) for step, name, _ in places] == [(), (photo.pk,)]


def test_it_is_printed_once_with_every_caption(checklist, places, photo, bob, now):
    entries = [shown(step, name, photo) for step, name, _ in places]
    entries.append(shown(places[0][0], places[0][1], photo))  # chosen twice at one field: still said once
    events_record(checklist=checklist, entries=entries, actor=bob, at=now)
    rows = sheet_record.photos(work_of(checklist), "UTC")
    captions = [f"{step.code} {step.title}: {label}" for step, _, label in places]
    assert [row["id"] for row in rows] == [str(photo.pk)]
    assert [rows[0]["caption"], *rows[0]["also"]] == captions
    html = render_to_string("checklists/sheet/_photos.html", {"content": {"photos": rows}})
    assert html.count("<figure>") == 1
    assert all(step.title in html for step, _, _ in places)


def test_a_picture_of_another_job_is_refused(checklist, places, photo, bob, now):
    photo.pk = uuid.uuid4()  # no picture of this job
    with pytest.raises(RecordRefused, match="has not arrived here yet"):
        events_record(checklist=checklist, entries=[shown(*places[0][:2], photo)], actor=bob, at=now)
