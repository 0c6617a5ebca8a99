"""Hours and loads over the web: once each, by whom, corrected with a reason, and never another shop's."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from checklists.models import StepEvent
from checklists.record.hours import job_spans
from checklists.record.loads import job_loads
from jobs.models import Job, LineKind, Quote, QuoteLine
from jobs.schedule import speed


@pytest.fixture
def url(checklist):
    return reverse("checklists:events", args=[checklist.job_id])


@pytest.fixture
def post(client_of, bob, url):
    def make(*events, person=None, **more):
        body = json.dumps({"events": events} | more)
        return client_of(person or bob).post(url, body, content_type="application/json")

    return make


def event(verb, field="", value=None, at="2026-11-25T15:00:00+00:00", **more):
    return {
        "id": str(uuid.uuid4()),
        "step": None,
        "verb": verb,
        "field": field,
        "value": value,
        "at": at,
    } | more


def start(person, field="D", **more):
    return event("start", field, {"who": person.pk, "name": person.get_full_name()}, **more)


def stop(begun, at):
    return event("stop", value={"start": begun["id"]}, at=at)


class TestSent:
    def test_a_clock_runs_from_start_to_stop(self, post, bob, checklist):
        begun = start(bob)
        assert post(begun, stop(begun, "2026-11-25T17:30:00+00:00")).status_code == 200
        (span,) = job_spans(checklist)
        assert (span.who, span.phase, span.ended_by) == (bob.pk, "D", "stop")
        assert span.hours(dt.datetime.now(dt.UTC)) == 2.5

    def test_the_schedule_reads_what_was_worked_by_everybody(self, post, bob, lena, shop, checklist):
        one, two, running = start(bob), start(lena), start(bob, at="2026-11-25T19:00:00+00:00")
        post(
            one, two, stop(one, "2026-11-25T17:30:00+00:00"), stop(two, "2026-11-25T16:00:00+00:00"), running
        )
        job = checklist.job_id
        # 2.5 h and 1 h; a clock that nobody stopped tells nothing yet
        assert speed._READERS[0](shop, [job, job + 1]) == {job: pytest.approx(3.5)}

    def test_times_are_put_right_by_the_measured_offset(self, post, bob, checklist):
        begun = start(bob)
        post(begun, device=str(uuid.uuid4()), offset_ms=120_000)  # the tablet is two minutes slow
        assert job_spans(checklist)[0].start == dt.datetime(2026, 11, 25, 15, 2, tzinfo=dt.UTC)

    def test_a_repeat_is_known_and_counts_once(self, post, bob, checklist):
        begun = start(bob)
        ended = stop(begun, "2026-11-25T16:00:00+00:00")
        post(begun)
        answer = post(ended, begun, ended).json()
        assert (answer["known"], answer["new"]) == ([begun["id"]], [ended["id"]])
        assert post(begun, ended).json()["new"] == []
        assert len(job_spans(checklist)) == 1

    def test_the_same_id_for_another_clock_is_refused(self, post, bob, lena):
        begun = start(bob)
        post(begun)
        assert post(begun | {"value": {"who": lena.pk, "name": "Lena"}}).status_code == 409

    def test_hours_of_a_step_stay_apart_from_its_record(self, post, bob, checklist):
        from checklists.record.read import work_of

        post(start(bob))
        assert work_of(checklist).events == ()
        checklist.job.refresh_from_db()
        assert checklist.job.state == Job.State.READY

    def test_a_clock_is_stopped_after_the_job_was_signed(self, post, bob, checklist):
        begun = start(bob)
        post(begun)
        Job.objects.filter(pk=checklist.job_id).update(state=Job.State.RELEASED)
        assert post(stop(begun, "2026-11-25T18:00:00+00:00")).status_code == 200
        step = checklist.steps.filter(is_in_scope=True).first()
        assert post(event("note", value="late") | {"step": step.pk}).status_code == 409

    def test_what_others_did_comes_to_a_tablet(self, post, bob, client_of, url):
        begun = start(bob)
        post(begun)
        (found,) = client_of(bob).get(url + "?after=").json()["events"]
        assert (found["id"], found["step"], found["verb"]) == (begun["id"], None, "start")
        assert found["done_at"] == "2026-11-25T15:00:00+00:00"

    @pytest.mark.parametrize(
        ("verb", "field", "value", "more"),
        [
            ("start", "Z", {"who": 1, "name": "x"}, {}),
            ("start", "D", {"who": 10**8, "name": "x"}, {}),
            ("start", "D", {"who": True, "name": "x"}, {}),
            ("start", "D", None, {}),
            ("stop", "", {"start": "x"}, {}),
            ("stop", "", {}, {}),
            (
                "correct",
                "D",
                {"start": str(uuid.uuid4()), "from": "2026-11-25T10:00:00+00:00"},
                {"cause": "why"},
            ),
            ("correct", "D", {"from": "2026-11-25T10:00", "to": "2026-11-25T11:00"}, {"cause": "why"}),
            ("load", "", 3, {}),
            ("load", "screws", "many", {}),
            ("load", "screws", -1, {}),
            ("load", "Screws and more", 1, {}),
            ("short", "screws", {"missing": None}, {}),
            ("short", "screws", {"missing": 1, "note": 7}, {}),
            ("record", "", True, {}),
            ("note", "", "words", {}),
            ("undo", "", None, {}),
        ],
    )
    def test_what_cannot_be_right_is_named(self, post, verb, field, value, more):
        bad = event(verb, field, value) | more
        answer = post(bad)
        assert answer.status_code == 409
        assert answer.json()["bad"] == [bad["id"]]
        assert not StepEvent.objects.exists()

    def test_a_clock_of_another_shops_person_is_refused(self, post, charlie):
        assert post(start(charlie)).status_code == 409

    def test_a_job_verb_at_a_step_is_refused(self, post, bob, checklist):
        assert post(start(bob) | {"step": checklist.steps.first().pk}).status_code == 409

    def test_a_correction_wants_a_reason(self, post, bob):
        begun = start(bob)
        post(begun)
        times = {"from": "2026-11-25T10:00:00+00:00", "to": "2026-11-25T11:00:00+00:00"}
        fix = event("correct", "D", {"start": begun["id"]} | times)
        assert "say why" in post(fix).json()["error"]
        assert post(fix | {"cause": "forgot to stop"}).status_code == 200

    def test_the_bookkeeper_starts_no_clock(self, post, ken, bob):
        assert post(start(bob), person=ken).status_code == 409

    def test_another_shop_finds_no_job(self, post, charlie):
        assert post(start(charlie), person=charlie).status_code == 404


class TestOffice:
    def page(self, client_of, person, checklist, name="hours"):
        return client_of(person).get(reverse(f"checklists:{name}", args=[checklist.job_id]))

    def test_plan_against_actual(self, post, bob, lena, alice, client_of, checklist):
        quote = Quote.objects.get(job=checklist.job, state="accepted")
        QuoteLine.objects.create(
            quote=quote, kind=LineKind.LABOUR, code="L05", text="Mount", quantity=Decimal("1.8"), unit="h",
            is_pair=True,
        )  # fmt: skip
        one, two = start(bob), start(lena)
        end = "2026-11-25T17:30:00+00:00"
        post(one, two, stop(one, end), stop(two, end))
        context = self.page(client_of, alice, checklist).context
        row = next(row for row in context["rows"] if row.letter == "D")
        # Two people, 1.8 h each, are 3.6 h sold; both worked 15:00 to 17:30, that is 5 h: 1.4 h over.
        assert (row.sold_h, row.actual_h, round(row.over_h, 6)) == (3.6, 5.0, 1.4)
        assert context["people"] == ["Bob Test", "Lena Test"]

    def test_a_clock_on_another_job_ends_this_one(self, post, bob, checklist):
        begun = start(bob)
        post(begun)
        other = _second_install(checklist)
        StepEvent.objects.create(
            id=uuid.uuid4(), checklist=other, serial=1, verb="start", field="A", by_name="Bob Test",
            value={"who": bob.pk, "name": "Bob Test"}, design_number=1,
            claimed_at=dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC),
            received_at=dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC),
        )  # fmt: skip
        (span,) = job_spans(checklist)
        assert (span.hours(dt.datetime.now(dt.UTC)), span.ended_by) == (1.0, "next")

    def test_a_forgotten_clock_is_asked_about_on_both_pages(self, post, bob, alice, client_of, checklist):
        post(start(bob))  # long ago by the clock of the test
        hours = self.page(client_of, alice, checklist)
        assert [span.name for span in hours.context["asked"]] == ["Bob Test"]
        job = client_of(alice).get(reverse("jobs:job_detail", args=[checklist.job_id])).content.decode()
        assert "when did the work end" in job

    def test_a_hand_puts_it_right_and_both_times_stay(self, post, bob, alice, client_of, checklist):
        begun = start(bob)
        post(begun)
        where = reverse("checklists:hours_by_hand", args=[checklist.job_id]) + f"?clock={begun['id']}"
        data = {
            "submission": str(uuid.uuid4()), "phase": "D", "start": "2026-11-25T08:00",
            "end": "2026-11-25T16:30", "reason": "forgot to stop",
        }  # fmt: skip
        client = client_of(alice)
        assert client.post(where, data).status_code == 302
        assert client.post(where, data).status_code == 302  # the same form twice is one correction
        assert StepEvent.objects.filter(verb="correct").count() == 1
        (span,) = job_spans(checklist)
        assert (span.hours(dt.datetime.now(dt.UTC)), span.corrected_by) == (8.5, "Alice Test")
        # 8:00 in Denver is 15:00 UTC in November: seven hours behind.
        assert span.start == dt.datetime(2026, 11, 25, 15, 0, tzinfo=dt.UTC)
        page = self.page(client_of, alice, checklist).content.decode()
        assert "forgot to stop" in page
        assert "The clock ran" in page

    def test_hours_nobody_started_a_clock_for(self, bob, lena, client_of, checklist):
        where = reverse("checklists:hours_by_hand", args=[checklist.job_id])
        data = {
            "submission": str(uuid.uuid4()), "phase": "F", "person": str(lena.membership.pk),
            "start": "2026-11-25T08:00", "end": "2026-11-25T09:15", "reason": "tablet was flat",
        }  # fmt: skip
        assert client_of(bob).post(where, data).status_code == 302
        assert job_spans(checklist)[0].name == "Lena Test"
        assert client_of(bob).post(where, data | {"end": "2026-11-25T07:00"}).status_code == 422
        assert client_of(bob).post(where, data | {"reason": ""}).status_code == 422

    def test_hours_by_hand_that_overlap_are_told(self, bob, lena, client_of, checklist):
        where = reverse("checklists:hours_by_hand", args=[checklist.job_id])
        data = {"phase": "F", "person": str(lena.membership.pk), "reason": "tablet was flat"}
        for begin, end in (("08:00", "10:00"), ("09:30", "11:00"), ("11:00", "12:00")):
            times = {
                "start": f"2026-11-25T{begin}",
                "end": f"2026-11-25T{end}",
                "submission": str(uuid.uuid4()),
            }
            assert client_of(bob).post(where, data | times).status_code == 302
        page = self.page(client_of, bob, checklist)
        ((one, other),) = page.context["overlaps"]
        assert one.start < other.start < one.end
        assert page.content.decode().count("hours overlap") == 1

    def test_no_person_of_another_shop_can_be_chosen(self, bob, charlie, client_of, checklist):
        where = reverse("checklists:hours_by_hand", args=[checklist.job_id])
        data = {
            "submission": str(uuid.uuid4()), "phase": "F", "person": str(charlie.membership.pk),
            "start": "2026-11-25T08:00", "end": "2026-11-25T09:15", "reason": "tablet was flat",
        }  # fmt: skip
        assert client_of(bob).post(where, data).status_code == 422
        assert not StepEvent.objects.exists()

    def test_a_clock_of_another_job_is_nothing_here(self, bob, client_of, checklist):
        where = reverse("checklists:hours_by_hand", args=[checklist.job_id])
        for name in (uuid.uuid4(), "x"):
            assert client_of(bob).get(f"{where}?clock={name}").status_code == 404

    @pytest.mark.parametrize("name", ["hours", "hours_by_hand", "load"])
    def test_it_hides_our_jobs_from_a_stranger(self, client_of, charlie, checklist, name):
        client, where = client_of(charlie), reverse(f"checklists:{name}", args=[checklist.job_id])
        assert client.get(where).status_code == 404
        assert client.post(where).status_code in {404, 405}


def _second_install(checklist):
    """Return another install of the same shop, as far as clocks look at it."""
    from checklists.models import Checklist

    other = Job.objects.get(pk=checklist.job_id)
    other.pk, other.number = None, "J-OTHER"
    other.save()
    return Checklist.objects.create(
        job=other, design=checklist.design, run=checklist.run, template_version=checklist.template_version,
        opened_at=checklist.opened_at,
    )  # fmt: skip


class TestShortage:
    def test_it_goes_back_to_the_office_until_it_is_settled(self, post, alice, client_of, checklist):
        from checklists.record.pull import pull_list

        line = pull_list(checklist)[0]
        post(event("short", line.key, {"missing": 2, "note": "only two came"}))
        client = client_of(alice)
        job, board, load = (
            reverse("jobs:job_detail", args=[checklist.job_id]), reverse("jobs:job_board"),
            reverse("checklists:load", args=[checklist.job_id]),
        )  # fmt: skip
        assert "only two came" in client.get(job).content.decode()
        assert "Parts missing" in client.get(board).content.decode()
        page = client.get(load)
        assert line.text in page.content.decode()
        form = page.context["settle_forms"][0][1]
        data = {"key": line.key, "submission": str(form.initial["submission"]), "note": "two from the shelf"}
        assert client.post(load, data | {"note": ""}).status_code == 422
        assert client.post(load, data).status_code == 302
        assert client.post(load, data).status_code == 302
        assert StepEvent.objects.filter(verb="short").count() == 2
        assert "only two came" not in client.get(job).content.decode()
        assert "Parts missing" not in client.get(board).content.decode()

    def test_the_other_shop_reads_nothing_of_it(self, post, charlie, client_of):
        post(event("short", "screws", {"missing": 2, "note": "only two came"}))
        assert "Parts missing" not in client_of(charlie).get(reverse("jobs:job_board")).content.decode()

    def test_the_bookkeeper_reads_and_settles_nothing(self, post, ken, client_of, checklist):
        post(event("short", "screws", {"missing": 2, "note": ""}))
        where = reverse("checklists:load", args=[checklist.job_id])
        assert client_of(ken).get(where).status_code == 200
        data = {"key": "screws", "submission": str(uuid.uuid4()), "note": "two from the shelf"}
        assert client_of(ken).post(where, data).status_code == 403
        assert job_loads(checklist).open_shortages

    def test_no_price_is_on_the_list(self, client_of, bob, checklist, odd_costs):
        page = client_of(bob).get(reverse("checklists:load", args=[checklist.job_id])).content.decode()
        assert not odd_costs(page)

    def test_what_is_loaded_is_ticked(self, post, bob, client_of, checklist):
        post(event("load", "screws", 10_000))
        context = client_of(bob).get(reverse("checklists:load", args=[checklist.job_id])).context
        assert context["done"] == 1
