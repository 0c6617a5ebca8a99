"""The database refuses a changed log and rows of two shops that name one another; on both engines."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from checklists.models import StepEvent
from common.guard import door_opened
from config.guard.set_up import guards_away, guards_set, missing
from jobs.models import Customer, Job, LogEntry, Part, Vehicle
from jobs.shop.log import log
from tests.soak.postgres import postgres_copy

CHANGES = (
    "UPDATE jobs_logentry SET verb = 'nothing happened'",
    "DELETE FROM jobs_logentry",
    "UPDATE checklists_stepevent SET value = NULL",
    "DELETE FROM checklists_stepevent",
)


@pytest.fixture
def line(shop, alice, now) -> LogEntry:
    return log(shop=shop, actor=alice, verb="price changed", at=now)


@pytest.fixture
def event(accepted_quote, alice, now) -> Any:
    """Return something recorded at a step."""
    from checklists.models import Checklist

    checklist = Checklist.objects.get(job=accepted_quote.job)
    return StepEvent.objects.create(
        id="8d9c3f0e-58d7-4d53-9d2c-0d9c3f0e58d7", checklist=checklist, serial=1, by=alice, by_name="Alice",
        claimed_at=now, received_at=now, design_number=1,
    )  # fmt: skip


def refused(sentence: str, *values: Any) -> None:
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sentence, values)


@pytest.mark.parametrize("change", CHANGES)
def test_what_happened_is_never_changed(line, event, change):
    refused(change)
    assert LogEntry.objects.filter(verb="price changed").exists()
    assert StepEvent.objects.exists()


def test_nor_by_the_models_nor_by_writing_over_it(line):
    line.verb = "nothing happened"
    with pytest.raises(IntegrityError), transaction.atomic():
        line.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        line.delete()
    if connection.vendor == "sqlite":
        refused("INSERT OR REPLACE INTO jobs_logentry SELECT * FROM jobs_logentry WHERE id = %s", line.pk)


def test_the_door_closes_behind_one(line):
    with door_opened():
        LogEntry.objects.update(detail="without the person")
    refused(CHANGES[0])
    with pytest.raises(RuntimeError), door_opened():
        raise RuntimeError
    refused(CHANGES[0])


def test_another_program_has_no_key(line, tmp_path):
    """On SQLite the door is a function of our own connections."""
    import sqlite3

    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL: below")
    with connection.cursor() as cursor:
        cursor.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'jobs_logentry'")
        made = [row[0] for row in cursor.fetchall() if row[0]]
    other = sqlite3.connect(tmp_path / "other.sqlite3")
    for each in made:
        other.execute(each)
    with pytest.raises(sqlite3.OperationalError, match="no such function: coachlight_door"):
        other.execute("DELETE FROM jobs_logentry")


@pytest.fixture
def other_shop(charlie, now) -> dict[str, Any]:
    """Return a customer, a vehicle and a job of Charlie's."""
    theirs = charlie.membership.shop
    customer = Customer.objects.create(shop=theirs, name="Del Okafor")
    vehicle = Vehicle.objects.create(shop=theirs, customer=customer)
    return {"customer": customer, "vehicle": vehicle}


def test_a_row_never_names_a_row_of_another_shop(golden_job, other_shop, alice, now):
    for make in (
        lambda: Vehicle.objects.create(shop=golden_job.shop, customer=other_shop["customer"]),
        lambda: Vehicle.objects.filter(pk=golden_job.vehicle_id).update(customer=other_shop["customer"]),
        lambda: Job.objects.filter(pk=golden_job.pk).update(vehicle=other_shop["vehicle"]),
        lambda: LogEntry.objects.create(
            shop=other_shop["customer"].shop, job=golden_job, verb="looked in", at=now
        ),
    ):
        with pytest.raises(IntegrityError, match="another shop"), transaction.atomic():
            make()


def test_nor_deep_inside_a_design(golden_job, other_shop):
    """A panel's design is of one shop by its job, its part of another."""
    panel = golden_job.designs.get().panels.first()
    part = Part.objects.get(pk=panel.part_id)
    part.pk, part.shop = None, other_shop["customer"].shop
    part.save()
    panel.part = part
    with pytest.raises(IntegrityError, match="another shop"), transaction.atomic():
        panel.save()


def test_a_row_stays_in_its_shop(golden_job, other_shop):
    with pytest.raises(IntegrityError, match="stays in its shop"), transaction.atomic():
        Job.objects.filter(pk=golden_job.pk).update(shop=other_shop["customer"].shop)


