"""The demo has a job at every stage, made by the services; a second telling changes nothing."""

from __future__ import annotations

import hashlib
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from checklists.models import Checklist, JobSheet, Photo
from checklists.photos.photos import Picture
from common.units import convert
from config.demo import walk as demo_walk
from config.demo.books import books_tell
from config.demo.shop import JOB_IN_WORK, SHOP_NAME, bring_to_life
from config.demo.stories import SOLD, stories_tell, weights_round
from config.demo.tasks import try_this
from config.demo.week import BOOKED, UNDATED, week_tell
from jobs.ledger.account import account_of
from jobs.ledger.ages import age_list
from jobs.models import Booking, Invoice, Job, Membership, Shop, Vehicle
from jobs.schedule.week import undated
from jobs.shop.days import local_date
from tests.unit.checklists.walk import drawn

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(db, settings, tmp_path, monkeypatch):
    """Tell the stories; drawing is tested with the photos, and takes its time."""
    settings.MEDIA_ROOT = tmp_path

    def picture(code, title, number):
        return Picture(hashlib.sha256(f"{code} {title} {number}".encode()).hexdigest(), drawn())

    monkeypatch.setattr(demo_walk, "photo_of", picture)
    call_command("loaddata", "demo_shop", verbosity=0)
    weights_round("imperial")
    bring_to_life()
    stories_tell()
    week_tell()


def counts():
    return {
        model: model.objects.count()
        for app in ("jobs", "checklists")
        for model in apps.get_app_config(app).get_models()
        if model.__name__ not in {"GuestLink", "LogEntry"}  # outside the demo its link is not kept
    }


def people():
    members = Membership.objects.select_related("user", "shop").filter(shop__name=SHOP_NAME)
    return {row.role: row for row in members}


def test_jobs_at_every_stage_and_once_only(told):
    states = dict(Job.objects.values_list("number", "state"))
    assert states["2026-011"] == "survey_booked"
    assert states["2026-002"] == "designing"
    assert states["2026-003"] == "quoted"
    assert states[JOB_IN_WORK] == "in_work"
    assert list(states.values()).count("released") == 1
    assert list(states.values()).count("in_care") == 1
    _in_work()
    _finished()
    before = counts()
    bring_to_life()
    stories_tell()
    week_tell()
    assert counts() == before
    _books()


def _in_work():
    record = Checklist.objects.get(job__number=JOB_IN_WORK)
    deviation = record.deviations.get()
    assert (deviation.state, deviation.check_key, deviation.can_be_accepted) == ("open", "roof/uplift", True)
    done = set(record.events.values_list("step__phase", flat=True))
    assert {"A", "B", "C", "D", "E", "F"} < done
    assert "H" not in done
    assert Photo.objects.filter(checklist=record).count() > 20


def test_a_week_is_booked_penciled_in_and_waited_for(told):
    states = dict(Booking.objects.values_list("job__vehicle__customer__name", "state"))
    assert sorted(states.values()) == ["booked", "booked", "pencilled"]
    assert states[BOOKED.customer] == "booked"
    shop = Shop.objects.get(name=SHOP_NAME)
    assert [row.job.vehicle.customer.name for row in undated(shop)] == [UNDATED.customer]


def _books():
    """Deposits are paid, one job is settled, one has an overdue invoice."""
    shop = Shop.objects.get(name=SHOP_NAME)
    books_tell()
    numbers = list(Invoice.objects.of_shop(shop).values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    owed = age_list(shop, on=local_date(shop, timezone.now()))
    assert [row.job.vehicle.customer.name for row in owed.rows] == [SOLD[0].customer]
    assert owed.overdue == owed.open > 0
    settled = account_of(Job.objects.get(vehicle__customer__name=SOLD[1].customer))
    assert (settled.due, settled.balance, settled.left.total) == (0, 0, 0)
    in_work = account_of(Job.objects.get(number=JOB_IN_WORK))
    assert (in_work.received, in_work.due) == (in_work.agreement.quote.owed_deposit, 0)
    books_tell()
    assert Invoice.objects.of_shop(shop).count() == len(numbers)


def _finished():
    for sold in SOLD:
        record = Checklist.objects.get(job__vehicle__customer__name=sold.customer)
        sheet = record.sheets.get()
        assert sheet.is_released
        assert {one["part"] for one in sheet.snapshot["signatures"]} >= {"technician", "customer"}
        assert not record.deviations.exclude(state="resolved").exists()
        assert sheet.snapshot["content"]["readings"]["strings"][0]["voc"]["value"]  # in care with readings
        assert not sheet.snapshot["content"]["late"]


def test_weights_are_round_pounds(told):
    """The golden trailer: 3,450 kg are 7,606 lb, so 7,610; its hitch 454 kg are 1,000.9 lb, so 1,000."""
    trailer = Vehicle.objects.get(plate="TRL-2709")
    pounds = [convert(mass, "kg", "lb") for mass in (trailer.gvwr_kg, trailer.hitch_limit_kg)]
    assert pounds == pytest.approx([7610, 1000], abs=1e-4)  # stored with nine digits


def test_each_part_has_something_to_try_and_only_in_the_demo(told, settings):
    for row in people().values():
        assert try_this(SimpleNamespace(membership=row)) == {}
    settings.IS_DEMO = True
    links = {role: set(try_this(SimpleNamespace(membership=row))) for role, row in people().items()}
    assert links["owner"] >= {"roof", "tablet", "deviation", "sheet"}
    assert "roof" in links["estimator"]
    assert {"tablet", "sheet"} <= links["technician"] & links["lead_technician"]
    assert links["bookkeeper"] == {"invoice"}


def test_the_board_of_the_owner_shows_the_list_and_its_links_open(told, settings):
    client, owner = Client(), people()["owner"]
    client.force_login(owner.user)
    assert "Try this" not in client.get("/").text
    settings.IS_DEMO = True
    page = client.get("/").text
    assert "Try this" in page
    for path in try_this(SimpleNamespace(membership=owner)).values():
        assert f'href="{path}"' in page
        assert client.get(path).status_code == 200


def test_the_papers_wait_for_the_worker(told):
    """It prints them as soon as the demo serves: a visitor need not wait for it before the first page."""
    assert set(JobSheet.objects.values_list("state", flat=True)) == {JobSheet.State.WAITING}
