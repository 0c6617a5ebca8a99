"""Files in an S3-compatible store, tried against a server that speaks the protocol."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import uuid
from collections.abc import Iterator
from typing import Any

import boto3
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db.backends.base.base import BaseDatabaseWrapper
from django.urls import reverse
from environs import Env
from moto.server import ThreadedMotoServer

from checklists.models import Photo
from checklists.photos.files import (
    file_drop,
    file_names,
    file_size,
    file_uri,
    file_whole,
    file_write,
    file_write_at,
    is_folder,
)
from checklists.photos.tidying import photos_tidy
from config.file_store import file_store
from config.health.store import AWAY, trouble_of
from config.keep.backup import backup_write
from config.keep.files_check import files_wrong
from config.keep.restore import backup_restore
from config.start.lacks import _folders
from tests.web.checklists.test_upload import Tablet, noise

AT = dt.datetime(2026, 11, 30, 9, 0, tzinfo=dt.UTC)
pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("bucket")]


@pytest.fixture(scope="module")
def endpoint() -> Iterator[str]:
    """Return the address of a server that speaks the protocol."""
    server = ThreadedMotoServer(port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"http://{host}:{port}"
    server.stop()


def client_of_store(endpoint: str) -> Any:
    """Return the store as its owner sees it."""
    keys = {"aws_access_key_id": "key", "aws_secret_access_key": "secret"}
    return boto3.client("s3", endpoint_url=endpoint, region_name="us-east-1", **keys)


@pytest.fixture
def bucket(endpoint, settings, monkeypatch) -> str:
    """Keep the files of this test in a bucket, as the settings of an installation would."""
    name = f"shop-{uuid.uuid4().hex[:12]}"
    told = {
        "FILES_BUCKET": name, "FILES_KEY": "key", "FILES_SECRET": "secret", "FILES_ENDPOINT": endpoint,
        "FILES_FOLDER": "coachlight",
    }  # fmt: skip
    for key, value in told.items():
        monkeypatch.setenv(key, value)
    client_of_store(endpoint).create_bucket(Bucket=name)
    settings.STORAGES = settings.STORAGES | {"default": file_store(Env())}
    assert not is_folder()
    return name


def test_a_bucket_needs_its_key(monkeypatch):
    monkeypatch.setenv("FILES_BUCKET", "shop")
    with pytest.raises(ImproperlyConfigured, match="FILES_KEY and FILES_SECRET"):
        file_store(Env())


def test_a_file_is_written_whole_and_replaced(bucket):
    file_write("sheets/2026/11/a.pdf", b"paper")
    file_write("sheets/2026/11/a.pdf", [b"new ", b"paper"])
    with default_storage.open("sheets/2026/11/a.pdf") as kept:
        assert kept.read() == b"new paper"
    assert list(file_names("sheets")) == ["sheets/2026/11/a.pdf"]
    file_drop("sheets/2026/11/a.pdf")
    assert not default_storage.exists("sheets/2026/11/a.pdf")


def test_pieces_are_put_together(bucket):
    name = "uploads/one.part"
    assert file_size(name) == 0
    file_write_at(name, 0, b"abc")
    file_write_at(name, 3, b"defgh")
    file_write_at(name, 3, b"DE")  # sent again, shorter: what lay beyond is dropped
    assert file_size(name) == 5
    with file_whole(name) as source:
        assert (source.read(), source.fileno() > 0) == (b"abcDE", True)
    file_write_at(name, 9, b"gap")
    assert file_size(name) == 5
    file_drop(name)
    assert not list(file_names("uploads"))
    with pytest.raises(FileNotFoundError), file_whole(name):
        pass


def test_nothing_in_it_is_public(bucket, endpoint):
    file_write("photos/a.jpg", b"roof")
    grants = client_of_store(endpoint).get_object_acl(Bucket=bucket, Key="coachlight/photos/a.jpg")["Grants"]
    assert not [grant for grant in grants if "AllUsers" in str(grant["Grantee"])]


def test_a_photo_comes_and_is_shown_to_its_shop_alone(bucket, checklist, bob, charlie, client_of):
    tablet, data = Tablet(client_of(bob), checklist.job_id), noise()
    tablet.announce(data)
    answer = tablet.send_all(data)
    pk = Photo.objects.get().pk
    assert str(pk) in answer.text
    shown = client_of(bob).get(reverse("checklists:photo_small", args=[pk]))
    assert shown.status_code == 200
    assert b"".join(shown.streaming_content).startswith(b"\xff\xd8")
    assert client_of(charlie).get(reverse("checklists:photo_small", args=[pk])).status_code == 404
    photo = Photo.objects.get(pk=pk)
    assert file_uri(str(photo.small.name)).startswith("data:image/jpeg;base64,")
    assert not list(file_names("uploads"))  # the pieces are gone
    default_storage.delete(str(photo.small.name))
    gone = client_of(bob).get(reverse("checklists:photo_small", args=[pk]))
    assert gone.status_code == 404
    assert "bring the folder of files back from a backup" in gone.text
    assert any("is gone" in sentence for sentence in files_wrong())


def test_a_store_that_is_away_is_told_as_such(bucket, settings):
    options = settings.STORAGES["default"]["OPTIONS"] | {"endpoint_url": "http://127.0.0.1:9"}
    settings.STORAGES = settings.STORAGES | {"default": settings.STORAGES["default"] | {"OPTIONS": options}}
    with pytest.raises(OSError, match="cannot be reached") as caught:
        file_write("photos/a.jpg", b"roof")
    assert trouble_of(caught.value) is AWAY
    line = _folders()
    assert (line.is_ok, "FILES_BUCKET" in line.words) == (False, True)


def test_the_install_check_writes_and_leaves_nothing(bucket):
    assert _folders().is_ok
    assert not list(file_names())


@pytest.mark.django_db(transaction=True)
def test_backup_and_restore_carry_the_files(
    bucket, golden_job, settings, tmp_path, monkeypatch, django_db_blocker
):
    # A test may ask the databases of a list only; the copy that a backup reads is none of them.
    real = django_db_blocker._real_ensure_connection
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)
    settings.VAR_DIR = tmp_path
    data = os.urandom(3_000_000)
    file_write("roofs/2026/11/a.jpg", data)
    default_storage.save("photos/b.jpg", ContentFile(b"roof"))
    path = backup_write(tmp_path / "out", at=AT)
    for name in list(file_names()):
        file_drop(name)
    backup_restore(path, replace=True)
    assert sorted(file_names()) == ["photos/b.jpg", "roofs/2026/11/a.jpg"]
    with default_storage.open("roofs/2026/11/a.jpg") as kept:
        assert hashlib.sha256(kept.read()).digest() == hashlib.sha256(data).digest()


def test_tidying_removes_old_files_of_no_record(bucket, golden_job):
    file_write("photos/stray.jpg", b"x")
    file_write_at("uploads/gone.part", 0, b"x")
    assert photos_tidy(at=dt.datetime.now(dt.UTC)).files == 0  # just written: its record may be on the way
    assert photos_tidy(at=dt.datetime.now(dt.UTC) + dt.timedelta(days=2)).files == 2
    assert not list(file_names())
