"""The job sheet: what is shown is hashed, signed and printed; a re-print is the same file."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import uuid
from pathlib import Path
from zoneinfo import ZoneInfo

import pikepdf
import pytest

from checklists.models import JobSheet, Photo, SignOff
from checklists.record.events import events_record
from checklists.record.pages import checklist_or_404
from checklists.rules.entries import Entry
from checklists.sheet.draft import content_sha256, sheet_draft
from checklists.sheet.issue import IssueRefused, sheet_issue
from checklists.sheet.print import sheet_print
from checklists.sheet.printing import photo_sources, print_sheet
from checklists.sheet.sign import SignRefused, sheet_sign
from jobs.models import ChangeOrder, Job, Vehicle
from jobs.shop.rights import NotAllowed
from tests.papers import pages_of, text_of
from tests.replay import replayed
from tests.roles import step_of
from tests.unit.checklists.walk import complete

STROKES = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 40"><path d="M 5 30 C 20 5, 60 50, 95 10"'
    ' stroke-width="2" stroke="#1c2224" fill="none"/></svg>'
)


@pytest.fixture
def fake_pdf(monkeypatch):
    """Print without the paper engine: one line of the snapshot's own hash."""

    def make(checklist, snapshot):
        return f"pdf of {snapshot['sheet']['content_sha256']} no {snapshot['sheet']['number']}".encode()

    monkeypatch.setattr("checklists.sheet.print.print_sheet", make)
    monkeypatch.setattr("checklists.sheet.issue.require_pdf_library", lambda: None)


@pytest.fixture
def done(checklist, lena, now):
    """Return the golden install with every step done."""
    complete(checklist, lena, now)
    return checklist


def sign(checklist, part, actor, now, digest=None):
    return sheet_sign(
        checklist=checklist,
        part=part,
        printed_name=f"{part.title()} Person",
        signature_svg=STROKES,
        content_sha256=digest or sheet_draft(checklist).content_sha256,
        actor=actor,
        at=now,
    )


def sign_all(checklist, actor, now):
    def build():
        for part in sheet_draft(checklist).required:
            sign(checklist, part, actor, now)

    replayed(f"signed {checklist.pk} {actor.pk} {now}", build)


def test_the_snapshot_is_plain_data_with_every_page_in_it(done):
    content = sheet_draft(done).content
    assert json.loads(json.dumps(content)) == content
    assert content["key_numbers"]["array_w"] == 800
    assert content["key_numbers"]["holes"] == 72  # 16 feet × 4 screws + 8 gland screws
    assert content["key_numbers"]["net_added_kg"] == pytest.approx(57.1, abs=0.1)
    assert content["head"]["vehicle"]["vin_tail"] == "003456"
    assert len(content["seals"]["rows"]) == 17
    assert {row["id"] for row in content["circuits"]} >= {"C1", "C2", "C3", "C4", "C6", "C10", "C11"}
    assert [row["serial"] for row in content["equipment"] if row["title"].startswith("Panel")] == [
        f"SN-E1-{n}" for n in (1, 2, 3, 4)
    ]
    assert content["readings"]["strings"][0]["voc"]["limit"] == pytest.approx(45.1, abs=0.05)
    assert content["readings"]["strings"][0]["isc"]["limit"] == pytest.approx(8.46, abs=0.01)
    assert len(content["settings"]) == 2
    assert content["roof_plan_svg"].startswith("<svg")
    assert content["open"] == []
    for key in ("care", "cautions", "warranty", "shut_down"):
        assert content["texts"][key]


def test_a_seal_prints_when_it_was_made_not_when_it_was_sent(checklist, record, now):
    """A day on the roof is sent in the evening; the paper tells the hours of the work."""
    made = now - dt.timedelta(hours=6)
    record(checklist, "seal_under", "foot_1", 4, subject="panel:1", claimed_at=made, at=now)
    zone = ZoneInfo(checklist.job.shop.time_zone)
    row = next(
        row for row in sheet_draft(checklist).content["seals"]["rows"] if row["title"] == "Panel 1, foot 1"
    )
    there = made.astimezone(zone)
    hour = f"{there:%I:%M %p}".lstrip("0")
    assert row["under_at"].startswith(f"{there:%b} {there.day}, {there:%Y}, {hour}")


def test_no_money_is_in_it(done):
    def names(data):
        if isinstance(data, dict):
            yield from data
            data = list(data.values())
        for each in data if isinstance(data, list) else []:
            yield from names(each)

    content = sheet_draft(done).content
    money = {"cost", "price", "margin", "total", "subtotal", "tax", "deposit", "amount", "rate", "markup"}
    assert not money & set(names(content))
    assert "$" not in json.dumps(content)


