"""Workers of an installation: lanes, what stopped with its worker, and what is due by the clock."""

from __future__ import annotations

import datetime as dt
import time

import pytest
from django.core.management import CommandError, call_command
from django.tasks import task
from django_tasks_db.models import DBTaskResult

from common.background import SILENT
from config.models import Periodic, WorkerBeat
from config.work import keeper as keeping
from config.work.keeper import MOST_TRIES, Keeper, take_up_all
from config.work.lanes import LANES, start_lanes
from config.work.periodic import CLOCK, Due, start_due

DONE = []


@task(queue_name="papers")
def paper(number):
    """Stand for work in the lane of papers."""
    DONE.append(number)


@task(queue_name="shade")
def long_shade(number):
    """Stand for work that takes its time."""
    time.sleep(0.8)
    DONE.append(number)


@pytest.fixture(autouse=True)
def database_queue(settings):
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": []}}
    DONE.clear()


@pytest.mark.django_db(transaction=True)
def test_a_letter_does_not_wait_for_shade():
    """Two lanes work side by side: what is enqueued last in the quick one ends first."""
    for number in range(2):
        long_shade.enqueue(number)
    workers = start_lanes(["papers", "shade"])
    paper.enqueue("paper")
    until = time.monotonic() + 30
    while len(DONE) < 3 and time.monotonic() < until:
        time.sleep(0.05)
    workers.stop()
    workers.join()
    assert DONE.index("paper") < 2
    assert sorted(map(str, DONE)) == ["0", "1", "paper"]
    assert WorkerBeat.objects.get().lanes == "papers,shade"


@pytest.mark.django_db(transaction=True)
def test_a_lane_goes_on_after_its_database_was_away(monkeypatch, caplog):
    """The library's worker ends with an error of the database; the lane begins it again."""
    from config.work import lanes

    monkeypatch.setattr(lanes, "_AGAIN_AFTER", 0.01)
    real, stumbles = lanes.Worker.run, []

    def run(worker):
        if not stumbles:
            stumbles.append(1)
            raise OSError("disk I/O error")
        real(worker)

    monkeypatch.setattr(lanes.Worker, "run", run)
    workers = start_lanes(["papers"])
    paper.enqueue(1)
    until = time.monotonic() + 30
    while not DONE and time.monotonic() < until:
        time.sleep(0.05)
    workers.stop()
    workers.join()
    assert DONE == [1]
    assert "stumbled and goes on" in caplog.text


def running(now, worker, tries=1):
    """Return a task that a worker has begun."""
    paper.enqueue(7)
    DBTaskResult.objects.update(status="RUNNING", started_at=now, worker_ids=[f"{worker}/papers"] * tries)
    return DBTaskResult.objects.get()


@pytest.mark.django_db
def test_a_task_of_a_silent_worker_waits_again(now):
    row = running(now, "gone")
    WorkerBeat.objects.create(worker="gone", lanes="papers", started_at=now, at=now)
    assert take_up_all(at=now + SILENT / 2) == 0
    assert take_up_all(at=now + SILENT * 2) == 1
    row.refresh_from_db()
    assert (row.status, row.started_at) == ("READY", None)


@pytest.mark.django_db
def test_a_task_of_a_worker_that_lives_stays_with_it(now):
    row = running(now, "alive")
    later = now + dt.timedelta(hours=3)
    WorkerBeat.objects.create(worker="alive", lanes="papers", started_at=now, at=later)
    assert take_up_all(at=later) == 0
    row.refresh_from_db()
    assert row.status == "RUNNING"


@pytest.mark.django_db
def test_a_task_that_kills_its_workers_is_given_up(now):
    """A task that ends its process each time would keep every worker from working."""
    row = running(now, "gone", tries=MOST_TRIES)
    take_up_all(at=now + SILENT * 2)
    row.refresh_from_db()
    assert (row.status, "stopped each time" in row.traceback) == ("FAILED", True)


@pytest.mark.django_db
def test_of_two_keepers_one_starts_what_is_due(now):
    started = []
    clock_list = (Due("tea", dt.timedelta(days=1), lambda: started.append(1)),)
    assert start_due(at=now, clock_list=clock_list) == ["tea"]
    assert start_due(at=now, clock_list=clock_list) == []
    assert start_due(at=now + dt.timedelta(days=1), clock_list=clock_list) == ["tea"]
    assert len(started) == 2
    assert Periodic.objects.get().due_at == now + dt.timedelta(days=2)


@pytest.mark.django_db
def test_everything_by_the_clock_can_run(now):
    """Each line's task is put in a lane that some worker works on, and its function runs."""
    start_due(at=now)
    tasks = list(DBTaskResult.objects.all())
    assert len(tasks) == len(CLOCK)
    queues = {queue for lane in LANES.values() for queue in lane}
    for row in tasks:
        assert row.queue_name in queues
        row.task.call(*row.args_kwargs["args"], **row.args_kwargs["kwargs"])


@pytest.mark.django_db
def test_a_round_that_fails_is_logged_and_the_next_one_comes(now, monkeypatch, caplog):
    keeper = Keeper("here", "papers", clock=lambda: now)
    rounds = []

    def stumble(*, at):
        rounds.append(at)
        if len(rounds) == 2:
            keeper.stop()
        raise OSError("disk full")

    monkeypatch.setattr(keeping, "take_up_all", stumble)
    monkeypatch.setattr(keeping, "ROUND", 0.01)
    monkeypatch.setattr(keeping.connection, "close", lambda: None)
    keeper.run()
    assert len(rounds) == 2
    assert "disk full" in caplog.text


def test_an_unknown_lane_is_named():
    with pytest.raises(CommandError, match="there is no attic; there are papers"):
        call_command("worker", lanes="papers,attic")
