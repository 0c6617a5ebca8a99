"""Work in the background: one worker a row, progress, and what happens when the row goes or the work fails.

Asked of the year of shade, whose rows count how often they were claimed, and of the search for layouts, whose
rows do not.
"""

from __future__ import annotations

import datetime as dt
import time
from functools import partial

import pytest

from common import background
from common.background import FORGOTTEN, MOST_ATTEMPTS, SILENT, GivenUp
from jobs.autolayout.run import RUNS as SEARCHES
from jobs.models import LayRun, ShadeRun
from jobs.shade.run import RUNS as YEARS

pytestmark = pytest.mark.django_db

WORDS = "It stopped; the server's log says where."
EVERY = dt.timedelta(seconds=2)


class Watch:
    """A clock that is set by hand."""

    def __init__(self, at: dt.datetime) -> None:
        self.at = at

    def __call__(self) -> dt.datetime:
        return self.at

    def wait(self, seconds: float) -> None:
        self.at += dt.timedelta(seconds=seconds)


@pytest.fixture
def clock(now):
    return Watch(now)


@pytest.fixture
def year(golden_job, now):
    """Return a row that counts how often it was claimed."""
    return ShadeRun.objects.create(design=golden_job.designs.get(), at=now, touched_at=now)


@pytest.fixture
def search(golden_job, now):
    """Return a row that does not."""
    return LayRun.objects.create(design=golden_job.designs.get(), at=now, touched_at=now)


@pytest.fixture(params=["year", "search"])
def either(request):
    """Return a waiting row of each kind with its queue."""
    return {"year": YEARS, "search": SEARCHES}[request.param], request.getfixturevalue(request.param)


def stored(row, *names):
    """Return what the database holds of a row by now."""
    return type(row).objects.values_list(*names).get(pk=row.pk)


# --- claiming -------------------------------------------------------------------------------------


def test_a_waiting_row_is_claimed_once(either, clock):
    queue, row = either
    clock.wait(5)
    run = queue.claim(row.pk, clock)
    assert (run.row.pk, run.row.state, run.row.touched_at) == (row.pk, "running", clock.at)
    assert queue.claim(row.pk, clock) is None


def test_a_claim_is_counted_and_begins_afresh(year, clock):
    ShadeRun.objects.update(error="ink", doing="Half way", progress_fraction=0.5)
    YEARS.claim(year.pk, clock)
    assert stored(year, "attempts", "error", "doing", "progress_fraction") == (1, "", "", 0.0)


@pytest.mark.parametrize("state", ["running", "done", "failed"])
def test_what_does_not_wait_is_left_alone(either, clock, state):
    queue, row = either
    type(row).objects.update(state=state)
    done = []
    queue.work(row.pk, done.append, clock=clock, words=WORDS)
    assert (done, stored(row, "state", "touched_at")) == ([], (state, row.touched_at))


def test_a_row_that_is_gone_is_no_work(either, clock):
    queue, row = either
    row_pk = row.pk
    row.delete()
    done = []
    queue.work(row_pk, done.append, clock=clock, words=WORDS)
    assert done == []


# --- progress and end -----------------------------------------------------------------------------


def test_the_work_writes_its_own_end(year, clock):
    def do(run):
        clock.wait(9)
        assert run.end("done", result={"kwh": 1})

    YEARS.work(year.pk, do, clock=clock, words=WORDS)
    facts = stored(year, "state", "result", "progress_fraction", "doing", "touched_at")
    assert facts == ("done", {"kwh": 1}, 1.0, "", clock.at)


def test_progress_is_told_no_oftener_than_asked(either, clock):
    queue, row = either
    run = queue.claim(row.pk, clock)
    seen = []
    for second, share in enumerate((0.1, 0.2, 0.3, 0.4)):  # told at 0 s and 2 s, kept back at 1 s and 3 s
        assert run.tell(share, f"at {second} s", every=EVERY)
        seen.append(stored(row, "progress_fraction", "doing"))
        clock.wait(1)
    assert seen == [(0.1, "at 0 s"), (0.1, "at 0 s"), (0.3, "at 2 s"), (0.3, "at 2 s")]


# --- not ours any more ----------------------------------------------------------------------------


def writes_nothing(run, row, clock):
    """Hold that a run whose row was lost says so and leaves the row as it is."""
    before = list(type(row).objects.values())
    clock.wait(9)
    assert not run.write(error="late")
    assert not run.end("done")
    assert not run.tell(0.9, "late", every=EVERY)
    clock.wait(9)
    with pytest.raises(GivenUp):
        run.tell_or_give_up(0.9, "late", every=EVERY)
    assert list(type(row).objects.values()) == before


def test_a_row_deleted_meanwhile_is_not_written_on(either, clock):
    queue, row = either
    run = queue.claim(row.pk, clock)
    type(row).objects.all().delete()
    writes_nothing(run, row, clock)


def test_a_row_stopped_by_hand_is_not_written_on(search, clock):
    run = SEARCHES.claim(search.pk, clock)
    LayRun.objects.update(state="stopped")
    writes_nothing(run, search, clock)


def test_a_row_another_worker_took_over_is_not_written_on(year, clock):
    run = YEARS.claim(year.pk, clock)
    clock.wait(SILENT.total_seconds() + 1)
    YEARS.take_up(error="twice", at=clock(), enqueue=partial(YEARS.claim, clock=clock))
    assert stored(year, "state", "attempts") == ("running", 2)
    writes_nothing(run, year, clock)


