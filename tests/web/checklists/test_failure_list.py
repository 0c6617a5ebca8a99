"""What failed in the background: told in sentences, tried again once, seen by the owner of the shop only."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import call_command
from django.urls import reverse

from checklists.office.failures import failure_count
from jobs.models import LayRun, LogEntry, OutboxMail, ShadeRun

pytestmark = pytest.mark.django_db
EARLIER = dt.timedelta(hours=2)


@pytest.fixture
def failed(golden_job, now, shop, settings):
    """Return a shade run, a search and a letter that failed."""
    settings.MAIL_IS_SET_UP = True
    design = golden_job.designs.get()
    when = {"at": now, "touched_at": now}
    shade = ShadeRun.objects.create(design=design, state="failed", error="No roof.", attempts=2, **when)
    search = LayRun.objects.create(design=design, state="failed", error="No panel fits.", **when)
    letter = OutboxMail.objects.create(
        shop=shop, job=golden_job, to="nell@pardee.example", subject="Quote", body="Dear Nell",
        state="failed",
        error="The address was refused: 550 unknown", attempts=8, due_at=now - EARLIER, **when,
    )  # fmt: skip
    return {"shade": shade, "layouts": search, "letter": letter}


def again(kind, row) -> str:
    """Return where it is tried again."""
    return reverse("checklists:failure_again", args=[kind, row.pk])


def test_each_is_told_with_its_sentence_and_counted_on_the_shops_page(failed, alice, client_of, shop):
    client = client_of(alice)
    text = client.get(reverse("checklists:failure_list")).content.decode()
    for words in ("No roof.", "No panel fits.", "550 unknown", "2026-001"):
        assert words in text
    assert text.count("Try again") == failure_count(shop) == 3
    assert "in the background (3)" in client.get(reverse("jobs:shop_edit")).content.decode()


@pytest.mark.parametrize(
    ("kind", "waits"), [("shade", "queued"), ("layouts", "queued"), ("letter", "waiting")]
)
def test_two_clicks_try_once(failed, alice, client_of, kind, waits, django_capture_on_commit_callbacks):
    row = failed[kind]
    with django_capture_on_commit_callbacks() as queued:
        text = client_of(alice).post(again(kind, row), follow=True).content.decode()
        assert "waits for its turn again" in text
        text = client_of(alice).post(again(kind, row), follow=True).content.decode()
        assert "tried again already" in text
    assert len(queued) == 1
    row.refresh_from_db()
    assert (row.state, row.error, getattr(row, "attempts", 0)) == (waits, "", 0)
    assert LogEntry.objects.filter(verb="tried again").count() == 1


def test_a_letter_whose_text_is_gone_is_not_tried_again(failed, alice, client_of):
    OutboxMail.objects.update(body="")
    client = client_of(alice)
    assert client.get(reverse("checklists:failure_list")).content.decode().count("Try again") == 2
    text = client.post(again("letter", failed["letter"]), follow=True).content.decode()
    assert "makes no sense" in text
    assert OutboxMail.objects.get().state == "failed"


def test_what_is_not_there_is_said(failed, alice, client_of):
    for args in (["shade", 999_999], ["odd", 1]):
        url = reverse("checklists:failure_again", args=args)
        assert "not there any more" in client_of(alice).post(url, follow=True).content.decode()


def test_only_the_owner(failed, erin, bob, client_of):
    for person in (erin, bob):
        assert client_of(person).get(reverse("checklists:failure_list")).status_code == 403
        assert client_of(person).post(again("shade", failed["shade"])).status_code == 403


def test_the_stranger_sees_and_does_nothing(failed, charlie, client_of):
    client = client_of(charlie)
    assert "Nothing failed." in client.get(reverse("checklists:failure_list")).content.decode()
    assert "not there any more" in client.post(again("shade", failed["shade"]), follow=True).content.decode()
    assert ShadeRun.objects.get().state == "failed"


def test_the_operator_sees_all(failed, capsys):
    call_command("failures")
    said = capsys.readouterr().out
    assert "Shade of a year job 2026-001: No roof." in said
    assert "550 unknown" in said


def test_nothing_failed_is_said(shop, capsys):
    call_command("failures")
    assert capsys.readouterr().out == "Nothing failed.\n"
