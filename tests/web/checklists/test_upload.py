"""Pictures in pieces: where to go on, nothing twice, nothing acknowledged that is not safe.

The shape (Upload-Offset, HEAD, PATCH, 204, 409) is that of the open tus resumable upload protocol 1.0.0, core
part; sizes of pieces and the JSON around it are ours.
"""

from __future__ import annotations

import hashlib
import io
import json
import uuid
from pathlib import Path

import pytest
from django.urls import reverse
from PIL import Image

from checklists.models import Photo, Upload
from checklists.photos.uploads import CHUNK, MOST_TRIES


def noise(size=(700, 500), quality=95) -> bytes:
    """Return a JPEG of a little over one piece."""
    out = io.BytesIO()
    Image.effect_noise(size, 90).convert("RGB").save(out, "JPEG", quality=quality)
    return out.getvalue()


@pytest.fixture(scope="module")
def data():
    found = noise()
    assert CHUNK < len(found) < 2 * CHUNK
    return found


class Tablet:
    """A device that sends pictures by hand, piece by piece."""

    def __init__(self, client, job_pk):
        self.client, self.job_pk = client, job_pk

    def announce(self, data: bytes, **more):
        body = {
            "id": str(uuid.uuid4()),
            "sha256": hashlib.sha256(data).hexdigest(),
            "original_sha256": hashlib.sha256(b"camera" + data).hexdigest(),
            "size": len(data),
            "type": "image/jpeg",
            "device": str(uuid.uuid4()),
        } | more
        self.id = body["id"]
        url = reverse("checklists:upload_create", args=[self.job_pk])
        return self.client.post(url, json.dumps(body), content_type="application/json")

    @property
    def url(self):
        return reverse("checklists:upload", args=[self.id])

    def send(self, piece: bytes, offset, **headers):
        return self.client.patch(
            self.url,
            piece,
            content_type="application/offset+octet-stream",
            headers={"Upload-Offset": str(offset)} | headers,
        )

    def ask(self):
        return self.client.head(self.url)

    def send_all(self, data: bytes, offset: int = 0):
        for start in range(offset, len(data), CHUNK):
            answer = self.send(data[start : start + CHUNK], start)
        return answer


@pytest.fixture
def tablet(client_of, bob, checklist):
    return Tablet(client_of(bob), checklist.job_id)


def parts(settings):
    return list(Path(settings.MEDIA_ROOT).glob("uploads/*"))


def test_it_works(tablet, data, settings, bob):
    opened = tablet.announce(data)
    assert (opened.status_code, opened.json()) == (201, {"offset": 0})
    first = tablet.send(data[:CHUNK], 0)
    assert (first.status_code, first["Upload-Offset"], first.content) == (204, str(CHUNK), b"")
    last = tablet.send(data[CHUNK:], CHUNK)
    photo = Photo.objects.get()
    assert (last.status_code, last.json()) == (200, {"photo": str(photo.pk)})
    assert photo.sent_sha256 == hashlib.sha256(data).hexdigest()
    assert photo.original_sha256 == hashlib.sha256(b"camera" + data).hexdigest()
    assert (photo.width_px, photo.height_px, photo.taken_by_name) == (700, 500, "Bob Test")
    for file, size in ((photo.file, (700, 500)), (photo.small, (640, 457))):
        with Image.open(file.path) as kept:
            assert (kept.format, kept.size) == ("JPEG", size)
    assert parts(settings) == []


def test_where_to_go_on_is_told_before_and_after_each_piece(tablet, data):
    tablet.announce(data)
    assert (tablet.ask()["Upload-Offset"], tablet.ask()["Upload-Length"]) == ("0", str(len(data)))
    tablet.send(data[:1000], 0)
    answer = tablet.ask()
    assert (answer.status_code, answer["Upload-Offset"]) == (200, "1000")
    assert "no-store" in answer["Cache-Control"]
    again = tablet.announce(data, id=tablet.id)
    assert (again.status_code, again.json()) == (200, {"offset": 1000})