def test_migrations_find_tables_without_triggers_and_leave_them_with(db):
    assert missing() == []
    guards_away(plan=[])
    assert missing() == []
    guards_away(plan=["something"])
    assert len(missing()) > 50
    guards_set()
    assert missing() == []


def test_another_engine_refuses_the_same(line, event, other_shop, golden_job, tmp_path):
    psycopg = pytest.importorskip("psycopg")
    with postgres_copy(tmp_path) as (address, _), psycopg.connect(address, autocommit=True) as link:
        for change in (*CHANGES, "TRUNCATE jobs_logentry"):
            with pytest.raises(psycopg.errors.IntegrityConstraintViolation):
                link.execute(change)
        for change in (
            f"UPDATE jobs_job SET vehicle_id = {other_shop['vehicle'].pk} WHERE id = {golden_job.pk}",
            f"UPDATE jobs_job SET shop_id = {other_shop['customer'].shop_id} WHERE id = {golden_job.pk}",
        ):
            with pytest.raises(psycopg.errors.IntegrityConstraintViolation):
                link.execute(change)
        with link.transaction():
            link.execute("SELECT set_config('coachlight.door', 'open', true)")
            link.execute("UPDATE jobs_logentry SET detail = 'without the person'")
        with pytest.raises(psycopg.errors.IntegrityConstraintViolation):
            link.execute("DELETE FROM jobs_logentry")


FORGETFUL = """
import django, sys
django.setup()
from django.conf import settings
settings.ALLOWED_HOSTS = ["testserver"]
from django.http import HttpResponse
from django.test import Client
from django.urls import path
from checklists.models import StepEvent
from config import urls
from jobs.models import Job, Membership, Quote, Vehicle

def forgetful(request):  # asks for everything, by no shop
    rows = [list(model.objects.values_list("pk", flat=True)) for model in (Job, Quote, StepEvent)]
    try:
        Vehicle.objects.create(shop=request.shop, customer_id=int(request.GET["customer"]))
        rows.append("stored")
    except Exception as problem:
        rows.append(type(problem).__name__)
    return HttpResponse(repr(rows))

urls.urlpatterns.insert(0, path("forgetful/", forgetful))
for name in ("alice", "charlie"):
    client = Client()
    client.force_login(Membership.objects.get(user__username=name).user)
    print(client.get("/forgetful/", {"customer": sys.argv[1]}).content.decode())
print(Job.objects.count() > 0, Quote.objects.count() > 0)
"""


def test_a_query_that_forgot_its_shop_finds_nothing_on_postgres(event, other_shop, golden_job, tmp_path):
    theirs, quote = golden_job.vehicle.customer, golden_job.quotes.get()
    jobs = sorted(golden_job.shop.jobs.values_list("pk", flat=True))
    with postgres_copy(tmp_path) as (address, ask):
        ran = subprocess.run(
            [sys.executable, "-c", FORGETFUL, str(theirs.pk)],
            env=os.environ | {"DATABASE_URL": address, "DEBUG": "1"},
            capture_output=True,
            text=True,
        )
        assert ran.returncode == 0, ran.stderr
        alice, charlie, worker = ran.stdout.splitlines()
        assert charlie == "[[], [], [], 'IntegrityError']"
        assert f"[{quote.pk}], [UUID('{event.pk}')], 'stored'" in alice
        assert all(str(pk) in alice for pk in jobs)
        assert worker == "True True"
        # Somebody else's program, without a word of a shop and without a superuser's rights: nothing.
        ask("SELECT set_config('role', 'coachlight_rows', false)")
        assert ask("SELECT count(*) FROM jobs_job") == [(0,)]
        assert ask("SELECT count(*) FROM jobs_quote") == [(0,)]


def test_a_page_that_forgot_its_shop_answers_404_on_sqlite(
    golden_job, charlie, client_of, monkeypatch, caplog
):
    """Every page of a job asked by its key alone: what visible_to forgets, reading the row catches."""
    from jobs.models.scope import ShopQuerySet

    url = f"/jobs/{golden_job.pk}/"
    monkeypatch.setattr(ShopQuerySet, "of_shop", lambda self, shop: self.all())
    assert client_of(charlie).get(url).status_code == 404
    if connection.vendor == "sqlite":
        assert "a query forgot its shop: jobs.Job" in caplog.text
