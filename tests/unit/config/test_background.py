"""Workers of an installation: lanes, what stopped with its worker, and what is due by the clock."""

from __future__ import annotations

import datetime as dt
import threading
import time

import pytest
from django.core.management import CommandError, call_command
from django.tasks import task
from django_tasks_db.models import DBTaskResult

from common.background import SILENT
from config.background import keeper as keeping
from config.background import lanes as laning
from config.background import periodic
from config.background.keeper import MOST_TRIES, Keeper, take_up_all
from config.background.lanes import LANES, start_lanes
from config.background.periodic import CLOCK, Due, start_due
from config.models import Periodic, WorkerBeat


@task(queue_name="papers")
def paper(number):
    """Stand for work in the lane of papers."""


@pytest.fixture(autouse=True)
def database_queue(settings):
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": []}}


class Loop:
    """Stand for the library's worker: takes work of its queues from a list instead of the database."""

    waiting = []

    def __init__(self, *, queue_names, worker_id, **_):
        self.queue_names, self.worker_id, self.running = queue_names, worker_id, True

    def run(self):
        while self.running:
            for queue, work in list(Loop.waiting):
                if queue in self.queue_names:
                    Loop.waiting.remove((queue, work))
                    work()
            time.sleep(0.01)


@pytest.fixture
def lanes(monkeypatch):
    """Return the lanes with the loop in place of worker and keeper."""
    monkeypatch.setattr(laning, "Worker", Loop)
    monkeypatch.setattr(laning, "_AGAIN_AFTER", 0.01)
    monkeypatch.setattr(Keeper, "beat", lambda self: None)
    monkeypatch.setattr(Keeper, "round", lambda self: None)
    yield start_lanes
    Loop.waiting.clear()


def test_a_paper_does_not_wait_for_shade(lanes):
    """Two lanes work side by side: the shade here ends only once the paper is done."""
    is_printed, done = threading.Event(), []
    Loop.waiting += [
        ("shade", lambda: done.append(is_printed.wait(20))),
        ("papers", is_printed.set),
    ]
    workers = lanes(["papers", "shade"])
    until = time.monotonic() + 20
    while not done and time.monotonic() < until:
        time.sleep(0.01)
    workers.stop()
    workers.join()
    assert done == [True]


def test_a_lane_goes_on_after_its_database_was_away(lanes, caplog):
    """The library's worker ends with an error of the database; the lane begins it again."""
    is_done = threading.Event()

    def stumble():
        raise OSError("disk I/O error")

    Loop.waiting += [("papers", stumble), ("papers", is_done.set)]
    workers = lanes(["papers"])
    assert is_done.wait(20)
    workers.stop()
    workers.join()
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
def test_everything_by_the_clock_can_run(now, monkeypatch, tmp_path):
    """Each line's task is put in a lane that some worker works on, and its function runs."""
    written = []  # a backup reads the database between transactions, which a test is in: see test_keep
    monkeypatch.setattr(periodic, "backup_write", lambda folder, **facts: written.append(folder))
    start_due(at=now)
    tasks = list(DBTaskResult.objects.all())
    assert len(tasks) == len(CLOCK)
    queues = {queue for lane in LANES.values() for queue in lane}
    for row in tasks:
        assert row.queue_name in queues
        row.task.call(*row.args_kwargs["args"], **row.args_kwargs["kwargs"])
    assert len(written) == 1


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