def test_a_piece_sent_twice_is_told_where_to_go_on(tablet, data):
    tablet.announce(data)
    tablet.send(data[:1000], 0)
    answer = tablet.send(data[:1000], 0)
    assert (answer.status_code, answer["Upload-Offset"]) == (409, "1000")
    ahead = tablet.send(data[2000:3000], 2000)
    assert (ahead.status_code, ahead["Upload-Offset"]) == (409, "1000")
    assert tablet.send_all(data, 1000).json()["photo"] == str(Photo.objects.get().pk)


def test_the_last_piece_sent_twice_is_the_same_photo(tablet, data):
    tablet.announce(data)
    first = tablet.send_all(data)
    again = tablet.send(data[CHUNK:], CHUNK)
    assert (again.status_code, again.json()) == (200, first.json())
    assert tablet.announce(data, id=tablet.id).json() == first.json()
    assert tablet.ask()["Upload-Offset"] == str(len(data))
    assert Photo.objects.count() == 1


def test_a_picture_that_is_here_is_not_sent_again(tablet, data):
    tablet.announce(data)
    photo = tablet.send_all(data).json()
    answer = tablet.announce(data)
    assert (answer.status_code, answer.json()) == (200, photo)
    assert tablet.send(data[:100], 0).json() == photo


def test_one_picture_on_its_way_twice_is_one_photo(tablet, data, settings):
    tablet.announce(data)
    first, tablet.id = tablet.id, None
    tablet.announce(data)
    tablet.send(data[:1000], 0)
    other, tablet.id = tablet.id, first
    photo = tablet.send_all(data).json()
    tablet.id = other
    assert tablet.send_all(data, 1000).json() == photo
    assert (Photo.objects.count(), parts(settings)) == (1, [])


def test_a_whole_whose_answer_was_lost_is_finished_on_the_next_question(tablet, data, settings):
    tablet.announce(data)
    tablet.send(data[:CHUNK], 0)
    with open(parts(settings)[0], "ab") as file:
        file.write(data[CHUNK:])
    Upload.objects.update(offset=len(data))  # the server was killed between the last piece and the photo
    assert tablet.ask()["Upload-Offset"] == str(len(data))
    assert tablet.send(b"", len(data)).json() == {"photo": str(Photo.objects.get().pk)}


def test_bytes_nobody_was_promised_are_written_over(tablet, data, settings):
    tablet.announce(data)
    tablet.send(data[:1000], 0)
    with open(parts(settings)[0], "ab") as file:
        file.write(b"half a piece, then the power went")
    assert tablet.ask()["Upload-Offset"] == "1000"
    assert tablet.send_all(data, 1000).status_code == 200


def test_a_file_lost_by_other_hands_is_asked_for_again(tablet, data, settings):
    tablet.announce(data)
    tablet.send(data[:1000], 0)
    parts(settings)[0].unlink()
    assert tablet.ask()["Upload-Offset"] == "0"
    answer = tablet.send(data[1000:2000], 1000)
    assert (answer.status_code, answer["Upload-Offset"]) == (409, "0")
    assert tablet.send_all(data).status_code == 200


def test_bytes_that_are_not_those_announced_are_asked_for_again_but_not_for_ever(tablet, data):
    tablet.announce(data)
    wrong = data[:-1] + b"x"
    for _ in range(MOST_TRIES - 1):
        answer = tablet.send_all(wrong)
        assert (answer.status_code, answer["Upload-Offset"]) == (409, "0")
        assert not Photo.objects.exists()
    assert tablet.send_all(wrong).status_code == 409
    assert tablet.ask().status_code == 200
    answer = tablet.send(data[:10], 0)
    assert (answer.status_code, answer.json()["error"].split(":")[1]) == (422, " please take it again.")


def test_right_bytes_after_wrong_ones_are_a_photo(tablet, data):
    tablet.announce(data)
    tablet.send_all(data[:-1] + b"x")
    assert tablet.send_all(data).status_code == 200


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"type": "image/svg+xml"}, "JPEG, PNG, WebP or HEIC"),
        ({"type": ""}, "JPEG, PNG, WebP or HEIC"),
        ({"size": 15 * 1024 * 1024 + 1}, "at most 15 MB"),
    ],
)
def test_what_can_never_be_a_photo_is_refused_before_it_is_sent(tablet, data, more, words):
    answer = tablet.announce(data, **more)
    assert answer.status_code == 422
    assert words in answer.json()["error"]
    assert not Upload.objects.exists()


