"""Lines ticked one by one, several of a list, steps that do not apply, and from whom a step counts.

What is asked and counted follows from the words of a step alone; common practice of the trade, no source.
"""

from __future__ import annotations

import itertools
import uuid
from typing import Any

import pytest

from checklists.plan.traits import not_here_fields
from checklists.rules.entries import EntryRefused, checked_value
from checklists.rules.fields import spec_from_json, specs_from_json
from checklists.rules.judging import Asks, Mark, StepMark, judge_step, show_value
from checklists.rules.reducer import Event, FieldState, StepState

ORDER = {
    "name": "off", "kind": "lines", "label": "Off, in this order", "ordered": True,
    "lines": [
        ["shore", "Shore out"], ["lp", "LP closed"], ["solar", "Old solar off"], ["minus", "Negative off"],
    ],
}  # fmt: skip
SILENT = {
    "name": "silent", "kind": "several", "label": "Silent", "none_says": "None: all sound",
    "accept": ["none"],
    "choices": [["lp", "LP alarm"], ["co", "CO alarm"]], "fail_says": "Stop.",
}  # fmt: skip
WORDS = {
    "name": "words", "kind": "text", "label": "Words", "required": False,
    "required_if": {"field": "silent", "is": "co"},
}  # fmt: skip
VOLTS = {"name": "volts", "kind": "number", "label": "Volts", "unit": "V", "low": 12, "high": 14}
TICK = {"name": "done", "kind": "tick", "label": "Done"}
STEP = [ORDER, SILENT, WORDS, VOLTS, TICK, *not_here_fields(("no_shore", "maker_forbids", "no_sun", "other"))]
COUNTER = itertools.count(1)


def by(value: Any, name: str = "Bob Test", role: str = "technician") -> FieldState:
    """Return what stands at a field, told by a person."""
    event = Event(uuid.UUID(int=next(COUNTER)), 1, "record", value=value, by_name=name, by_role=role)
    return FieldState((event,))


def judged(asks: Asks | None = None, **values: Any) -> StepMark:
    """Return what the step above says of these values."""
    fields = {name: each if isinstance(each, FieldState) else by(each) for name, each in values.items()}
    return judge_step(specs_from_json(STEP), StepState(fields), asks=asks or Asks())


@pytest.mark.parametrize("ticked", ["shore", "shore,lp", "shore,lp,solar", "shore,lp,solar,minus"])
def test_lines_in_order_are_taken_from_the_top(ticked):
    assert checked_value(spec_from_json(ORDER), ticked) == ticked


def test_the_negative_before_old_solar_is_refused_by_name():
    with pytest.raises(EntryRefused, match="Off, in this order: “Old solar off” comes first"):
        checked_value(spec_from_json(ORDER), "shore,lp,minus")


def test_lines_without_an_order_are_taken_in_any():
    free = spec_from_json({**ORDER, "ordered": False})
    assert checked_value(free, "lp,minus") == "lp,minus"
    with pytest.raises(
        EntryRefused, match="in the order of the list"
    ):  # as it is stored, not as it was tapped
        checked_value(free, "minus,lp")


def test_what_is_not_ticked_is_named():
    assert judged(off="shore,lp")["off"].sentence == "Off, in this order: “Old solar off” is not ticked"
    assert judged()["off"].sentence == "Off, in this order: “Shore out” is not ticked"
    assert judged(off="shore,lp,solar,minus")["off"].mark is Mark.OK


def test_several_are_accepted_only_where_every_one_is():
    assert judged(silent="none")["silent"].mark is Mark.OK
    assert judged(silent="lp")["silent"].mark is Mark.FAIL
    assert show_value(spec_from_json(SILENT), "lp,co") == "LP alarm, CO alarm"
    assert show_value(spec_from_json(SILENT), "none") == "None: all sound"


def test_one_of_several_may_ask_for_words():
    assert judged(silent="lp,co")["words"].mark is Mark.MISSING
    assert judged(silent="lp")["words"].mark is Mark.BLANK


def test_a_step_that_does_not_apply_asks_nothing_and_says_so():
    mark = judged(not_here="no_shore")
    assert mark.is_done
    assert mark.sentences == ("Does not apply: no shore power here",)


def test_what_failed_is_not_left_out_of_the_way():
    """A reading out of its band is let pass by the owner only: the step does not stop applying by it."""
    mark = judged(not_here="no_shore", volts=3.0)
    assert not mark.is_done
    assert mark["volts"].mark is Mark.FAIL
    assert judged(not_here="no_shore", volts=13.0).is_done


@pytest.mark.parametrize(
    ("silent", "is_asked"), [("none", False), ("lp", True), ("co", True), ("lp,co", True)]
)
def test_a_field_may_be_asked_for_several_answers(silent, is_asked):
    own = {"name": "own", "kind": "text", "label": "Own", "required": False,
           "required_if": {"field": "silent", "is": ["lp", "co"]}}  # fmt: skip
    state = StepState(fields={"silent": by(silent)})
    mark = judge_step(specs_from_json([SILENT, own]), state)
    assert (mark["own"].mark is Mark.MISSING) is is_asked


@pytest.mark.parametrize(
    ("reason", "asked"),
    [("other", "not_here_why"), ("maker_forbids", "not_here_photo"), ("no_sun", "not_here_visit")],
)
def test_some_reasons_ask_for_a_proof(reason, asked):
    mark = judged(not_here=reason)
    assert [found.spec.name for found in mark.fields if found.mark.is_open] == [asked]


def test_leaving_out_may_count_only_from_a_lead():
    lead_only = Asks(lead_to_leave_out=True)
    assert not judged(lead_only, not_here="no_shore").is_done
    assert judged(lead_only, not_here=by("no_shore", "Lena Test", "lead_technician")).is_done


def test_a_licensed_step_counts_only_from_the_licensed_person_or_the_owner():
    licensed = Asks(licensed="Ellen Test")
    told = judged(licensed, volts=13.0)["volts"]
    assert (told.mark, told.sentence) == (
        Mark.MISSING,
        "Volts: counts only from the licensed person or the owner",
    )
    assert judged(licensed, volts=by(13.0, "ellen  test"))["volts"].mark is Mark.OK
    assert judged(licensed, volts=by(13.0, "Ann Test", "owner"))["volts"].mark is Mark.OK
    assert judged(Asks(licensed=""), volts=13.0)["volts"].mark is Mark.MISSING
