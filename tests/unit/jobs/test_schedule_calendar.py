"""The feed and the customer's days as RFC 5545 and RFC 5546 ask, read back line by line."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from icalendar import Calendar

from config.background.periodic import CLOCK
from jobs.customers.job import job_move
from jobs.models import Bay, Booking, CalendarLink, Customer, Job, Membership, OutboxMail, Vehicle
from jobs.schedule.book import Wish, booking_create, booking_move, booking_off
from jobs.schedule.calendar import (
    LinkUnknown,
    calendar_link_create,
    calendar_link_revoke,
    calendar_open,
    feed_of,
    runs,
)
from jobs.schedule.visit import VisitRefused, visit_tell, visits_remind

TUE, WED, FRI, MON = (dt.date(2026, 12, day) for day in (8, 9, 11, 14))
#: Ten at the shop, in Denver, on the day before.
DAY_BEFORE = dt.datetime(2026, 12, 7, 17, 0, tzinfo=dt.UTC)


@pytest.fixture
def bay(shop) -> Bay:
    return Bay.objects.create(shop=shop, name="Bay 1")


@pytest.fixture
def sold(accepted_quote, shop, settings) -> Job:
    settings.MAIL_IS_SET_UP = True
    shop.email, shop.address = "office@shop.example", "1 Mill Road\nOuray, CO"
    shop.save()
    job = Job.objects.get(pk=accepted_quote.job_id)
    Customer.objects.filter(pk=job.vehicle.customer_id).update(email="nell@pardee.example")
    return job


@pytest.fixture
def booking(sold, bay, bob, alice, now) -> Booking:
    OutboxMail.objects.all().delete()
    bob.membership.licence_no = "EL-1"
    bob.membership.save()
    wish = Wish(
        bay=bay, starts_on=FRI, people=(bob.membership,), days=2, note="Low gate; bring ladder, 24 ft"
    )
    return booking_create(job=sold, wish=wish, actor=alice, at=now).booking


def unfolded(text: bytes) -> list[str]:
    """Return the lines of a calendar: ended by CR LF, folded by CR LF and a blank (RFC 5545, 3.1)."""
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    return text.decode().replace("\r\n ", "").split("\r\n")


class TestFeed:
    def test_it_is_what_the_standard_asks(self, booking, bob):
        lines = unfolded(feed_of(bob.membership, today=TUE))
        assert lines[0] == "BEGIN:VCALENDAR"
        assert lines[-2:] == ["END:VCALENDAR", ""]
        assert "VERSION:2.0" in lines  # 3.7.4
        assert any(line.startswith("PRODID:") for line in lines)  # 3.7.3
        assert lines.count("BEGIN:VEVENT") == 2  # Friday, and Monday after the weekend
        for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "STATUS"):  # 3.6.1
            assert len([line for line in lines if line.startswith(name)]) == 2, name
        uids = [line for line in lines if line.startswith("UID:")]
        assert len(set(uids)) == 2
        assert all(
            re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", line) for line in lines if "DTSTAMP" in line
        )  # 3.8.7.2
        # DTSTAMP is of UTC (3.8.7.2). Whole days; the end is the day after the last (3.6.1)
        assert "DTSTART;VALUE=DATE:20261211" in lines
        assert "DTEND;VALUE=DATE:20261212" in lines
        assert "DTSTART;VALUE=DATE:20261214" in lines
        assert "STATUS:CONFIRMED" in lines  # 3.8.1.11
        told = next(line for line in lines if line.startswith("DESCRIPTION:"))
        assert "Low gate\\; bring ladder\\, 24 ft" in told  # 3.3.11: escaped

    def test_a_moved_booking_is_the_same_event_one_further(self, booking, bay, bob, alice, now):
        before = unfolded(feed_of(bob.membership, today=TUE))
        booking_move(booking=booking, edits=0, bay=bay, starts_on=TUE, actor=alice, at=now)
        after = unfolded(feed_of(bob.membership, today=TUE))
        assert next(line for line in after if line.startswith("UID")) in before
        assert "SEQUENCE:1" in after  # 3.8.7.4
        assert "DTEND;VALUE=DATE:20261210" in after

    def test_pencilled_is_tentative(self, booking, alice, now):
        Booking.objects.update(state="pencilled")
        assert "STATUS:TENTATIVE" in unfolded(feed_of(alice.membership, today=TUE))

    def test_own_days_only_but_for_the_desk(self, booking, bob, lena, erin, charlie):
        counts = [
            len(Calendar.from_ical(feed_of(who.membership, today=TUE)).walk("VEVENT"))
            for who in (bob, lena, erin, charlie)
        ]
        assert counts == [2, 0, 2, 0]

    def test_no_amount_is_in_it(self, booking, alice, odd_costs):
        text = feed_of(alice.membership, today=TUE).decode()
        assert odd_costs(text) == set()
        quote = booking.job.quotes.get(state="accepted")
        for amount in (
            quote.total,
            quote.deposit,
            *(line.amount for line in quote.lines.all() if line.amount),
        ):
            assert str(amount) not in text

    def test_runs(self):
        days = [dt.date(2026, 12, day) for day in (10, 11, 14, 15, 16, 18)]
        found = [(first.day, last.day) for first, last in runs(days)]
        assert found == [(10, 11), (14, 16), (18, 18)]


class TestLink:
    def test_only_the_hash_is_kept_and_a_new_one_ends_the_old(self, bob, client_of, now):
        first = calendar_link_create(member=bob.membership, actor=bob, at=now)
        assert calendar_open(token=first, at=now).pk == bob.membership.pk
        assert first not in str(list(CalendarLink.objects.values()))
        second = calendar_link_create(member=bob.membership, actor=bob, at=now)
        with pytest.raises(LinkUnknown):
            calendar_open(token=first, at=now)
        calendar_link_revoke(member=bob.membership, actor=bob, at=now)
        with pytest.raises(LinkUnknown):
            calendar_open(token=second, at=now)

    def test_who_left_has_none(self, bob, now):
        token = calendar_link_create(member=bob.membership, actor=bob, at=now)
        Membership.objects.filter(pk=bob.membership.pk).update(is_active=False)
        with pytest.raises(LinkUnknown):
            calendar_open(token=token, at=now)

    def test_it_is_made_by_whose_it_is(self, bob, alice, now):
        with pytest.raises(LinkUnknown):
            calendar_link_create(member=bob.membership, actor=alice, at=now)

    def test_pages(self, client_of, client, booking, bob):
        page = client_of(bob).post("/schedule/calendar/").content.decode()
        path = re.search(r"/calendar/[\w-]+\.ics", page)[0]
        answer = client.get(path)
        assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
        assert answer.headers["Cache-Control"] == "no-store, private"
        assert answer.content.count(b"BEGIN:VEVENT") in (0, 2)  # by the clock of the machine
        assert path not in client_of(bob).get("/schedule/calendar/").content.decode()
        client_of(bob).post("/schedule/calendar/revoke/")
        assert client.get(path).status_code == 404
        assert client.post(path).status_code == 405
        codes = [client.get("/calendar/wrong.ics").status_code for _ in range(35)]
        assert codes[0] == 404
        assert codes[-1] == 429


class TestCustomer:
    def test_the_letter_brings_the_days(self, booking, alice, now):
        visit_tell(booking=booking, actor=alice, at=now)
        mail = OutboxMail.objects.get(about="The days")
        lines = unfolded(mail.calendar.encode())
        assert "METHOD:PUBLISH" in lines  # RFC 5546, 3.2.1: with an organizer, without attendees
        assert any(line.startswith("ORGANIZER") and "mailto:office@shop.example" in line for line in lines)
        assert not any(line.startswith("ATTENDEE") for line in lines)
        assert "DTSTART;VALUE=DATE:20261211" in lines
        assert "Please bring your" in mail.body
        assert "at 8:00 AM" in mail.body
        assert "Tanks: fresh water low" in mail.body
        assert Booking.objects.get(pk=booking.pk).is_told

    def test_a_mobile_visit_asks_for_the_site_in_the_shop_s_units(self, booking, shop, alice, now):
        van = Bay.objects.create(shop=shop, name="Van", kind="mobile")
        booking_move(booking=booking, edits=0, bay=van, starts_on=TUE, actor=alice, at=now)
        visit_tell(booking=booking, actor=alice, at=now)
        body = OutboxMail.objects.get(about="The days").body
        assert "We come on Tuesday, Dec 8, 2026" in body
        assert "8 ft clear along one side" in body

    def test_who_was_told_is_told_that_it_is_off(self, booking, alice, now):
        visit_tell(booking=booking, actor=alice, at=now)
        booking_off(booking=booking, edits=0, reason="Parts are late", actor=alice, at=now)
        mail = OutboxMail.objects.get(about="The days are off")
        lines = unfolded(mail.calendar.encode())
        assert {"METHOD:CANCEL", "STATUS:CANCELLED", "SEQUENCE:1"} <= set(lines)  # RFC 5546, 3.2.5
        assert "Parts are late" not in mail.body

    def test_without_an_address_or_a_firm_day_it_says_why(self, booking, alice, now):
        Customer.objects.update(email="")
        with pytest.raises(VisitRefused, match="no e-mail address"):
            visit_tell(booking=booking, actor=alice, at=now)
        Booking.objects.update(state="pencilled")
        with pytest.raises(VisitRefused, match="firm days"):
            visit_tell(booking=booking, actor=alice, at=now)


class TestReminder:
    @pytest.fixture
    def tomorrow(self, booking, bay, alice, now) -> Booking:
        return booking_move(booking=booking, edits=0, bay=bay, starts_on=TUE, actor=alice, at=now).booking

    def test_once_on_the_day_before_by_the_shop_s_clock(self, tomorrow):
        night = dt.datetime(2026, 12, 7, 13, 0, tzinfo=dt.UTC)  # six in the morning in Denver
        evening_before = dt.datetime(2026, 12, 7, 2, 0, tzinfo=dt.UTC)  # the sixth, still
        assert [visits_remind(at=at) for at in (evening_before, night, DAY_BEFORE, DAY_BEFORE)] == [
            0,
            0,
            1,
            0,
        ]
        mail = OutboxMail.objects.get(about="Tomorrow")
        assert "Tomorrow we begin" in mail.body
        assert "House batteries on" in mail.body

    def test_moved_days_are_reminded_of_again(self, tomorrow, bay, alice, now):
        visits_remind(at=DAY_BEFORE)
        booking_move(booking=tomorrow, edits=1, bay=bay, starts_on=WED, actor=alice, at=now)
        assert visits_remind(at=DAY_BEFORE) == 0
        assert visits_remind(at=DAY_BEFORE + dt.timedelta(days=1)) == 1

    @pytest.mark.parametrize("how", ["off", "pencilled", "job", "no address"])
    def test_it_stops(self, tomorrow, alice, now, how):
        if how == "off":
            booking_off(booking=tomorrow, edits=1, reason="Storm", actor=alice, at=now)
        if how == "pencilled":
            Booking.objects.update(state="pencilled")
        if how == "job":
            job_move(job=tomorrow.job, to="cancelled", actor=alice, at=now, reason="Sold the coach")
        if how == "no address":
            Customer.objects.update(email="")
        assert visits_remind(at=DAY_BEFORE) == 0

    def test_the_clock_looks_every_hour(self):
        assert {due.name: due.every for due in CLOCK}["remind"] == dt.timedelta(hours=1)

    def test_one_without_a_vehicle_s_plate_is_told_too(self, tomorrow):
        Vehicle.objects.update(plate="")
        assert visits_remind(at=DAY_BEFORE) == 1