def test_the_hash_is_the_same_for_the_same_content(done):
    one, other = sheet_draft(done).content, sheet_draft(done).content
    assert content_sha256(one) == content_sha256(other)
    assert content_sha256(dict(reversed(one.items()))) == content_sha256(one)


def test_the_hash_moves_with_the_record(done, record):
    before = sheet_draft(done).content_sha256
    record(done, "damage_found", "damage", "scratch by the door")
    assert sheet_draft(done).content_sha256 != before


def test_an_open_record_is_not_signed_and_prints_what_is_missing(checklist, lena, now, fake_pdf):
    complete(checklist, lena, now, only="ABCD")
    with pytest.raises(SignRefused, match="still open"):
        sign(checklist, "technician", lena, now)
    sheet = sheet_issue(checklist=checklist, actor=lena, at=now)
    assert not sheet.is_released
    missing = sheet.snapshot["sheet"]["missing"]
    assert "E1 Panel serial: panel 1: Safety lines above read and kept, Serial, Model: missing" in missing
    assert "Signature missing: Customer: received and shown" in missing
    assert Job.objects.get(pk=checklist.job_id).state == Job.State.IN_WORK


def test_signed_by_all_it_is_released(done, lena, now, fake_pdf):
    assert sheet_draft(done).required == ("technician", "licensed", "customer")
    sign_all(done, lena, now)
    sheet = sheet_issue(checklist=done, actor=lena, at=now)
    assert sheet.is_released
    assert sheet.snapshot["sheet"]["missing"] == []
    assert Job.objects.get(pk=done.job_id).state == Job.State.RELEASED


def printed(checklist, actor, now):
    """Return a sheet that was issued, and printed as the background does it."""
    sheet = sheet_issue(checklist=checklist, actor=actor, at=now)
    sheet_print(sheet.pk, clock=lambda: now)
    sheet.refresh_from_db()
    assert (sheet.state, sheet.error) == ("ready", "")
    return sheet


def test_a_reprint_is_the_stored_file(done, lena, now, fake_pdf):
    sign_all(done, lena, now)
    first = printed(done, lena, now)
    again = sheet_issue(checklist=done, actor=lena, at=now)
    assert (again.pk, again.state) == (first.pk, "ready")
    data = Path(first.file.path).read_bytes()
    assert hashlib.sha256(data).hexdigest() == first.file_sha256
    assert JobSheet.objects.count() == 1


def test_a_signature_is_bound_to_what_was_shown(done, lena, record, now):
    digest = sheet_draft(done).content_sha256
    record(done, "damage_found", "damage", "scratch by the door")
    with pytest.raises(SignRefused, match="changed since this page was opened"):
        sign(done, "technician", lena, now, digest=digest)


def test_a_later_record_asks_for_new_signatures(done, lena, record, now, fake_pdf):
    sign_all(done, lena, now)
    record(done, "damage_found", "damage", "scratch by the door")
    draft = sheet_draft(done)
    assert draft.missing_parts == draft.required
    assert not draft.is_released
    sign_all(done, lena, now)
    assert sheet_issue(checklist=done, actor=lena, at=now).is_released
    assert SignOff.objects.count() == 6


def test_a_correction_is_a_new_sheet_with_a_reason(done, lena, now, fake_pdf):
    sign_all(done, lena, now)
    first = sheet_issue(checklist=done, actor=lena, at=now)
    stored = dict(first.snapshot)
    Vehicle.objects.filter(pk=done.job.vehicle_id).update(plate="NEW 123")
    fresh = checklist_or_404(lena, done.job_id)
    with pytest.raises(IssueRefused, match="say why, in at least 15 characters"):
        sheet_issue(checklist=fresh, actor=lena, at=now, reason="plate")
    second = sheet_issue(checklist=fresh, actor=lena, at=now, reason="The plate was written down wrong")
    assert (second.number, second.is_released) == (2, False)
    first.refresh_from_db()
    assert first.snapshot == stored


def test_the_owner_signs_where_something_was_overridden(checklist, lena, alice, bob, now, fake_pdf):
    from checklists.record.override import hold_override

    complete(checklist, lena, now, only="A", skip=("ceiling_stains",))
    reason = "Ceiling is new, photos taken last week"
    hold_override(step=step_of(checklist, "custody"), reason=reason, actor=alice, at=now)
    complete(checklist, lena, now, only="BCDEFGHIJKLM")
    draft = sheet_draft(checklist)
    assert draft.required == ("technician", "licensed", "owner", "customer")
    assert draft.content["overrides"][0]["reason"] == reason
    with pytest.raises(NotAllowed):
        sign(checklist, "owner", bob, now)
    sign(checklist, "owner", alice, now)


