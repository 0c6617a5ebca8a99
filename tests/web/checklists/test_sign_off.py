"""Sign-off: what is shown, what is open, who signs, what is stored."""

from __future__ import annotations

from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from checklists.models import JobSheet, SignOff
from checklists.sheet.draft import sheet_draft
from checklists.sheet.print import sheet_print
from jobs.models import Job, Membership
from tests.unit.checklists.walk import complete

STROKES = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 40"><path d="M 5 30 C 20 5, 60 50, 95 10"'
    ' stroke-width="2" stroke="#1c2224" fill="none"/></svg>'
)


@pytest.fixture(autouse=True)
def fake_pdf(monkeypatch):
    """Print without the paper engine; the paper itself is tested with the sheet."""
    where = "checklists.sheet.print.print_sheet"
    monkeypatch.setattr(where, lambda checklist, snapshot: b"%PDF-1.7 test")
    monkeypatch.setattr("checklists.sheet.issue.require_pdf_library", lambda: None)


@pytest.fixture
def url(checklist):
    return reverse("checklists:sign_off", args=[checklist.job_id])


@pytest.fixture
def done(checklist, lena, now):
    complete(checklist, lena, now)
    return checklist


def body(checklist, part, **more):
    return {
        "part": part,
        "content_sha256": sheet_draft(checklist).content_sha256,
        "printed_name": "Nell Pardee",
        "signature_svg": STROKES,
    } | more


def test_it_works(client_of, lena, done, url):
    client = client_of(lena)
    text = client.get(url).content.decode()
    assert sheet_draft(done).content_sha256 in text
    assert "Every step is done and every hold is passed" in text
    for part in ("technician", "licensed", "customer"):
        assert client.post(url, body(done, part)).status_code == 302
    issue = reverse("checklists:sheet_issue", args=[done.job_id])
    assert client.post(issue).status_code == 302
    sheet = JobSheet.objects.get()
    assert sheet.is_released
    assert Job.objects.get(pk=done.job_id).state == Job.State.RELEASED
    sheet_print(sheet.pk, clock=timezone.now)
    paper = client.get(reverse("checklists:sheet_pdf", args=[sheet.pk]))
    assert paper["Content-Type"] == "application/pdf"
    assert b"".join(paper.streaming_content) == b"%PDF-1.7 test"


def test_what_is_signed_is_in_the_language_it_is_printed_in(client_of, lena, checklist, url):
    Membership.objects.filter(user=lena).update(language="es")
    text = client_of(lena).get(url).text
    assert "Circuitos y equipo</summary>" in text  # of the page, around the sheet
    assert '<th scope="col" class="end">Drop</th>' in text  # of the sheet
    assert ">Caída<" not in text


def test_what_is_open_is_listed_and_nobody_signs(client_of, lena, checklist, url):
    answer = client_of(lena).get(url)
    text, steps = answer.content.decode(), answer.context["draft"].open_steps
    assert f"{len(steps)} steps still open" in text
    names = {(code, title) for code, title, _ in steps}
    assert len(names) == len(steps) < len(answer.context["content"]["open"])
    assert all(f"{title}: " in unescape(text) for _, title, _ in steps)  # every one, not only the first
    assert "Nobody can sign while something is open" in text
    answer = client_of(lena).post(url, body(checklist, "technician"))
    assert answer.status_code == 422
    assert not SignOff.objects.exists()


def test_a_draft_may_be_printed_at_any_time(client_of, bob, checklist):
    client_of(bob).post(reverse("checklists:sheet_issue", args=[checklist.job_id]))
    assert not JobSheet.objects.get().is_released


def test_a_signature_under_an_older_content_is_refused(client_of, lena, done, record, url):
    old = body(done, "technician")
    record(done, "damage_found", "damage", "scratch by the door")
    answer = client_of(lena).post(url, old)
    assert answer.status_code == 422
    assert "changed since this page was opened" in answer.content.decode()


def test_a_typed_name_stands_for_a_drawing_when_ticked(client_of, lena, done, url):
    client = client_of(lena)
    assert client.post(url, body(done, "customer", signature_svg="")).status_code == 422
    assert client.post(url, body(done, "customer", signature_svg="", is_typed="on")).status_code == 302
    assert SignOff.objects.get().signature_svg == ""


def test_a_drawing_keeps_strokes_and_nothing_else(client_of, lena, done, url):
    drawn = STROKES.replace("</svg>", '<script>alert(1)</script><image href="http://x/"/></svg>')
    client_of(lena).post(url, body(done, "customer", signature_svg=drawn))
    kept = SignOff.objects.get().signature_svg
    assert "path" in kept
    assert "script" not in kept
    assert "http://x" not in kept


def test_a_blank_name_is_refused_and_the_rest_kept(client_of, lena, done, url):
    answer = client_of(lena).post(url, body(done, "technician", printed_name=" "))
    assert answer.status_code == 422
    assert not SignOff.objects.exists()


def test_a_correction_asks_for_a_reason(client_of, lena, done, url):
    client = client_of(lena)
    for part in ("technician", "licensed", "customer"):
        client.post(url, body(done, part))
    issue = reverse("checklists:sheet_issue", args=[done.job_id])
    client.post(issue)
    vehicle = done.job.vehicle
    vehicle.plate = "NEW 123"
    vehicle.save()
    answer = client.post(issue, {"reason": "plate"})
    assert answer.status_code == 422
    assert "at least 15 characters" in answer.content.decode()
    assert client.post(issue, {"reason": "The plate was written down wrong"}).status_code == 302
    assert JobSheet.objects.count() == 2


def test_without_the_paper_library_it_says_how_to_get_it(client_of, lena, checklist, monkeypatch):
    from common.pdf import PdfLibraryMissing

    def missing():
        raise PdfLibraryMissing

    monkeypatch.setattr("checklists.sheet.issue.require_pdf_library", missing)
    answer = client_of(lena).post(reverse("checklists:sheet_issue", args=[checklist.job_id]))
    assert answer.status_code == 422
    assert "apt-get install" in answer.content.decode()
    assert not JobSheet.objects.exists()


def test_the_bookkeeper_does_not_sign(client_of, ken, done, url):
    assert client_of(ken).get(url).status_code == 403


def test_it_hides_the_job_and_its_sheets_from_a_stranger(client_of, lena, charlie, done, url):
    issue = reverse("checklists:sheet_issue", args=[done.job_id])
    client_of(lena).post(issue)
    stranger = client_of(charlie)
    assert stranger.get(url).status_code == 404
    assert stranger.post(url, body(done, "technician")).status_code == 404
    assert stranger.post(issue).status_code == 404
    assert stranger.get(reverse("checklists:sheet_pdf", args=[JobSheet.objects.get().pk])).status_code == 404


def test_the_pages_need_few_queries(client_of, lena, done, record, url, django_assert_max_num_queries):
    record(done, "wire_length", "run_len_m", 14.0, "circuit:C2")
    client = client_of(lena)
    for page in (url, reverse("checklists:checklist_plan", args=[done.job_id])):
        with django_assert_max_num_queries(12):
            client.get(page)
