"""Probes, counters, request numbers and what the log says."""

from __future__ import annotations

import datetime as dt
import json
import logging
import shutil

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse
from prometheus_client.parser import text_string_to_metric_families

from config.health import probes
from config.health.logs import NoTracebackOfRefusals, WithRequest
from config.health.number import REQUEST_ID
from config.models import WorkerBeat
from config.version import VERSION

GB = 1024**3


@pytest.fixture
def worker(db, monkeypatch):
    """Have a worker that was alive a moment ago; tests make their tables without migrations."""
    monkeypatch.setattr(probes, "waiting_migrations", list)
    at = dt.datetime.now(dt.UTC)
    return WorkerBeat.objects.create(worker="here", lanes="papers", started_at=at, at=at)


def test_the_process_answers_without_its_database():
    """No ``db`` here: a query would fail the test. Any host name will do, and there is no redirect."""
    answer = Client(headers={"host": "10.0.0.7"}).get("/healthz")
    assert (answer.status_code, answer.text) == (200, f"ok {VERSION}\n")


def test_ready_when_all_is_there(client, worker, settings):
    settings.SECURE_SSL_REDIRECT = True  # a probe from beside the server speaks plain HTTP
    answer = client.get("/readyz")
    assert answer.status_code == 200, answer.text
    assert answer.json()["ready"] is True
    assert set(answer.json()) == {"ready", "version", "database", "migrations", "workers", "disk"}


@pytest.mark.parametrize("silent_s", [41, 3600])
def test_a_worker_that_fell_silent(client, worker, silent_s):
    WorkerBeat.objects.update(at=worker.at - dt.timedelta(seconds=silent_s))
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json()["workers"] == "not ready: none alive: start manage.py worker"


def test_a_disk_that_is_nearly_full(client, worker, monkeypatch):
    usage = shutil._ntuple_diskusage(GB, GB - 1, 499 * 1024**2)
    monkeypatch.setattr(probes.shutil, "disk_usage", lambda path: usage)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["disk"]) == (503, "not ready: 499 MB free: make room")


def test_migrations_that_were_forgotten(client, worker, monkeypatch):
    monkeypatch.setattr(probes, "waiting_migrations", lambda: ["jobs.0099_later"])
    answer = client.get("/readyz")
    assert (answer.status_code, "manage.py migrate" in answer.json()["migrations"]) == (503, True)


def test_a_database_that_is_away(client, monkeypatch):
    def away(*args, **options):
        raise DatabaseError("connection refused: secret-host")

    monkeypatch.setattr(probes.connection, "cursor", away)
    monkeypatch.setattr(probes, "MigrationExecutor", away)
    monkeypatch.setattr(probes.WorkerBeat.objects, "filter", away)
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert "secret" not in answer.text
    assert answer.json()["database"].startswith("not ready")


def test_counters_can_be_read(client, worker, alice):
    client.force_login(alice)
    client.get(reverse("jobs:job_board"))
    answer = client.get("/metrics")
    found = {family.name: family.samples for family in text_string_to_metric_families(answer.text)}
    boards = [s for s in found["coachlight_requests"] if s.labels.get("view") == "jobs:job_board"]
    assert boards
    assert found["coachlight_workers"][0].value == 1


@pytest.mark.parametrize(
    ("token", "headers", "status"),
    [
        ("", {}, 200),
        ("", {"x-forwarded-for": "8.8.8.8"}, 404),  # a stranger through the proxy on this machine
        ("long-token", {}, 404),
        ("long-token", {"authorization": "Bearer other"}, 404),
        ("long-token", {"authorization": "Bearer long-token"}, 200),
    ],
)
def test_who_reads_the_counters(db, settings, token, headers, status):
    settings.METRICS_TOKEN = token
    assert Client(headers=headers).get("/metrics").status_code == status


def test_a_request_has_a_number_of_its_own(client, alice, settings):
    client.force_login(alice)
    url = reverse("jobs:job_board")
    numbers = {client.get(url, headers={"x-request-id": "from-outside"})["X-Request-ID"] for _ in "two"}
    assert len(numbers) == 3
    assert "from-outside" not in numbers
    settings.BEHIND_PROXY = True
    assert client.get(url, headers={"x-request-id": "from-proxy-1"})["X-Request-ID"] == "from-proxy-1"
    assert client.get(url, headers={"x-request-id": "a b"})["X-Request-ID"] != "a b"


def test_a_fault_of_ours_tells_its_number(alice, monkeypatch):
    client = Client(raise_request_exception=False)
    client.force_login(alice)
    monkeypatch.setattr("config.context._main_nav", lambda *args: 1 / 0)
    answer = client.get(reverse("jobs:job_board"))
    assert answer.status_code == 500
    assert f"<code>{answer['X-Request-ID']}</code>" in answer.text


def test_the_version_stands_on_the_page(client, alice):
    client.force_login(alice)
    assert f"Coachlight {VERSION}" in client.get(reverse("jobs:job_board")).text


def test_lines_of_the_log_are_json_with_the_number(settings):
    from pythonjsonlogger.json import JsonFormatter

    record = logging.LogRecord("jobs", logging.WARNING, __file__, 1, "ink is out", None, None)
    mark = REQUEST_ID.set("abc12345")
    WithRequest().filter(record)
    REQUEST_ID.reset(mark)
    options = {key: value for key, value in settings.LOGGING["formatters"]["json"].items() if key != "()"}
    options["fmt"] = options.pop("format")
    line = json.loads(JsonFormatter(**options).format(record))
    assert (line["request_id"], line["message"], line["level"]) == ("abc12345", "ink is out", "WARNING")


def test_a_refusal_is_one_line():
    try:
        raise PermissionDenied("no")
    except PermissionDenied as problem:
        info = (type(problem), problem, problem.__traceback__)
    for status, keeps in ((403, False), (404, False), (500, True)):
        record = logging.LogRecord("django.request", logging.ERROR, __file__, 1, "x", None, info)
        record.status_code = status
        NoTracebackOfRefusals().filter(record)
        assert bool(record.exc_info) is keeps