def test_what_is_no_picture_is_refused_for_good_and_not_kept(tablet, settings):
    tablet.announce(b"%PDF-1.7 no photo")
    answer = tablet.send(b"%PDF-1.7 no photo", 0)
    assert answer.status_code == 422
    assert "no photo we can read" in answer.json()["error"]
    assert parts(settings) == []
    assert tablet.send(b"", 17).status_code == 422
    assert tablet.announce(b"%PDF-1.7 no photo", id=tablet.id).status_code == 422


@pytest.mark.parametrize(
    "more",
    [
        {"id": "7"}, {"sha256": "ab"}, {"sha256": None}, {"original_sha256": 5}, {"size": 0}, {"size": True},
        {"size": 2**40}, {"size": "9"}, {"device": "x" * 65}, {"device": "a\0b"},
    ],
)  # fmt: skip
def test_an_unreadable_announcement_is_refused(tablet, data, more):
    assert tablet.announce(data, **more).status_code == 400


def test_a_piece_that_cannot_be_right_is_refused(tablet, data):
    tablet.announce(data)
    assert tablet.send(b"x" * (CHUNK + 1), 0).status_code == 400
    assert tablet.send(b"x", "-1").status_code == 400
    assert tablet.send(b"x", "").status_code == 400
    assert tablet.send(b"x", "٣").status_code == 400
    tablet.send_all(data[:CHUNK])
    assert tablet.send(b"x" * CHUNK, CHUNK).status_code == 409
    assert tablet.ask()["Upload-Offset"] == str(CHUNK)


def test_a_body_that_was_cut_off_is_not_stored(tablet, data):
    tablet.announce(data)
    short = {"CONTENT_LENGTH": "2000", "wsgi.input": io.BytesIO(data[:1000])}
    answer = tablet.client.patch(tablet.url, headers={"Upload-Offset": "0"}, **short)
    assert (answer.status_code, answer.json()["error"]) == (400, "The body was cut off; send it again.")
    assert tablet.ask()["Upload-Offset"] == "0"


def test_an_id_is_used_for_one_thing(tablet, data):
    tablet.announce(data)
    assert tablet.announce(data + b"x", id=tablet.id).status_code == 409


def test_a_full_disk_is_told_as_such(tablet, data, monkeypatch):
    import errno

    def full(name, offset, data):
        raise OSError(errno.ENOSPC, "No space left on device")

    tablet.announce(data)
    monkeypatch.setattr("checklists.photos.uploads.file_write_at", full)
    assert tablet.send(data[:100], 0).status_code == 507
    assert tablet.ask()["Upload-Offset"] == "0"


def test_a_busy_server_is_asked_again_later(tablet, data, monkeypatch):
    from checklists.photos.drawing import PhotoNotDrawn

    def busy(source):
        raise PhotoNotDrawn("too busy")

    tablet.announce(data)
    with monkeypatch.context() as patch:
        patch.setattr("checklists.photos.uploads.draw", busy)
        assert tablet.send_all(data).status_code == 503
    assert tablet.send(b"", len(data)).status_code == 200


def test_a_signed_out_tablet_keeps_what_it_has(client, checklist, tablet, data):
    tablet.announce(data)
    tablet.client = client
    for answer in (tablet.ask(), tablet.send(data[:10], 0), tablet.announce(data)):
        assert answer.status_code == 401
    assert Upload.objects.get().offset == 0


def test_the_bookkeeper_sends_no_photos(client_of, ken, tablet, data):
    tablet.announce(data)
    tablet.client = client_of(ken)
    assert tablet.send(data[:10], 0).status_code == 403
    assert tablet.announce(data).status_code == 403


def test_it_hides_the_job_and_its_uploads_from_a_stranger(client_of, charlie, tablet, data):
    tablet.announce(data)
    tablet.client = client_of(charlie)
    assert tablet.ask().status_code == 404
    assert tablet.send(data[:10], 0).status_code == 404
    assert tablet.announce(data).status_code == 404


def test_a_page_of_another_site_cannot_send(bob, checklist, data):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(bob)
    assert Tablet(client, checklist.job_id).announce(data).status_code == 403