def test_signatures_are_refused_where_they_make_no_sense(done, lena, alice, ken, now):
    with pytest.raises(SignRefused, match="not needed here"):
        sign(done, "owner", alice, now)
    with pytest.raises(SignRefused, match="no such place"):
        sign(done, "passer-by", lena, now)
    with pytest.raises(NotAllowed):
        sign(done, "technician", ken, now)
    sign(done, "technician", lena, now)
    with pytest.raises(SignRefused, match="already been signed"):
        sign(done, "technician", lena, now)
    with pytest.raises(SignRefused, match="print the name"):
        sheet_sign(
            checklist=done,
            part="customer",
            printed_name="  ",
            signature_svg=STROKES,
            content_sha256=sheet_draft(done).content_sha256,
            actor=lena,
            at=now,
        )


def test_an_unpaid_job_is_not_released(done, lena, now, fake_pdf):
    sign_all(done, lena, now)
    Job.objects.filter(pk=done.job_id).update(state=Job.State.ACCEPTED)
    with pytest.raises(IssueRefused, match="the office moves it on first"):
        sheet_issue(checklist=checklist_or_404(lena, done.job_id), actor=lena, at=now)


def test_refused_recommendations_and_late_records_are_told(done, lena, now):
    ChangeOrder.objects.create(
        job=done.job,
        number=1,
        state="declined",
        found_by_name="Bob Test",
        found_at=now,
        cause="Soft wood near the vent",
        is_safety_critical=True,
        owner_decision="Go on as refused, no foot within 300 mm",
        answered_by_name="Pat",
        answered_at=now,
    )
    step = step_of(done, "damage_found")
    note = Entry(id=uuid.uuid4(), step=step.pk, verb="note", value="customer watched")
    events_record(checklist=done, entries=[note], actor=lena, at=now)
    content = sheet_draft(done).content
    assert content["refused"][0]["owner_decision"].startswith("Go on as refused")
    assert any(row["sentence"] == "customer watched" for row in content["noted"])


def test_the_paper_is_pdf_a_with_its_data_inside_and_reads_back(done, lena, now):
    sign_all(done, lena, now)
    sheet = printed(done, lena, now)
    data = Path(sheet.file.path).read_bytes()
    squeezed = " ".join(text_of(data).split())
    for words in (
        "Job sheet 1, as built",
        "1JT27XA19K0003456",
        sheet.content_sha256,
        "72 + 1 for cables",
        "Panel 4, foot 4",
        "SN-E1-3",
        "45.1 V",
        "Technician Person",
        "Warranty and exclusions",
        "Local code, the equipment makers' manuals and licensed practice win",
    ):
        assert words in squeezed, words
    assert "not released" not in squeezed.lower()
    with pikepdf.open(io.BytesIO(data)) as pdf:
        with pdf.open_metadata() as meta:
            assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("3", "A")
        attached = pdf.attachments["job-sheet.json"].get_file().read_bytes()
    assert json.loads(attached) == sheet.snapshot


def shortened(data):
    """Return the same data with at most two of each list: the paper of a whole install has 30 pages."""
    if isinstance(data, dict):
        return {name: shortened(each) for name, each in data.items()}
    return [shortened(each) for each in data[:2]] if isinstance(data, list) else data


def test_a_draft_paper_says_not_released(checklist, lena, now):
    sheet = sheet_issue(checklist=checklist, actor=lena, at=now)
    pages = pages_of(print_sheet(checklist, shortened(sheet.snapshot)))
    assert len(pages) > 1
    assert all("not released" in page.lower() for page in pages)
    assert "Still missing" in " ".join(pages)


def test_a_photo_says_what_it_shows_and_when_it_was_taken(done, lena, now):
    photos = sheet_draft(done).content["photos"]
    walk_round = [photo for photo in photos if photo["code"] == "A2"]
    assert len(walk_round) == 4
    assert walk_round[0]["caption"] == "A2 Walk round for damage: Front, rear, left, right"
    assert (walk_round[0]["by"], walk_round[0]["at"]) == ("Lena Test", "Nov 25, 2026, 9:00 AM MST")
    assert len({photo["id"] for photo in photos}) == len(photos)


def test_a_paper_tells_of_a_photo_whose_file_was_lost(done):
    photo = Photo.objects.filter(checklist=done).first()
    Path(photo.small.path).unlink()
    sources = {row["id"]: row["src"] for row in photo_sources(done, sheet_draft(done).content)["photos"]}
    assert sources.pop(str(photo.pk)) == ""
    assert all(source.startswith("file:///") for source in sources.values())