def test_work_on_a_lost_row_ends_without_a_word(either, clock, caplog):
    queue, row = either

    def do(run):
        type(row).objects.update(state="failed", error="Stopped by hand.")
        run.tell_or_give_up(0.5, "going on", every=EVERY)
        raise AssertionError("the work went on")

    queue.work(row.pk, do, clock=clock, words=WORDS)
    assert (stored(row, "state", "error"), caplog.text) == (("failed", "Stopped by hand."), "")


def test_a_failure_is_not_written_on_a_lost_row(year, clock, caplog):
    def do(run):
        ShadeRun.objects.update(attempts=2)
        raise ZeroDivisionError

    YEARS.work(year.pk, do, clock=clock, words=WORDS)
    assert stored(year, "state", "attempts", "error") == ("running", 2, "")
    assert "ZeroDivisionError" in caplog.text


# --- failures -------------------------------------------------------------------------------------


def fails(problem):
    """Return work that fails."""

    def do(run):
        raise problem

    return do


def test_an_unexpected_failure_is_logged_and_told_in_a_sentence(either, clock, caplog):
    queue, row = either
    queue.work(row.pk, fails(ZeroDivisionError("secret")), clock=clock, words=WORDS)
    assert stored(row, "state", "error") == ("failed", WORDS)
    assert "ZeroDivisionError: secret" in caplog.text
    assert f"run {row.pk}" in caplog.text


def test_a_failure_that_explains_itself_is_told_as_it_is(either, clock, caplog):
    queue, row = either
    queue.work(row.pk, fails(KeyError("place")), clock=clock, words=WORDS, explained=(LookupError,))
    assert (stored(row, "state", "error"), caplog.text) == (("failed", "'place'"), "")


def test_a_failure_may_be_explained_in_other_words(either, clock):
    queue, row = either
    queue.work(
        row.pk,
        fails(LookupError("path")),
        clock=clock,
        words=WORDS,
        explained=(LookupError,),
        explain=lambda problem: f"No {problem} there.",
    )
    assert stored(row, "error") == ("No path there.",)


def test_what_ends_the_worker_is_not_taken_for_a_failure(year, clock):
    with pytest.raises(KeyboardInterrupt):
        YEARS.work(year.pk, fails(KeyboardInterrupt()), clock=clock, words=WORDS)
    assert stored(year, "state") == ("running",)


# --- after a stop ---------------------------------------------------------------------------------


def test_work_that_stopped_is_taken_up_again_then_given_up(year, clock):
    asked = []
    found = []
    for _ in range(MOST_ATTEMPTS):
        YEARS.claim(year.pk, clock).tell(0.5, "Half way", every=EVERY)
        clock.wait(60)
        found.append(YEARS.take_up(error="It stopped twice.", at=clock(), enqueue=asked.append))
    assert found == [1, 1]
    assert asked == [year.pk]  # once: after the second stop nothing waits
    assert stored(year, "state", "error", "touched_at") == ("failed", "It stopped twice.", clock.at)


def test_work_taken_up_again_begins_at_nothing(year, clock):
    YEARS.claim(year.pk, clock).tell(0.5, "Half way", every=EVERY)
    clock.wait(60)
    YEARS.take_up(error="twice", at=clock(), enqueue=lambda pk: None)
    assert stored(year, "state", "progress_fraction", "doing", "error") == ("queued", 0.0, "", "")


def test_uncounted_work_that_stopped_fails_at_once(search, clock):
    asked = []
    SEARCHES.claim(search.pk, clock)
    clock.wait(60)
    assert SEARCHES.take_up(error="It stopped.", at=clock(), enqueue=asked.append) == 1
    assert (asked, stored(search, "state", "error")) == ([], ("failed", "It stopped."))


def test_what_waits_and_what_ended_stay_as_they_are(either, clock):
    queue, row = either
    asked = []
    clock.wait(60)
    assert queue.take_up(error="no", at=clock(), enqueue=asked.append) == 0
    assert asked == []
    type(row).objects.update(state="done")
    clock.wait(FORGOTTEN.total_seconds())
    assert queue.take_up(error="no", at=clock(), enqueue=asked.append) == 0
    assert (asked, stored(row, "state", "error")) == ([], ("done", ""))


def test_what_lost_its_place_in_the_queue_gets_another(either, clock):
    queue, row = either
    asked = []
    clock.wait(FORGOTTEN.total_seconds() + 1)
    for _ in "two workers":
        queue.take_up(error="no", at=clock(), enqueue=asked.append)
    assert asked == [row.pk]  # once: whoever was first touched it


def test_work_of_a_worker_that_lives_is_left_to_it(either, clock):
    queue, row = either
    run = queue.claim(row.pk, clock)
    clock.wait(SILENT.total_seconds() - 1)
    run.write()  # its beat
    clock.wait(SILENT.total_seconds() - 1)
    assert queue.take_up(error="no", at=clock(), enqueue=[].append) == 0
    assert stored(row, "state") == ("running",)


@pytest.mark.django_db(transaction=True)
def test_long_work_says_that_it_lives(golden_job, now, monkeypatch):
    """The work itself writes nothing; the thread beside it does, at each beat."""
    monkeypatch.setattr(background, "BEAT", dt.timedelta(seconds=0.05))
    year = ShadeRun.objects.create(design=golden_job.designs.get(), at=now, touched_at=now)
    moments = iter(now + dt.timedelta(seconds=s) for s in range(10**6)).__next__
    seen = set()

    def do(run):
        until = time.monotonic() + 20
        while len(seen) < 3 and time.monotonic() < until:
            seen.add(stored(year, "touched_at"))
            time.sleep(0.01)
        run.end("done")

    YEARS.work(year.pk, do, clock=moments, words=WORDS)
    assert len(seen) == 3
    assert stored(year, "state") == ("done",)
