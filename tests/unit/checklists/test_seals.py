"""Counting holes: feet × screws + gland screws, sealed under and over. Counting rule, no source needed."""

from __future__ import annotations

import pytest

from checklists.record.events import events_record
from checklists.record.read import work_of
from checklists.rules.seals import seal_count


@pytest.fixture
def six_feet(golden_job, now):
    """Return an install of four panels on 6 feet of 4 screws, gland box of 8, 2 cable holes: 104 holes."""
    from tests.unit.checklists.conftest import open_for

    on_six_feet(golden_job)
    return open_for(golden_job, now)


def on_six_feet(golden_job):
    """Put the four panels on 6 feet of 4 screws, with a gland box of 8 and 2 cable holes."""
    from jobs.models import Survey

    design = golden_job.designs.first()
    design.panels.update(feet=6, fasteners_per_foot=4)
    Survey.objects.filter(job=golden_job).update(gland_screws=8, cable_holes=2)
    design.runs.all().delete()


@pytest.fixture
def seal(entry, bob, now):
    """Return a sealer of every foot of every panel on one side, and of the gland box when asked."""

    def make(checklist, role, *, gland=True, feet=6, panels="1234"):
        entries = [
            entry(checklist, role, f"foot_{foot}", 4, f"panel:{panel}")
            for panel in panels
            for foot in range(1, feet + 1)
        ]
        if gland:
            entries.append(entry(checklist, role, "holes", 8, "gland:box"))
        return events_record(checklist=checklist, entries=entries, actor=bob, at=now)

    return make


def d12(checklist):
    hold = next(hold for hold in work_of(checklist).holds.all() if hold.step.role == "seal_count")
    return [item.sentence for item in hold.items if item.step.role == "seal_count"]


def test_the_gland_forgotten_under_holds_with_its_number(six_feet, seal, record):
    seal(six_feet, "seal_under", gland=False)
    seal(six_feet, "seal_over")
    record(six_feet, "seal_count", "cable_holes_sealed", 2)
    count = seal_count(work_of(six_feet).install)
    assert (count.made, count.under, count.over, count.cable_holes) == (104, 96, 104, 2)
    assert "Sealed under: 96 of 104, 8 under missing (gland box 8)" in d12(six_feet)
    assert not any(words.startswith("Sealed over") for words in d12(six_feet))


def test_feet_added_later_open_the_count_again(six_feet, seal, record):
    seal(six_feet, "seal_under")
    seal(six_feet, "seal_over")
    record(six_feet, "seal_count", "cable_holes_sealed", 2)
    assert not [words for words in d12(six_feet) if words.startswith("Sealed")]
    record(six_feet, "feet", "feet", 8, "panel:1")
    record(six_feet, "feet", "feet", 8, "panel:2")
    count = seal_count(work_of(six_feet).install)
    assert (count.made, count.under) == (120, 104)
    assert "Sealed under: 104 of 120, 16 under missing (panel 1 8, panel 2 8)" in d12(six_feet)
    fields = [spec.name for spec in work_of(six_feet).install.specs(_step(six_feet, "seal_under", "panel:1"))]
    assert "foot_8" in fields


def test_the_sums_count_the_added_feet_too(six_feet, record):
    record(six_feet, "feet", "feet", 8, "panel:1")
    six_feet.refresh_from_db()
    assert six_feet.as_built["roof.feet"] == 26


def test_a_foot_taken_away_leaves_holes_to_patch(six_feet, seal, record):
    seal(six_feet, "seal_under")
    seal(six_feet, "seal_over")
    record(six_feet, "seal_count", "cable_holes_sealed", 2)
    record(six_feet, "feet", "feet", 5, "panel:1")
    count = seal_count(work_of(six_feet).install)
    assert (count.made, count.under, count.over, count.unused) == (100, 100, 100, 4)
    assert "4 unused holes to patch, 0 patched" in d12(six_feet)
    record(six_feet, "unused_holes", "patched", 4)
    assert not [words for words in d12(six_feet) if "patch" in words]


def test_more_sealed_than_made_is_a_wrong_count(six_feet, seal, record):
    seal(six_feet, "seal_under")
    record(six_feet, "gland_box", "gland_screws", 6)
    assert "Sealed under: 104 of 102, 2 too many (gland box 2 too many)" in d12(six_feet)


def test_the_right_sum_in_the_wrong_place_does_not_pass(six_feet, seal, record, entry, bob, now):
    seal(six_feet, "seal_under", gland=False)
    entries = [
        entry(six_feet, "seal_under", "holes", 4, "gland:box"),
        entry(six_feet, "feet", "holes", 24, "panel:1"),
    ]
    events_record(checklist=six_feet, entries=entries, actor=bob, at=now)
    work = work_of(six_feet)
    step = _step(six_feet, "seal_under", "panel:1", work)
    seen = tuple(event.id for event in work.install.state(step)["foot_1"].standing)
    record(six_feet, "seal_under", "foot_1", 8, "panel:1", replaces=seen)
    assert any("a count is in the wrong place" in words for words in d12(six_feet))


def test_cable_holes_are_counted_apart(six_feet, seal, record):
    record(six_feet, "seal_count", "cable_holes_sealed", 1)
    assert "Cable holes: 2 made, 1 sealed" in d12(six_feet)


def _step(checklist, role, subject, work=None):
    return (work or work_of(checklist)).install.step(role, subject)
