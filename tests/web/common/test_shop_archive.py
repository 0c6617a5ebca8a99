"""The whole shop as a file, asked for by its owner."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import zipfile

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db.backends.base.base import BaseDatabaseWrapper
from django.urls import reverse
from django.utils import timezone

from checklists.photos.files import file_names
from common.background import SILENT
from config.keep.shop_archive import KEPT, archive_ask, archive_write, archives_drop, archives_reap
from config.models import ShopArchive
from jobs.models import Job, LogEntry, RoofPhoto
from jobs.shop.rights import NotAllowed

pytestmark = pytest.mark.django_db(transaction=True)
LIST = reverse("shop_archives")


@pytest.fixture(autouse=True)
def house(tmp_path, settings, monkeypatch, django_db_blocker):
    """Keep files of this test apart; the copy of the database that an archive reads is none of the list."""
    settings.MEDIA_ROOT = tmp_path / "media"
    real = django_db_blocker._real_ensure_connection
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)


@pytest.fixture
def ready(golden_job, alice, client_of) -> ShopArchive:
    """Return the archive of Alice's shop, written."""
    name = default_storage.save("roofs/2026/11/a.jpg", ContentFile(b"\xff\xd8 roof"))
    added = {"width_px": 1, "height_px": 1, "added_at": timezone.now()}
    RoofPhoto.objects.create(survey=golden_job.survey, file=name, **added)
    client_of(alice).post(LIST)
    archive_write(ShopArchive.objects.get().pk, clock=timezone.now)
    return ShopArchive.objects.get()


def url(archive: ShopArchive) -> str:
    return reverse("shop_archive_file", args=[archive.pk])


def test_the_owner_asks_and_fetches(ready, alice, client_of):
    client = client_of(alice)
    page = client.get(LIST).text
    assert "Ready" in page
    assert ready.file_sha256 in page
    answer = client.get(url(ready))
    content = b"".join(answer.streaming_content)
    assert hashlib.sha256(content).hexdigest() == ready.file_sha256
    assert (len(content), answer["Content-Type"]) == (ready.size, "application/zip")
    verbs = list(LogEntry.objects.filter(verb__startswith="shop archive").values_list("verb", flat=True))
    assert sorted(verbs) == ["shop archive asked for", "shop archive fetched"]


def test_rows_and_files_of_the_shop_are_in_it(ready):
    with default_storage.open(ready.file) as source, zipfile.ZipFile(source) as archive:
        told = json.loads(archive.read("shop.json"))
        photo = RoofPhoto.objects.get()
        assert archive.read(f"files/{photo.file.name}") == b"\xff\xd8 roof"
    assert told["missing"] == []
    assert told["rows"]["jobs.job"] == Job.objects.filter(shop=ready.shop).count()
    assert sum(told["rows"].values()) == ready.rows


def test_two_clicks_are_one_archive(golden_job, alice, now):
    first = archive_ask(shop=golden_job.shop, actor=alice, at=now)
    assert archive_ask(shop=golden_job.shop, actor=alice, at=now) == first


@pytest.mark.parametrize("who", ["erin", "bob", "lena", "ken"])
def test_nobody_but_the_owner(request, ready, client_of, now, who):
    person = request.getfixturevalue(who)
    assert client_of(person).get(LIST).status_code == 403
    assert client_of(person).get(url(ready)).status_code == 403
    with pytest.raises(NotAllowed):
        archive_ask(shop=ready.shop, actor=person, at=now)


def test_another_shops_is_not_there(ready, charlie, client_of):
    assert client_of(charlie).get(url(ready)).status_code == 404
    assert ready.file_sha256 not in client_of(charlie).get(LIST).text


def test_one_whose_worker_stopped_is_taken_up_and_then_given_up(golden_job, alice, now):
    archive = archive_ask(shop=golden_job.shop, actor=alice, at=now)
    rows = ShopArchive.objects.filter(pk=archive.pk)
    rows.update(state="running", attempts=1)
    assert archives_reap(at=now + 2 * SILENT) == 1
    assert rows.get().state == "waiting"
    rows.update(state="running", attempts=2)
    archives_reap(at=now + 4 * SILENT)
    assert "ask for a new one" in rows.get().error


def test_one_that_cannot_be_written_says_so(golden_job, alice, client_of, now, monkeypatch):
    archive = archive_ask(shop=golden_job.shop, actor=alice, at=now)
    monkeypatch.setattr("config.keep.shop_archive.shop_export", lambda *args, **kwargs: 1 / 0)
    archive_write(archive.pk, clock=timezone.now)
    assert "could not be written" in client_of(alice).get(LIST).text


def test_it_goes_by_itself(ready, alice, client_of):
    assert archives_drop(at=ready.asked_at + KEPT - dt.timedelta(hours=1)) == 0
    assert archives_drop(at=ready.asked_at + KEPT + dt.timedelta(hours=1)) == 1
    assert not list(file_names("archives"))
    assert client_of(alice).get(url(ready)).status_code == 404


def test_one_whose_file_is_gone_says_what_to_do(ready, alice, client_of):
    default_storage.delete(ready.file)
    answer = client_of(alice).get(url(ready))
    assert answer.status_code == 404
    assert "Ask for a new one" in answer.text
