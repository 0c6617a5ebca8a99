"""A choice that contradicts the survey or the roof is a deviation that somebody has to decide.

What suits what is common practice for roofs of vehicles, no standard: EPDM and TPO take butyl tape under and
their own lap sealant over; PVC takes butyl; polyurethane and MS polymer are for fiberglass and metal.
"""

from __future__ import annotations

import uuid

import pytest

from checklists.models import Deviation
from checklists.record.deviations import deviation_accept
from checklists.record.events import events_record
from checklists.record.read import work_of
from checklists.rules.choices import OVER, UNDER, contradictions
from checklists.rules.entries import Entry
from checklists.sheet.draft import sheet_draft
from jobs.shop.rights import NotAllowed
from tests.roles import step_of

REASON = "The maker's label allows it on this roof"


def put(checklist, name, value, actor, now):
    """Record a choice at the step that has it, whichever list of steps the job is on."""
    work = work_of(checklist)
    step = next(s for s in work.install.in_scope for spec in s.specs if spec.name == name)
    state = work.install.state(step)[name]
    made = Entry(
        id=uuid.uuid4(), step=step.pk, field=name, value=value,
        replaces=tuple(event.id for event in state.standing),
    )  # fmt: skip
    done = events_record(checklist=checklist, entries=[made], actor=actor, at=now)
    checklist.refresh_from_db()
    return done


@pytest.fixture(params=["1", "2"])
def found(request, opened):
    return opened(request.param)


@pytest.fixture
def surveyed(found):
    """Return the material the golden job was surveyed with."""
    return found.facts["material"]


def test_another_material_than_surveyed_raises_a_deviation_that_shuts_its_hold(found, surveyed, lena, now):
    other = "epdm" if surveyed != "epdm" else "tpo"
    done = put(found, "material", other, lena, now)
    (row,) = [each for each in done.deviations if each.check_key.startswith("choice/")]
    assert row.blocks
    assert row.can_be_accepted
    assert "surveyed" in row.sentence
    work = work_of(found)
    shut = {
        hold.step.role for hold in work.holds.all() for item in hold.items if item.sentence == row.sentence
    }
    assert shut == {"layout_accepted", "go"}


def test_the_material_as_surveyed_raises_nothing(found, surveyed, lena, now):
    done = put(found, "material", surveyed, lena, now)
    assert not [each for each in done.deviations if each.check_key.startswith("choice/")]


def test_a_later_value_that_is_right_closes_it(found, surveyed, lena, now):
    put(found, "material", "pvc" if surveyed != "pvc" else "tpo", lena, now)
    put(found, "material", surveyed, lena, now)
    rows = Deviation.objects.filter(checklist=found, check_key__startswith="choice/")
    assert [row.state for row in rows] == ["resolved"]


def test_the_owner_decides_by_name_and_the_sheet_prints_it(found, lena, alice, now):
    put(found, "under_family", "tape", lena, now)
    row = Deviation.objects.get(checklist=found, check_key__startswith="choice/under_family")
    with pytest.raises(NotAllowed):
        deviation_accept(deviation=row, reason=REASON, actor=lena, at=now)
    deviation_accept(deviation=row, reason=REASON, actor=alice, at=now)
    put(found, "over_family", "lap", lena, now)  # another batch leaves what was decided alone
    row.refresh_from_db()
    assert row.state == "accepted"
    printed = next(each for each in sheet_draft(found).content["deviations"] if each["title"] == row.title)
    assert (printed["by"], printed["decision"]) == ("Alice Test", REASON)
    assert "owner" in sheet_draft(found).required


@pytest.mark.parametrize(
    ("material", "name", "value", "suits"),
    [
        ("epdm", "under_family", "butyl", True),
        ("epdm", "under_family", "lap", True),
        ("epdm", "under_family", "polyurethane", False),
        ("tpo", "under_family", "butyl", True),
        ("tpo", "under_family", "tape", False),
        ("tpo", "over_family", "lap", True),
        ("tpo", "over_family", "ms_polymer", False),
        ("pvc", "over_family", "polyurethane", False),
        ("fibreglass", "under_family", "ms_polymer", True),
        ("fibreglass", "over_family", "polyurethane", True),
        ("aluminium", "over_family", "ms_polymer", True),
        ("steel", "under_family", "tape", True),
        ("steel", "over_family", "lap", False),
    ],
)
def test_sealant_and_tape_are_set_against_the_roof_as_found(
    second_list, lena, now, material, name, value, suits
):
    put(second_list, "material", material, lena, now)
    put(second_list, name, value, lena, now)
    keys = {each.key for each in contradictions(work_of(second_list).install)}
    assert (f"choice/{name}/{value}/{material}" not in keys) == suits


def test_a_sealant_recorded_first_is_judged_when_the_roof_turns_out_another(second_list, lena, now):
    put(second_list, "over_family", "lap", lena, now)
    put(second_list, "material", "steel", lena, now)
    open_keys = set(
        Deviation.objects.filter(checklist=second_list, state="open").values_list("check_key", flat=True)
    )
    assert {"choice/material/steel", "choice/over_family/lap/steel"} <= open_keys


def test_every_roof_that_may_be_worked_on_has_something_that_suits(second_list):
    spec = next(
        spec for spec in work_of(second_list).install.step("roof_checked").specs if spec.name == "material"
    )
    assert set(spec.accept) == UNDER.keys() == OVER.keys()
    sealant = {each.name: each for each in work_of(second_list).install.step("sealant").specs}
    for name, table in (("under_family", UNDER), ("over_family", OVER)):
        offered = {value for value, _ in sealant[name].choices}
        assert all(set(suited) and set(suited) <= offered for suited in table.values())


def test_nothing_is_said_of_a_roof_nobody_has_seen(second_list, record, lena, now):
    step = step_of(second_list, "roof_checked")
    fields = [field | {"expected": None} if field["name"] == "material" else field for field in step.fields]
    type(step).objects.filter(pk=step.pk).update(fields=fields)
    put(second_list, "under_family", "tape", lena, now)
    assert contradictions(work_of(second_list).install) == ()
