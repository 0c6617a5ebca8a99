"""Checks a person noted, on the job sheet: name, reason, numbers, and what they came to as built."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string

from checklists.sheet.draft import sheet_draft
from jobs.design.noted import checks_note

pytestmark = pytest.mark.django_db

KEY = "bank/autonomy"
REASON = "They stay on hook-ups in winter."


@pytest.fixture
def noted(checklist, alice, now):
    """Return the golden install, the days without charging taken note of."""
    checks_note(design=checklist.design, keys=[KEY], reason=REASON, actor=alice, at=now)
    return checklist


def test_it_is_on_the_sheet(noted, now):
    (row,) = sheet_draft(noted).content["noted_checks"]
    assert (row["by"], row["reason"]) == ("Alice Test", REASON)
    assert row["at"].startswith(f"{now:%b} {now.day}, {now:%Y}, ")
    # 3 × 100 Ah × 12.8 V × 0.9 = 3,456 Wh over 3,139 Wh a day; a day and a half was asked for.
    assert (row["value"], row["limit"], row["unit"]) == (pytest.approx(3456 / 3139.41), 1.5, "d")
    assert row["as_built"] is None


def test_the_paper_prints_it(noted):
    content = sheet_draft(noted).content
    text = render_to_string("checklists/sheet/_record.html", {"content": content, "shop": noted.job.shop})
    assert "Checks a person noted" in text
    assert REASON in text
    assert "Alice Test" in text


def test_it_says_what_it_came_to_as_built(noted):
    noted.design.noted_checks.update(value=0.5)
    (row,) = sheet_draft(noted).content["noted_checks"]
    assert row["as_built"]["value"] == pytest.approx(3456 / 3139.41)


def test_a_sheet_without_notes_keeps_the_hash_it_was_signed_with(checklist, alice, now):
    before = sheet_draft(checklist)
    assert "noted_checks" not in before.content
    checks_note(design=checklist.design, keys=[KEY], reason=REASON, actor=alice, at=now)
    assert sheet_draft(checklist).content_sha256 != before.content_sha256
    checklist.design.noted_checks.all().delete()
    assert sheet_draft(checklist).content_sha256 == before.content_sha256
