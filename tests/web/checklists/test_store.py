"""A full disk, a database that only reads or is locked, a file that is gone, a number no row can have.

The faults of SQLite are its own, brought about by its pragmas (https://www.sqlite.org/pragma.html).
"""

from __future__ import annotations

import errno
import json
import sqlite3
import uuid
from contextlib import contextmanager

import pytest
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.urls import get_resolver, reverse

from checklists.models import JobSheet, Photo, StepEvent
from config.health.store import AWAY, BUSY, FULL, READ_ONLY, trouble_of
from jobs.models import Job, RoofPhoto
from tests.web.jobs.test_job_create import CALL

BROWSER = {"HTTP_ACCEPT": "text/html,application/xhtml+xml"}
IS_SQLITE = pytest.mark.skipif("sqlite" not in "".join(connection.settings_dict["ENGINE"]), reason="pragmas")


@contextmanager
def pragma(name, value, after):
    """Run with a pragma of SQLite set."""
    connection.ensure_connection()
    connection.connection.execute(f"PRAGMA {name}={value}")
    try:
        yield
    finally:
        connection.connection.execute(f"PRAGMA {name}={after}")


def full():
    """Let the database grow no further than it is."""
    connection.ensure_connection()
    own = connection.connection
    (free,), (size,) = (own.execute(f"PRAGMA {name}").fetchone() for name in ("freelist_count", "page_size"))
    own.execute("CREATE TABLE filler (x)")  # pages that earlier tests left free would take the rows
    own.execute("INSERT INTO filler VALUES (zeroblob(?))", [(free + 2) * size])
    (pages,) = own.execute("PRAGMA page_count").fetchone()
    return pragma("max_page_count", pages, 2**31 - 2)


def locked():
    """Have every write of this connection find the database locked, as after the 20 s it waits."""

    def refuse(execute, sql, params, many, context):
        if sql.startswith(("INSERT", "UPDATE", "DELETE")):
            raise OperationalError("database is locked")
        return execute(sql, params, many, context)

    return connection.execute_wrapper(refuse)


def code(number):
    """Return what Django raises for a code of SQLite."""
    inner = sqlite3.OperationalError("some words")
    inner.sqlite_errorcode = number
    outer = OperationalError("some words")
    outer.__cause__ = inner
    return outer


def state(letters):
    """Return what Django raises for a state of PostgreSQL."""
    inner = Exception("words in any language")
    inner.sqlstate = letters
    outer = DatabaseError("words in any language")
    outer.__cause__ = inner
    return outer


@pytest.mark.parametrize(
    ("problem", "expected"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), FULL),
        (OSError(errno.EDQUOT, "Disk quota exceeded"), FULL),
        (OSError(errno.EROFS, "Read-only file system"), READ_ONLY),
        # https://www.sqlite.org/rescode.html: FULL, READONLY, BUSY, BUSY_SNAPSHOT, LOCKED, CANTOPEN
        (code(13), FULL), (code(8), READ_ONLY), (code(5), BUSY), (code(517), BUSY), (code(6), BUSY),
        (code(14), AWAY),
        # PostgreSQL, appendix A: disk_full, read_only_sql_transaction, lock_not_available, admin_shutdown
        (state("53100"), FULL), (state("25006"), READ_ONLY), (state("55P03"), BUSY), (state("57P01"), AWAY),
        (state("08006"), AWAY), (InterfaceError("connection already closed"), AWAY),
        (state("23505"), None), (code(19), None), (ValueError("disk is full"), None), (None, None),
        (OSError(errno.ENOENT, "No such file"), None),
    ],
)  # fmt: skip
def test_what_a_fault_means(problem, expected):
    assert trouble_of(problem) is expected


@IS_SQLITE
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("fault", "status", "words"),
    [
        (full, 507, "disk is full"),
        (lambda: pragma("query_only", 1, 0), 503, "can only read at the moment"),
        (locked, 503, "busy saving other work"),
    ],
)
def test_a_form_comes_back_with_what_was_typed(client_of, shop, erin, fault, status, words):
    client, long_wish = client_of(erin), "Fridge for three days & <more> " * 3000
    typed = CALL | {"job-asked_for": long_wish[:1900], "job-title": "A <title>"}
    wishes = {f"wish-{n}": long_wish for n in range(3)}
    with fault():
        stored = -1
        while (stored := stored + 1) < 60:  # what still fits into the last pages is stored
            answer = client.post("/jobs/new/", typed | wishes | {"password": "not-again"}, **BROWSER)
            if answer.status_code != 302:
                break
    page = answer.content.decode()
    assert answer.status_code == status, page[:500]
    assert words in page
    assert "nothing was saved" in page
    assert int(answer["Retry-After"]) > 0
    assert '<form method="post" action="/jobs/new/"' in page
    assert 'name="job-title" value="A &lt;title&gt;"' in page
    assert 'name="customer-phone" value="303 555 0171"' in page
    assert "not-again" not in page
    assert "data-not-arrived" in page
    assert Job.objects.count() == stored
    assert client.post("/jobs/new/", typed, **BROWSER).status_code == 302  # sent again, it is stored
    assert Job.objects.count() == stored + 1


