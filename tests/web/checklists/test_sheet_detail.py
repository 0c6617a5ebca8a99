"""The paper of an issued sheet: printed in the background, once; its page says how far it is."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from checklists.models import JobSheet
from checklists.sheet.print import STALE, sheet_print, sheets_reap
from common.background import MOST_ATTEMPTS, SILENT

PRINT = "checklists.sheet.print.print_sheet"


@pytest.fixture(autouse=True)
def papers(monkeypatch):
    """Print without the paper engine; count how often."""
    made = []

    def make(checklist, snapshot):
        made.append(snapshot["sheet"]["number"])
        return b"%%PDF-1.7 no %d, printing %d" % (made[-1], len(made))

    monkeypatch.setattr(PRINT, make)
    monkeypatch.setattr("checklists.sheet.issue.require_pdf_library", lambda: None)
    return made


@pytest.fixture
def issue(checklist):
    return reverse("checklists:sheet_issue", args=[checklist.job_id])


@pytest.fixture
def sheet(client_of, bob, issue):
    client_of(bob).post(issue)
    return JobSheet.objects.get()


def page(name, sheet):
    return reverse(f"checklists:{name}", args=[sheet.pk])


def test_it_works(client_of, bob, issue, papers, django_capture_on_commit_callbacks, monkeypatch):
    asked = []
    monkeypatch.setattr("checklists.sheet.print._enqueue", asked.append)
    with django_capture_on_commit_callbacks(execute=True):
        answer = client_of(bob).post(issue)
    sheet = JobSheet.objects.get()
    assert answer["Location"] == page("sheet_detail", sheet)
    assert (asked, papers, sheet.file.name) == ([sheet.pk], [], "")
    text = client_of(bob).get(page("sheet_detail", sheet)).content.decode()
    assert "Waiting for its turn" in text
    assert 'hx-trigger="every 2s"' in text
    sheet_print(sheet.pk, clock=timezone.now)
    part = client_of(bob).get(page("sheet_detail", sheet), headers={"HX-Request": "true"}).content.decode()
    assert "Open the PDF" in part
    assert "hx-trigger" not in part
    assert "<html" not in part


def test_a_double_click_issues_once(client_of, bob, issue, papers):
    client = client_of(bob)
    goals = {client.post(issue)["Location"] for _ in range(2)}
    assert len(goals) == JobSheet.objects.count() == 1


def test_a_paper_is_never_printed_over(client_of, bob, sheet, issue, papers):
    sheet_print(sheet.pk, clock=timezone.now)
    first = client_of(bob).get(page("sheet_pdf", sheet))
    stored = b"".join(first.streaming_content)
    sheet_print(sheet.pk, clock=timezone.now)
    client_of(bob).post(page("sheet_reprint", sheet))
    client_of(bob).post(issue)
    sheet_print(sheet.pk, clock=timezone.now)
    assert papers == [1]
    assert b"".join(client_of(bob).get(page("sheet_pdf", sheet)).streaming_content) == stored
    assert JobSheet.objects.count() == 1


def test_until_there_is_a_paper_its_link_shows_how_far_it_is(client_of, bob, sheet):
    answer = client_of(bob).get(page("sheet_pdf", sheet))
    assert answer["Location"] == page("sheet_detail", sheet)
    text = client_of(bob).get(reverse("checklists:sign_off", args=[sheet.checklist.job_id])).content.decode()
    assert "waiting to print" in text
    assert page("sheet_detail", sheet) in text


def test_a_printing_that_stops_says_so_and_is_asked_for_again(client_of, bob, sheet, issue, monkeypatch):
    def broken(checklist, snapshot):
        raise RuntimeError("cartridge")

    with monkeypatch.context() as patch:
        patch.setattr(PRINT, broken)
        sheet_print(sheet.pk, clock=timezone.now)
    text = client_of(bob).get(page("sheet_detail", sheet)).content.decode()
    assert "Not printed" in text
    assert "cartridge" not in text
    frozen = JobSheet.objects.get().snapshot
    client_of(bob).post(page("sheet_reprint", sheet))
    sheet_print(sheet.pk, clock=timezone.now)
    sheet.refresh_from_db()
    assert (sheet.state, sheet.snapshot, sheet.number) == ("ready", frozen, 1)


def test_a_paper_that_cannot_be_stored_is_a_failed_printing(sheet, monkeypatch):
    def full(name, data):
        raise OSError("no space left on device")

    monkeypatch.setattr("checklists.sheet.print.file_write", full)
    sheet_print(sheet.pk, clock=timezone.now)
    sheet.refresh_from_db()
    assert (sheet.state, sheet.file.name) == ("failed", "")


def test_a_disk_so_full_that_the_failure_is_not_written_leaves_nothing_printing(
    client_of, bob, sheet, monkeypatch
):
    """Neither the paper nor its failure can be stored: whoever comes later says so, and what to do."""

    def full(*args, **facts):
        raise OperationalError("database or disk is full")

    monkeypatch.setattr("checklists.sheet.print._enqueue", lambda pk: None)
    for attempt in range(1, MOST_ATTEMPTS + 1):
        with monkeypatch.context() as patch:
            patch.setattr("checklists.sheet.print.file_write", full)
            patch.setattr("common.background.Run.write", full)
            with pytest.raises(OperationalError):
                sheet_print(sheet.pk, clock=timezone.now)
        assert JobSheet.objects.get().state == "printing"
        assert sheets_reap(at=timezone.now() + SILENT * 2 * attempt) == 1
    text = client_of(bob).get(page("sheet_detail", sheet)).content.decode()
    assert "Not printed." in text
    assert "Print it again" in text
    assert "Being printed" not in text


def test_issuing_again_takes_up_a_failed_printing(client_of, bob, sheet, issue):
    JobSheet.objects.update(state="failed", error="ink")
    client_of(bob).post(issue)
    assert JobSheet.objects.get().state == "waiting"


def test_a_printing_that_hangs_may_be_asked_for_again(client_of, bob, sheet):
    JobSheet.objects.update(state="printing", attempts=1)
    client_of(bob).post(page("sheet_reprint", sheet))
    assert JobSheet.objects.get().state == "printing"
    JobSheet.objects.update(touched_at=timezone.now() - STALE - dt.timedelta(seconds=1))
    assert (
        "background work has probably stopped"
        in client_of(bob).get(page("sheet_detail", sheet)).content.decode()
    )
    client_of(bob).post(page("sheet_reprint", sheet))
    assert JobSheet.objects.get().state == "waiting"


def test_a_printing_that_was_taken_over_writes_nothing(sheet, monkeypatch):
    def slow(checklist, snapshot):
        JobSheet.objects.update(state="printing", attempts=2)  # meanwhile another worker took it
        return b"%PDF-1.7 late"

    monkeypatch.setattr(PRINT, slow)
    sheet_print(sheet.pk, clock=timezone.now)
    sheet.refresh_from_db()
    assert (sheet.state, sheet.file.name) == ("printing", "")


def test_a_stopped_server_takes_it_up_again_then_gives_up(sheet, monkeypatch, now):
    asked = []
    monkeypatch.setattr("checklists.sheet.print._enqueue", asked.append)
    JobSheet.objects.update(state="printing", attempts=1)
    assert sheets_reap(at=timezone.now() + SILENT * 2) == 1
    assert (asked, JobSheet.objects.get().state) == ([sheet.pk], "waiting")
    JobSheet.objects.update(state="printing", attempts=MOST_ATTEMPTS)
    sheets_reap(at=timezone.now() + SILENT * 4)
    assert JobSheet.objects.get().state == "failed"


def test_the_file_is_the_hashed_one(sheet):
    import hashlib

    sheet_print(sheet.pk, clock=timezone.now)
    sheet.refresh_from_db()
    assert hashlib.sha256(Path(sheet.file.path).read_bytes()).hexdigest() == sheet.file_sha256


def test_it_hides_the_sheet_from_a_stranger(client_of, charlie, sheet):
    stranger = client_of(charlie)
    assert stranger.get(page("sheet_detail", sheet)).status_code == 404
    assert stranger.post(page("sheet_reprint", sheet)).status_code == 404


def test_the_bookkeeper_reads_but_does_not_print(client_of, ken, sheet):
    JobSheet.objects.update(state="failed", error="ink")
    assert "Print it again" not in client_of(ken).get(page("sheet_detail", sheet)).content.decode()
    assert client_of(ken).post(page("sheet_reprint", sheet)).status_code == 403
