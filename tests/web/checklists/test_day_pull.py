"""The pull list of a day and what to order: what is left, what is missing, no cost, no stranger."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from decimal import Decimal

import pytest

from checklists.models import Checklist
from checklists.office.day_pull import HEAD, day_page, order_rows
from checklists.record.events import events_record
from checklists.record.pull import pull_list
from checklists.rules.entries import Entry
from jobs.models import Bay, Booking, Job, Part, Supplier
from jobs.schedule.book import Wish, booking_create

TUE = dt.date(2026, 12, 8)
PATH = "/schedule/days/2026-12-08/"


@pytest.fixture
def record(accepted_quote, shop, bob, alice, now) -> Checklist:
    """Return the record of a sold job that is penciled in for the day."""
    job = Job.objects.get(pk=accepted_quote.job_id)
    bay = Bay.objects.create(shop=shop, name="Bay 1")
    wish = Wish(bay=bay, starts_on=TUE, state=Booking.State.PENCILLED, days=1, people=(bob.membership,))
    booking_create(job=job, wish=wish, actor=alice, at=now)
    return Checklist.objects.select_related("job__shop").get(job=job)


def panels_of(record):
    """Return the line of the panels."""
    part = record.design.panels.filter(existing=None).first().part
    return next(line for line in pull_list(record) if line.key == f"part:{part.pk}")


def tell(record, actor, now, verb, key, value):
    entry = Entry(id=uuid.uuid4(), step=0, verb=verb, field=key, value=value, claimed_at=now)
    events_record(checklist=record, entries=[entry], actor=actor, at=now)


def row_of(shop, name):
    rows = order_rows(shop)
    return next((dict(zip(HEAD, row, strict=True)) for row in rows[1:] if row[3] == name), None)


def test_what_is_loaded_is_taken_off(record, shop, bob, now):
    line = panels_of(record)
    tell(record, bob, now, "load", line.key, line.quantity - 1)
    found = [one for _, rows in day_page(shop, TUE)["groups"] for one in rows if one.line.key == line.key]
    assert [one.quantity for one in found] == [1]
    assert day_page(shop, TUE + dt.timedelta(days=1))["jobs"] == []


def test_the_page_is_read_by_everybody_and_shows_no_cost(client_of, record, alice, bob, ken, odd_costs):
    Part.objects.filter(pk=panels_of(record).key.removeprefix("part:")).update(shelf="Rack C")
    for person in (alice, bob, ken):
        page = client_of(person).get(PATH).content.decode()
        assert "Pull list, Tue Dec 8, 2026" in page
        assert "Rack C" in page
        assert "Screws for feet and gland box" in page
        assert odd_costs(page) == set()


def test_what_is_missing_stands_above(client_of, record, bob, now):
    tell(record, bob, now, "short", panels_of(record).key, {"missing": 1, "note": "glass broken"})
    page = client_of(bob).get(PATH).content.decode()
    assert "Missing for" in page
    assert "glass broken" in page


def test_a_day_without_bookings_and_no_day(client_of, record, alice):
    assert "Nothing is booked" in client_of(alice).get("/schedule/days/2026-12-09/").content.decode()
    assert client_of(alice).get("/schedule/days/2026-12-40/").status_code == 404


def test_orders_count_packs_and_the_day_to_order_by(record, shop):
    line = panels_of(record)
    supplier = Supplier.objects.create(shop=shop, name="=North Supply", lead_days=6)
    Part.objects.filter(pk=line.key.removeprefix("part:")).update(
        supplier=supplier, supplier_number="NS-77", pack_size=Decimal(3)
    )
    row = row_of(shop, line.text)
    # By hand: packs of three, rounded up; the eighth less six days is the second
    assert row["Packs"] == str(-(-int(line.quantity) // 3))
    assert (row["Supplier's number"], row["Days to come"], row["Order by"]) == ("NS-77", "6", "2026-12-02")
    assert row["For jobs"] == record.job.number


def test_once_ordered_only_what_is_missing_is_left(record, shop, bob, now):
    line = panels_of(record)
    Job.objects.update(state="parts_ordered")
    assert row_of(shop, line.text) is None
    tell(record, bob, now, "short", line.key, {"missing": 2, "note": ""})
    assert row_of(shop, line.text)["Needed"] == "2"


def test_the_file_is_the_desk_s_and_no_cell_runs(client_of, record, shop, alice, bob, odd_costs):
    part = Part.objects.get(pk=panels_of(record).key.removeprefix("part:"))
    part.supplier = Supplier.objects.create(shop=shop, name="=North Supply")
    part.save()
    answer = client_of(alice).get("/schedule/orders.csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0] == list(HEAD)
    assert "'=North Supply" in {row[0] for row in rows}
    assert odd_costs(answer.content.decode()) == set()
    assert client_of(bob).get("/schedule/orders.csv").status_code == 403


def test_a_stranger_finds_nothing(client_of, record, charlie):
    assert "Nothing is booked" in client_of(charlie).get(PATH).content.decode()
    assert len(order_rows(charlie.membership.shop)) == 1