@IS_SQLITE
@pytest.mark.parametrize("fault", [locked, lambda: pragma("query_only", 1, 0)])
def test_a_tablet_is_told_as_data_and_nothing_is_stored(client_of, bob, checklist, fault):
    event = {
        "id": str(uuid.uuid4()),
        "step": checklist.steps.first().pk,
        "verb": "note",
        "value": "Rain",
        "device": "d",
    }
    url = reverse("checklists:events", args=[checklist.job_id])
    client = client_of(bob)
    with fault():
        answer = client.post(url, json.dumps({"events": [event]}), content_type="application/json")
    assert answer.status_code == 503
    assert "nothing was saved" in answer.json()["error"]
    assert not StepEvent.objects.exists()


def test_a_disk_that_fills_up_under_a_photo(client_of, bob, checklist, monkeypatch):
    def no_room(*args, **more):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("checklists.views.event.events_record", no_room)
    url = reverse("checklists:events", args=[checklist.job_id])
    answer = client_of(bob).post(url, json.dumps({"events": []}), content_type="application/json")
    assert answer.status_code == 507
    assert "disk is full" in answer.json()["error"]


@IS_SQLITE
@pytest.mark.django_db
def test_a_session_that_cannot_be_written_is_told_too(client, monkeypatch):
    """The fault comes outside of every view, where only the page for faults of ours is asked."""
    client.raise_request_exception = False

    def locked_save(self, *args, **more):
        raise OperationalError("database is locked")

    monkeypatch.setattr("django.contrib.sessions.middleware.SessionMiddleware.process_response", locked_save)
    answer = client.get(reverse("account_login"), **BROWSER)
    assert answer.status_code == 503
    assert "busy saving other work" in answer.content.decode()


class TestFilesThatAreGone:
    SAYS = "bring the folder of files back from a backup"

    def test_a_photo_of_the_roof(self, client_of, erin, golden_job, now):
        photo = RoofPhoto.objects.create(
            survey=golden_job.survey, file="roofs/gone.jpg", width_px=800, height_px=300, added_at=now
        )
        answer = client_of(erin).get(reverse("jobs:roof_photo", args=[photo.pk]))
        assert answer.status_code == 404
        assert self.SAYS in answer.content.decode()

    def test_a_photo_of_the_work(self, client_of, bob, checklist, now):
        photo = Photo.objects.create(
            checklist=checklist, file="photos/gone.jpg", small="", width_px=1, height_px=1, received_at=now
        )
        for name in ("photo", "photo_small"):
            answer = client_of(bob).get(reverse(f"checklists:{name}", args=[photo.pk]))
            assert answer.status_code == 404
            assert self.SAYS in answer.content.decode()

    def test_the_paper_of_a_sheet(self, client_of, bob, checklist, now):
        sheet = JobSheet.objects.create(
            checklist=checklist, number=1, state="ready", file="sheets/gone.pdf", snapshot={},
            issued_at=now, touched_at=now, issued_by_name="Bob",
        )  # fmt: skip
        answer = client_of(bob).get(reverse("checklists:sheet_pdf", args=[sheet.pk]))
        assert answer.status_code == 404
        assert self.SAYS in answer.content.decode()


def addresses():
    """Return an address of every view that takes whole numbers, each of them beyond every key."""
    found = set()
    for prefix, inner in get_resolver().namespace_dict.values():
        for name in {each for each in inner.reverse_dict if isinstance(each, str)}:
            for possible, _, _, converters in inner.reverse_dict.getlist(name):
                shape, names = possible[0]
                numbers = {each for each in names if type(converters[each]).__name__ == "IntConverter"}
                if numbers:
                    values = {each: 2**63 if each in numbers else uuid.UUID(int=7) for each in names}
                    found.add(f"/{prefix}{shape % values}")
    return sorted(found)


def test_no_number_beyond_63_bits_is_a_fault(client_of, alice):
    client = client_of(alice)
    asked = addresses()
    assert len(asked) > 80
    for address in asked:
        for method in (client.get, client.post):
            assert method(address).status_code == 404, address


@pytest.mark.parametrize("address", ["/jobs/new/?vehicle={}", "/jobs/?page={}"])
def test_nor_behind_the_question_mark(client_of, alice, address):
    assert client_of(alice).get(address.format(2**80)).status_code in {200, 404}
