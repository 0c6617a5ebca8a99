"""What needs attention: one line a cause, the dangerous first and never hidden, a fact said once."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from pathlib import Path

import pytest

import sizing
from sizing import Audience, Check, Danger, Provenance, Verdict, grouped
from sizing.core.checks import UNPROVEN_LIMIT
from sizing.core.concerns import concern_of, listed_concern
from sizing.core.judge import fact_check, limit_check, missing_check
from tests.designs import golden
from tests.property.random_designs import system

SIZING = Path(sizing.__file__).parent
#: Keys of figures, which are numbers without a judgment.
FIGURES = {
    "balance", "days_to_empty", "engine", "shore", "e_day", "current", "next_size",
    "inverter_hours", "required", "warm_up", "warm_up_hours", "pressure",
}  # fmt: skip


def check(key: str, verdict: Verdict = Verdict.CAUTION, **changes) -> Check:
    """Return a hand-made judgment on the subject that its key begins with."""
    made = limit_check(
        rule="F0",
        key=key,
        subject=key.partition("/")[0],
        title=f"Title of {key}",
        value=1.0,
        limit=2.0,
        unit="A",
        sentence=f"Sentence of {key}.",
        source="by hand",
        provenance=Provenance.COMPUTED,
    )
    return replace(made, verdict=verdict, **changes)


def length(circuit: str) -> Check:
    return check(f"circuit:{circuit}/run_len", guesses=(f"circuit:{circuit}.run_len",))


def test_a_clean_design_shows_nothing():
    assert grouped([check("bank/autonomy", Verdict.PASS), check("circuit:C1/ampacity", Verdict.PASS)]) == ()
    assert grouped([]) == ()


def test_six_guessed_lengths_are_one_line_that_names_them():
    rests = check("circuit:C2/drop", Verdict.PASS, guesses=("circuit:C2.run_len",))
    (line,) = grouped([*(length(f"C{n}") for n in (1, 2, 4, 5, 7, 11)), rests])
    assert line.title == "Six guessed lengths"
    assert line.action == "Measure these six: C1, C2, C4, C5, C7 and C11."
    assert line.verdict is Verdict.CAUTION
    assert not line.is_dangerous


def test_a_guess_that_ten_checks_rest_on_is_one_line():
    resting = [check(f"circuit:C{n}/ampacity", Verdict.PASS, guesses=("site.tmax",)) for n in range(1, 11)]
    (line,) = grouped(resting, guess_words=lambda name: f"<{name}>")
    assert line.title == "One guessed fact"
    assert line.sentence == "10 checks rest on a guess."
    assert line.action == "Measure or ask: <site.tmax>."
    assert line.danger is Danger.PEOPLE  # a cable's ampacity rests on it


def test_what_engine_and_office_find_missing_in_the_schedule_is_one_line():
    """The engine names cables of things on the bank, the office those and the others that it plans for."""
    rows = tuple(one for one in golden().circuits if one.id != "C3")
    engine = sizing.size_system(replace(golden(), circuits=rows)).check("circuits/feeds")
    assert "Not in the schedule: C3 " in engine.sentence
    office = check("circuits/complete", Verdict.NOT_ENOUGH_DATA, action="Add these circuits to the schedule.")
    (line,) = grouped([engine, office])
    assert (line.title, line.action) == ("Circuit schedule complete", "Add these circuits to the schedule.")
    assert line.sentence == engine.sentence
    assert line.is_dangerous


def test_devices_of_one_fault_are_one_line():
    (line,) = grouped([check(f"circuit:C{n}/interrupting") for n in (3, 9, 11)])
    assert line.title == "Interrupting rating of 3 fuses or breakers"
    assert line.sentence == "C3, C9 and C11."
    assert line.action == "Choose fuses or breakers that can break this current."
    assert [one.subject for one in line.members] == ["circuit:C3", "circuit:C9", "circuit:C11"]
    assert line.is_dangerous


def test_each_sentence_is_told_once_of_all_it_is_said_of():
    same = [replace(check(f"circuit:C{n}/interrupting"), sentence="Too weak.") for n in (3, 9)]
    (line,) = grouped([*same, check("circuit:C4/interrupting")])
    assert line.told == (("C3 and C9", "Too weak."), ("C4", "Sentence of circuit:C4/interrupting."))
    (alone,) = grouped([check("controller:A/cold_voc"), check("controller:A/cold_voc_methods")])
    assert [subjects for subjects, _ in alone.told] == ["", ""]


def test_the_worst_of_one_cause_leads_and_gives_its_verdict():
    found = [check("controller:A/cold_voc_methods"), check("controller:A/cold_voc", Verdict.BLOCK)]
    (line,) = grouped(found)
    assert line.verdict is Verdict.BLOCK
    assert line.title == "Title of controller:A/cold_voc"
    assert line.sentence == "Sentence of controller:A/cold_voc."
    assert len(line.members) == 2


def test_one_check_speaks_for_itself():
    (line,) = grouped([check("bank/autonomy")])
    assert (line.title, line.sentence) == ("Title of bank/autonomy", "Sentence of bank/autonomy.")
    assert line.audience is Audience.CUSTOMER


def test_things_are_called_by_their_names_where_they_have_one():
    narrow = [
        check("walkway", subject=f"obstacle:{pk}", sentence=f"Too narrow by {pk} mm.") for pk in (1003, 1006)
    ]
    narrow = [replace(one, key=f"{one.subject}/walkway", action="Make room.") for one in narrow]
    (named,) = grouped(narrow, subject_names={"obstacle:1003": "Front vent", "obstacle:1006": "TV antenna"})
    assert named.told == (("Front vent", "Too narrow by 1003 mm."), ("TV antenna", "Too narrow by 1006 mm."))
    (plain,) = grouped(narrow)
    assert plain.subjects == ("obstacle 1003", "obstacle 1006")


def test_danger_comes_before_cost():
    order = [
        check("bank/autonomy", Verdict.BLOCK),
        check("circuit:C1/protection", Verdict.BLOCK),
        check("controller:A/clip"),
        check("controller:A/pv_isc"),
        check("circuit:C2/ocpd_rating"),
        missing_check(
            rule="F0", key="vehicle/axles", subject="vehicle", title="Axles", missing="the wheelbase"
        ),
    ]
    causes = [line.cause for line in grouped(order)]
    assert causes == ["protection", "autonomy", "seek:measure", "ocpd_rating", "pv_isc", "clip"]


def test_the_least_room_comes_first_among_equals():
    found = grouped([check("bank/surge", margin=-0.1), check("bank/discharge", margin=-0.6)])
    assert [line.cause for line in found] == ["discharge", "surge"]


def test_what_is_not_known_is_grouped_by_how_it_is_found():
    def missing(key: str, fact: str) -> Check:
        return missing_check(rule="F0", key=key, subject=key.partition("/")[0], title=key, missing=fact)

    found = grouped(
        [
            missing("vehicle/axles", "the wheelbase"),
            missing("roof/uplift", "the thickness of the roof deck"),
            missing("vehicle/cargo_left", "the wheelbase"),
            missing("controller:A/cold_voc", "the lowest temperature"),
        ]
    )
    measure, ask = found
    assert measure.title == "Two facts to measure"
    assert measure.action == "Measure on the vehicle: the wheelbase and the thickness of the roof deck."
    waiting = "vehicle/axles, roof/uplift and vehicle/cargo_left"
    assert measure.sentence == f"Cannot be judged until then: {waiting}."
    assert ask.action == "Ask the customer: the lowest temperature."
    assert {line.verdict for line in found} == {Verdict.NOT_ENOUGH_DATA}


def remembered(key: str, value: float, limit: float = 2.0) -> Check:
    return limit_check(
        rule="F0",
        key=key,
        subject=key.partition("/")[0],
        title=key,
        value=value,
        limit=limit,
        unit="A",
        source="by heart",
        provenance=Provenance.MEMORY,
    )


def test_limits_known_from_memory_are_one_line():
    found = grouped([remembered("circuit:C2/ampacity", 1.0), remembered("bank/surge", 1.9)])
    (line,) = found
    assert line.cause == UNPROVEN_LIMIT
    assert line.title == "Two limits to check against the printed standard"
    assert "C2, circuit:C2/ampacity; bank, bank/surge" in line.sentence


def test_a_remembered_limit_that_is_near_stands_alone_where_people_can_be_hurt():
    near, far = remembered("circuit:C2/ampacity", 1.9), remembered("circuit:C3/ampacity", 1.0)
    assert [line.cause for line in grouped([far, near])] == ["ampacity", UNPROVEN_LIMIT]


def test_a_remembered_limit_that_is_exceeded_is_no_mere_limit_to_look_up():
    (line,) = grouped([remembered("circuit:C2/ampacity", 2.1)])
    assert (line.cause, line.verdict) == ("ampacity", Verdict.BLOCK)


def test_no_room_at_all_is_more_than_a_limit_to_look_up():
    assert [line.cause for line in grouped([remembered("bank/surge", 2.0)])] == ["surge"]


def test_a_fact_known_from_memory_says_so_by_its_cause():
    made = fact_check(
        rule="F0",
        key="bank/step_down",
        subject="bank",
        title="t",
        is_met=True,
        source="by heart",
        provenance=Provenance.QUOTED_ONCE,
    )
    assert (made.verdict, made.cause) == (Verdict.CAUTION, UNPROVEN_LIMIT)


def test_what_a_check_says_itself_wins_over_the_table():
    own = check(
        "bank/surge", cause="mine", action="Do this.", danger=Danger.PEOPLE, audience=Audience.CUSTOMER
    )
    (line,) = grouped([own])
    assert (line.cause, line.action, line.danger) == ("mine", "Do this.", Danger.PEOPLE)
    assert line.audience is Audience.CUSTOMER


def test_a_check_nobody_listed_is_dangerous_and_for_the_desk():
    concern = concern_of(check("moon/cheese"))
    assert (concern.danger, concern.audience) == (Danger.PEOPLE, Audience.DESK)
    (line,) = grouped([check("moon/cheese")])
    assert line.is_dangerous


def test_several_nobody_listed_are_named_by_their_titles():
    (line,) = grouped([check("moon/cheese"), check("mars/cheese")])
    assert line.title == "Title of moon/cheese and Title of mars/cheese"
    assert line.sentence == "Sentence of moon/cheese. Sentence of mars/cheese."


def test_a_missing_fact_whose_check_says_what_to_do_stands_for_itself():
    own = check("roof/unwired", Verdict.NOT_ENOUGH_DATA, action="Put them into strings.")
    (line,) = grouped([own])
    assert (line.cause, line.action) == ("unwired", "Put them into strings.")


def test_what_a_person_took_note_of_is_not_in_the_list():
    found = [length("C1"), length("C2"), check("circuit:C3/drop", guesses=("circuit:C1.run_len",))]
    lines = grouped(found, set_aside={"circuit:C1/run_len"})
    assert [line.action for line in lines if line.cause == "lengths"] == ["Measure this one: C2."]
    assert grouped([length("C1")], set_aside={"circuit:C1/run_len"}) == ()


def test_a_line_is_for_the_customer_if_anything_in_it_is():
    (line,) = grouped([check("energy/array_margin"), check("energy/harvest")])
    assert line.audience is Audience.CUSTOMER
    (line,) = grouped([check("energy/array_margin")])
    assert line.audience is Audience.DESK


def test_no_check_is_lost():
    """Every check that does not pass stands in exactly one line."""
    checks = sizing.size_system(golden()).checks
    open_keys = sorted(one.key for one in checks if one.verdict is not Verdict.PASS)
    assert sorted(one.key for line in grouped(checks) for one in line.members) == open_keys


@pytest.mark.parametrize("seed", range(40))
def test_no_check_of_any_design_is_lost_or_unlisted(seed):
    try:
        checks = sizing.size_system(system(random.Random(seed).randbytes(4096))).checks
    except sizing.InputOutOfRange:
        return
    assert {one.key for one in checks if listed_concern(one.key) is None} == set()
    open_keys = sorted(one.key for one in checks if one.verdict is not Verdict.PASS)
    lines = grouped(checks)
    assert sorted(one.key for line in lines for one in line.members) == open_keys
    for line in lines:
        assert line.verdict.severity >= max((one.verdict.severity for one in line.members), default=0)


def test_every_key_written_in_the_engine_has_a_danger():
    """Read from the source, so that a check no example reaches is not forgotten."""
    pattern = re.compile(r"""key(?:, title)? = f?"([^"]+)"|key=f?"([^"]+)"|found\.key\("([^"]+)"\)""")
    words = set()
    for path in SIZING.rglob("*.py"):
        if "shade" not in path.parts:
            words |= {"".join(found).rpartition("/")[2] for found in pattern.findall(path.read_text())}
    words = {word for word in words if not word.startswith(("controller:", "source:"))}  # keys of chargers
    written = {word.partition("{")[0].rstrip("_") for word in words} - FIGURES - {""}
    assert len(written) > 50
    assert {word for word in written if listed_concern(f"any/{word}") is None} == set()


def test_it_is_stored_and_read_back():
    result = sizing.size_system(golden())
    first = replace(
        result.checks[0], danger=Danger.PEOPLE, audience=Audience.CUSTOMER, cause="c", action="a", missing="m"
    )
    stored = sizing.result_to_dict(replace(result, checks=(first,)))
    assert sizing.result_from_dict(stored).checks == (first,)
    for name in ("danger", "audience", "cause", "action", "missing"):  # an answer of an earlier engine
        del stored["checks"][0][name]
    (older,) = sizing.result_from_dict(stored).checks
    assert (older.danger, older.cause) == (None, "")
