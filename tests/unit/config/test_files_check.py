"""Every stored file is compared with its record: gone, empty and changed ones are named."""

from __future__ import annotations

import hashlib

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command

from checklists.models import Checklist, JobSheet
from config.keep.files_check import hashes_note
from jobs.models import RoofPhoto

pytestmark = pytest.mark.django_db


@pytest.fixture
def stored(accepted_quote, now, settings, tmp_path):
    """Return the names of a sheet's and a photo's file, both well."""
    settings.MEDIA_ROOT = tmp_path
    paper = b"%PDF-1.7 paper"
    sheet = default_storage.save("sheets/2026/11/a.pdf", ContentFile(paper))
    JobSheet.objects.create(
        checklist=Checklist.objects.get(job=accepted_quote.job), number=1, snapshot={}, state="ready",
        file=sheet, file_sha256=hashlib.sha256(paper).hexdigest(), touched_at=now, issued_at=now,
    )  # fmt: skip
    photo = default_storage.save("roofs/2026/11/a.jpg", ContentFile(b"\xff\xd8 roof"))
    RoofPhoto.objects.create(
        survey=accepted_quote.job.survey, file=photo, width_px=4, height_px=3, added_at=now
    )
    return tmp_path / sheet, tmp_path / photo


def test_all_is_well(stored, capsys):
    call_command("check_files")
    assert "as it was written" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda sheet, photo: sheet.write_bytes(b"%PDF-1.7 papes"), "a.pdf is not what was written"),
        (lambda sheet, photo: photo.write_bytes(b"\xff\xd8 rooF"), "a.jpg is not what was written"),
        (lambda sheet, photo: sheet.unlink(), "a.pdf is gone"),
        (lambda sheet, photo: photo.write_bytes(b""), "a.jpg is empty"),
    ],
)
def test_what_is_wrong_is_named(stored, capsys, spoil, words):
    assert hashes_note() == 1  # the photo's, stored before hashes were noted
    assert hashes_note() == 0
    spoil(*stored)
    with pytest.raises(CommandError, match="1 files are wrong"):
        call_command("check_files")
    assert words in capsys.readouterr().out
