"""A picture is sent to people of its own shop only."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

import pytest
from django.urls import reverse

from checklists.models import Photo
from checklists.photos.photos import photo_keep, photo_read
from tests.unit.checklists.walk import picture


@pytest.fixture
def url(checklist, bob, now):
    found = photo_keep(checklist=checklist, picture=photo_read(picture()), actor=bob, at=now)
    return reverse("checklists:photo", args=[found.pk])


def test_it_works(client_of, bob, url):
    answer = client_of(bob).get(url)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "private" in answer["Cache-Control"]
    assert "sandbox" in answer["Content-Security-Policy"]
    assert answer["Content-Disposition"].startswith("inline")
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")


def test_the_small_one_is_guarded_alike(client_of, bob, charlie, url):
    answer = client_of(bob).get(f"{url}small/")
    assert "sandbox" in answer["Content-Security-Policy"]
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8")
    assert client_of(charlie).get(f"{url}small/").status_code == 404


def test_it_is_asked_for_anew_and_sent_once(client_of, bob, charlie, url):
    """RFC 9110, 13.1.2: a condition is looked at after the right to see it."""
    first = client_of(bob).get(url)
    assert b"".join(first.streaming_content)  # at its end it is closed, and no connection with it
    assert "max-age=0" in first["Cache-Control"]
    again = client_of(bob).get(url, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "private" in again["Cache-Control"]
    assert client_of(charlie).get(url, headers={"If-None-Match": first["ETag"]}).status_code == 404


def test_it_hides_the_picture_from_a_stranger(client_of, charlie, url):
    assert client_of(charlie).get(url).status_code == 404


def test_a_picture_whose_file_was_lost_is_not_there(client_of, bob, url):
    Path(Photo.objects.get().file.path).unlink()
    assert client_of(bob).get(url).status_code == 404


def test_the_photos_of_an_install_stand_on_one_page(client_of, bob, charlie, checklist, record):
    photo = photo_keep(
        checklist=checklist, picture=photo_read(picture()), actor=bob, at=dt.datetime.now(dt.UTC)
    )
    page = reverse("checklists:photo_list", args=[checklist.job_id])
    assert "Photos taken at a step are shown here" in client_of(bob).get(page).content.decode()
    record(checklist, "damage_found", "photo", None, photo=photo.pk)
    text = client_of(bob).get(page).content.decode()
    assert reverse("checklists:photo_small", args=[photo.pk]) in text
    assert "A2 Walk round for damage" in text
    assert client_of(charlie).get(page).status_code == 404


def test_an_unknown_picture_is_not_there(client_of, bob, url):
    assert client_of(bob).get(reverse("checklists:photo", args=[uuid.uuid4()])).status_code == 404


def test_a_visitor_is_asked_to_sign_in(client, url):
    assert client.get(url).status_code == 302
