"""Saving a page of the survey: who may, what is written, what is logged, which sums are renewed."""

from __future__ import annotations

import uuid

import pytest

from jobs.design.revision import design_resize
from jobs.design.survey_saved import SurveyRefused, survey_save
from jobs.models import Job, LogEntry, Survey, Vehicle
from jobs.shop.refusals import Refusal
from jobs.survey.changes import PartChanges, RowChanges

KEY = uuid.UUID("0f2d7b1c5e8a4c11b6a2d4e6f8091a2b")
KETTLE = {"name": "Kettle", "bus": "ac", "power_w": 1000.0, "duty_fraction": 1.0, "hours_per_day": 0.1}


@pytest.fixture
def survey(golden_job):
    return golden_job.survey


@pytest.fixture
def save(survey, erin, now):
    def make(actor=erin, **changes):
        changed = PartChanges(**changes)
        return survey_save(survey=survey, part_title="Roof", changes=changed, actor=actor, at=now)

    return make


def adding(values, key=KEY):
    return {"rows": {"loads": RowChanges(write=((key, dict(values)),))}}


def test_it_writes_what_was_touched_and_nothing_else(save, survey):
    Survey.objects.filter(pk=survey.pk).update(crown_mm=33)  # somebody else, meanwhile
    save(survey={"roof_length_m": 8.0}, vehicle={"overall_height_m": 3.5}, labels=("Roof length",))
    survey.refresh_from_db()
    assert (survey.roof_length_m, survey.crown_mm) == (8.0, 33)
    assert Vehicle.objects.get(pk=survey.job.vehicle_id).overall_height_m == 3.5


def test_it_says_in_the_log_who_changed_what(save, survey, now):
    save(survey={"roof_length_m": 8.0}, labels=("Roof length",), **adding(KETTLE))
    entry = LogEntry.objects.get(verb="survey changed")
    assert (entry.job, entry.actor_name, entry.at) == (survey.job, "Erin Test", now)
    assert entry.detail == "Roof: Roof length, 1 row"


def test_the_same_page_sent_twice_keeps_one_row_and_one_line_of_log(save, survey):
    before = survey.loads.count()
    save(**adding(KETTLE))
    save(**adding(KETTLE))
    assert survey.loads.count() == before + 1
    assert LogEntry.objects.filter(verb="survey changed").count() == 1


def test_a_row_sent_again_with_other_values_is_corrected_not_doubled(save, survey):
    before = survey.loads.count()
    save(**adding(KETTLE))
    save(**adding(KETTLE | {"power_w": 1200.0}))
    assert survey.loads.count() == before + 1
    assert survey.loads.get(key=KEY).power_w == 1200


def test_a_new_row_stands_last(save, survey):
    save(**adding(KETTLE))
    assert survey.loads.last().name == "Kettle"


def test_a_row_is_removed_by_its_key_only_from_this_survey(save, survey):
    other = Survey.objects.exclude(pk=survey.pk).filter(loads__isnull=False).first()
    theirs, ours = other.loads.first(), survey.loads.first()
    save(rows={"loads": RowChanges(remove=(theirs.key, ours.key))})
    assert other.loads.filter(pk=theirs.pk).exists()
    assert not survey.loads.filter(pk=ours.pk).exists()


def test_marks_are_set_and_taken_away(save, survey):
    Survey.objects.filter(pk=survey.pk).update(guessed_fields=["roof.deck"], absent_kinds=["generator"])
    save(guesses={"roof.deck": False, "roof.crown": True}, absent={"generator": False, "inverter": True})
    survey.refresh_from_db()
    assert (survey.guessed_fields, survey.absent_kinds) == (["roof.crown"], ["inverter"])


def test_a_flag_is_kept_with_what_was_confirmed_and_goes_with_an_empty_one(save, survey):
    save(flags={"roof_length_m": "Roof length 15 m (usual: 1.5 m to 14 m)"})
    survey.refresh_from_db()
    assert survey.flags == {"roof_length_m": "Roof length 15 m (usual: 1.5 m to 14 m)"}
    save(flags={"roof_length_m": ""})
    survey.refresh_from_db()
    assert survey.flags == {}


def test_drafts_that_were_sized_get_new_sums(save, survey, erin, now):
    design = survey.job.designs.get()
    design_resize(design, actor=erin, at=now)
    before = design.runs.first().result
    save(**adding(KETTLE))
    assert design.runs.count() == 2
    assert design.runs.first().result != before


def test_drafts_nobody_sized_yet_are_left_alone(save, survey):
    save(**adding(KETTLE))
    assert survey.job.designs.get().runs.count() == 0


def test_nothing_changed_writes_nothing(save, survey, django_assert_max_num_queries):
    save(survey={"roof_length_m": survey.roof_length_m})
    assert not LogEntry.objects.filter(verb="survey changed").exists()


@pytest.mark.parametrize("person", ["bob", "lena", "ken"])
def test_it_refuses_people_who_do_not_survey(save, survey, person, request):
    with pytest.raises(Refusal, match="owner or an estimator"):
        save(actor=request.getfixturevalue(person), survey={"roof_length_m": 8.0})
    survey.refresh_from_db()
    assert survey.roof_length_m == 7.9


def test_it_refuses_the_owner_of_another_shop(save, charlie):
    with pytest.raises(Refusal):
        save(actor=charlie, survey={"roof_length_m": 8.0})


@pytest.mark.parametrize("state", ["released", "paid", "cancelled"])
def test_it_refuses_when_the_job_is_closed(save, survey, state):
    Job.objects.filter(pk=survey.job_id).update(state=state)
    with pytest.raises(SurveyRefused, match="stays as it was"):
        save(survey={"roof_length_m": 8.0})


def test_it_refuses_what_the_column_cannot_hold(save):
    with pytest.raises(SurveyRefused):
        save(survey={"battery_place": "x" * 200})
