"""What may go from the photo folders and what may not."""

from __future__ import annotations

import datetime as dt
import os
import uuid
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from checklists.models import JobSheet, Photo, Upload
from checklists.photos.photos import photo_keep, photo_read
from checklists.photos.tidying import photos_tidy
from checklists.photos.uploads import Announced, part_name, upload_append, upload_open
from jobs.models import RoofPhoto
from tests.unit.checklists.walk import picture

DAY = dt.timedelta(days=1)


@pytest.fixture
def root(settings):
    return Path(settings.MEDIA_ROOT)


@pytest.fixture
def begun(checklist, bob, now, root):
    """Return an upload with 100 of 1000 bytes here."""
    announced = Announced(uuid.uuid4(), "a" * 64, "b" * 64, 1000, "image/jpeg")
    upload, _ = upload_open(checklist=checklist, announced=announced, actor=bob, at=now)
    return upload_append(upload=upload, offset=0, data=b"x" * 100, actor=bob, at=now)


def set_age(path, age: dt.timedelta, now: dt.datetime) -> None:
    moment = (now - age).timestamp()
    os.utime(path, (moment, moment))


def written(root: Path, name: str, age: dt.timedelta, now: dt.datetime) -> Path:
    path = root / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"x")
    set_age(path, age, now)
    return path


def test_an_upload_nobody_goes_on_with_goes(begun, root, now):
    part = root / part_name(begun.pk)
    photos_tidy(at=now + 30 * DAY)
    assert part.exists()
    assert photos_tidy(at=now + 31 * DAY).unfinished == 1
    assert not part.exists()
    assert not Upload.objects.exists()


def test_files_without_a_record_go_once_they_are_a_day_old(checklist, root, now):
    old = [written(root, f"photos/2026/11/{uuid.uuid4()}.jpg", 2 * DAY, now) for _ in range(3)]
    old.append(written(root, "uploads/left.part", 2 * DAY, now))
    old.append(written(root, "roofs/2026/11/left.jpg", 2 * DAY, now))
    young = written(root, "photos/2026/11/young.jpg", DAY / 2, now)
    old.append(written(root, "sheets/2026/11/nobodys.pdf", 2 * DAY, now))
    sheet = written(root, "sheets/2026/11/job-sheet.pdf", 90 * DAY, now)
    issued = {"number": 1, "snapshot": {}, "touched_at": now, "issued_at": now}
    JobSheet.objects.create(checklist=checklist, file="sheets/2026/11/job-sheet.pdf", **issued)
    assert photos_tidy(at=now).files == 6
    assert not any(path.exists() for path in old)
    assert young.exists()
    assert sheet.exists()


def test_a_stored_photo_never_goes(checklist, bob, now, root):
    photo = photo_keep(checklist=checklist, picture=photo_read(picture()), actor=bob, at=now)
    for file in (photo.file, photo.small):
        set_age(file.path, 900 * DAY, now)
    assert photos_tidy(at=now + 900 * DAY).files == 0
    assert Photo.objects.get() == photo
    assert Path(photo.file.path).exists()
    assert Path(photo.small.path).exists()


def test_the_photo_under_a_roof_plan_never_goes(checklist, root, now):
    path = written(root, "roofs/2026/11/kept.jpg", 900 * DAY, now)
    survey = checklist.job.survey
    RoofPhoto.objects.create(
        survey=survey,
        file="roofs/2026/11/kept.jpg",
        width_px=9,
        height_px=9,
        added_at=now,
        added_by_name="Bob",
    )
    assert photos_tidy(at=now).files == 0
    assert path.exists()


def test_the_wrong_database_removes_nothing(db, root):
    for number in range(30):
        written(root, f"photos/2026/11/{number}.jpg", 2 * DAY, timezone.now())
    with pytest.raises(CommandError, match="is this the right database"):
        call_command("tidy_photos")
    assert len(list(root.rglob("*.jpg"))) == 30
    call_command("tidy_photos", "--even-if-many", verbosity=0)
    assert not list(root.rglob("*.jpg"))
