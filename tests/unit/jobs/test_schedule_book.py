"""Days are held once: bays, people, licenses, promises, and two writers at the same moment."""

from __future__ import annotations

import datetime as dt
import threading
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, connections, transaction

from jobs.customers.job import ChangeRefused, job_change, job_create, job_move
from jobs.models import Bay, Booking, Customer, HeldDay, Job, LineKind, Membership, QuoteLine, Vehicle
from jobs.schedule import book
from jobs.schedule.book import (
    BookingRefused,
    Wish,
    booking_change,
    booking_create,
    booking_move,
    booking_off,
)
from jobs.schedule.dates import next_date_of
from jobs.schedule.speed import speed_of, worked_hours_by
from jobs.shop.members import member_change

TUE, WED, THU, FRI = (dt.date(2026, 12, day) for day in (8, 9, 10, 11))


@pytest.fixture
def bay(shop) -> Bay:
    return Bay.objects.create(shop=shop, name="Bay 1")


@pytest.fixture
def van(shop) -> Bay:
    return Bay.objects.create(shop=shop, name="Van", kind="mobile")


@pytest.fixture
def new_job(shop, alice, now):
    """Return a maker of open jobs, not quoted."""
    customer = Customer.objects.create(shop=shop, name="Ann Example")
    vehicle = Vehicle.objects.create(shop=shop, customer=customer, kind="travel_trailer")

    def make() -> Job:
        return job_create(shop=shop, vehicle=vehicle, title="Solar", asked_for="", actor=alice, at=now)

    return make


@pytest.fixture
def sold(accepted_quote) -> Job:
    """Return a sold job: 6.5 h on the roof, 6.5 h inside, no license needed."""
    accepted_quote.lines.filter(kind=LineKind.LABOUR).delete()
    for code in ("L03", "L13"):
        hours(accepted_quote, code, "6.5")
    return Job.objects.get(pk=accepted_quote.job_id)


def hours(quote, code, quantity):
    QuoteLine.objects.create(
        quote=quote, kind=LineKind.LABOUR, code=code, text=code, quantity=Decimal(quantity), unit="h",
        position=90,
    )  # fmt: skip


def pencilled(bay, day, **more):
    return Wish(bay=bay, starts_on=day, state=Booking.State.PENCILLED, **({"days": 1} | more))


def promised(job):
    return Job.objects.get(pk=job.pk).promised_date


class TestHold:
    def test_the_quote_tells_the_days_and_the_cure_the_promise(self, sold, bay, bob, alice, now):
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,))
        booked = booking_create(job=sold, wish=wish, actor=alice, at=now)
        one = booked.booking
        # 13 h / 6.5 h a day = 2 days; the roof, 6.5 h, is sealed on the first: dry by the end of the second
        assert (one.starts_on, one.ends_on, one.days, one.plan_h) == (TUE, WED, 2, Decimal("13.00"))
        assert (one.sealed_on, one.cure_h, one.release_on) == (TUE, 24, WED)
        assert promised(sold) == WED
        assert "promise to the customer is now Dec 9, 2026" in booked.says
        assert bob in sold.assigned_to.all()
        assert sold.log.filter(verb="days booked").exists()

    def test_parts_that_take_time_are_to_be_ordered_before(self, sold, accepted_quote, bay, bob, alice, now):
        part = accepted_quote.lines.filter(part__isnull=False).first().part
        part.lead_days = 10
        part.save()
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,))
        told = booking_create(job=sold, wish=wish, actor=alice, at=now).says
        assert f"Order the parts by Nov 28, 2026: {part.name} takes 10 days" in told  # the eighth less ten

    def test_two_people_are_quicker_and_the_seal_then_keeps_it(self, sold, bay, bob, lena, alice, now):
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership, lena.membership))
        one = booking_create(job=sold, wish=wish, actor=alice, at=now).booking
        # 13 / 1.7 / 6.5 = 1.18: two days still; of one day's work the next day is the first to drive
        assert (one.days, one.release_on) == (2, WED)
        booking_off(booking=one, edits=0, reason="again", actor=alice, at=now)
        sold.promised_date = None
        sold.save()
        one = booking_create(job=sold, wish=Wish(bay=bay, starts_on=TUE, people=wish.people, days=1),
                             actor=alice, at=now).booking  # fmt: skip
        assert (one.ends_on, one.release_on, promised(sold)) == (TUE, WED, WED)

    def test_unsold_is_pencilled_only(self, new_job, bay, bob, alice, now):
        job = new_job()
        with pytest.raises(BookingRefused, match="penciled in"):
            booking_create(
                job=job,
                wish=Wish(bay=bay, starts_on=TUE, days=1, people=(bob.membership,)),
                actor=alice,
                at=now,
            )
        one = booking_create(job=job, wish=pencilled(bay, TUE), actor=alice, at=now).booking
        assert one.get_state_display() == "Penciled in"

    def test_hours_nobody_priced_are_asked_for(self, new_job, bay, alice, now):
        with pytest.raises(BookingRefused, match="Days: say how many"):
            booking_create(job=new_job(), wish=pencilled(bay, TUE, days=None), actor=alice, at=now)

    def test_a_closed_day_and_the_wrong_place(self, new_job, bay, van, alice, now):
        job = new_job()
        with pytest.raises(BookingRefused, match="Nobody works in Bay 1 on a Saturday"):
            booking_create(job=job, wish=pencilled(bay, dt.date(2026, 12, 12)), actor=alice, at=now)
        with pytest.raises(BookingRefused, match="Van drives out"):
            booking_create(job=job, wish=pencilled(van, TUE), actor=alice, at=now)
        with pytest.raises(BookingRefused, match="Bay 1 is in the shop"):
            booking_create(job=job, wish=pencilled(bay, TUE, place="driveway"), actor=alice, at=now)

    @pytest.mark.parametrize("code", ["L15", "L16"])
    def test_licensed_work_needs_a_holder(self, sold, accepted_quote, bay, bob, alice, now, code):
        hours(accepted_quote, code, "2")
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,))
        with pytest.raises(BookingRefused, match="nobody chosen holds one"):
            booking_create(job=sold, wish=wish, actor=alice, at=now)
        bob.membership.licence_no = "EL-1"
        bob.membership.save()
        assert booking_create(job=sold, wish=wish, actor=alice, at=now).booking.is_booked


class TestDouble:
    def test_a_bay_is_held_once_and_the_holder_is_named(self, new_job, bay, alice, now):
        first = new_job()
        booking_create(job=first, wish=pencilled(bay, TUE, days=2), actor=alice, at=now)
        with pytest.raises(BookingRefused) as refused:
            booking_create(job=new_job(), wish=pencilled(bay, WED), actor=alice, at=now)
        assert (
            str(refused.value) == f"Bay 1 is taken on Dec 9, 2026: {first.number}, Ann Example (penciled in)."
        )

    def test_a_person_is_held_once(self, new_job, bay, van, bob, alice, now):
        people = (bob.membership,)
        booking_create(job=new_job(), wish=pencilled(bay, TUE, people=people), actor=alice, at=now)
        wish = pencilled(van, TUE, people=people, place="driveway")
        with pytest.raises(BookingRefused, match="Bob Test is taken on Dec 8"):
            booking_create(job=new_job(), wish=wish, actor=alice, at=now)

    def test_the_database_refuses_what_no_check_saw(self, new_job, bay, alice, now, monkeypatch):
        booking_create(job=new_job(), wish=pencilled(bay, TUE), actor=alice, at=now)
        monkeypatch.setattr(book, "_check_free", lambda *_: None)
        with pytest.raises(IntegrityError), transaction.atomic():
            booking_create(job=new_job(), wish=pencilled(bay, TUE), actor=alice, at=now)
        assert HeldDay.objects.count() == 1

    def test_another_shop_s_bay_or_person(self, new_job, bay, charlie, alice, now):
        theirs = Bay.objects.create(shop=charlie.membership.shop, name="Bay 1")
        for wish in (pencilled(theirs, TUE), pencilled(bay, TUE, people=(charlie.membership,))):
            with pytest.raises(ValueError, match="belong to the job's shop"):
                booking_create(job=new_job(), wish=wish, actor=alice, at=now)


class TestMove:
    @pytest.fixture
    def booking(self, sold, bay, bob, alice, now) -> Booking:
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,), promise_on=THU)
        return booking_create(job=sold, wish=wish, actor=alice, at=now).booking

    def test_the_promise_follows_as_far_behind_as_it_was(self, booking, bay, alice, now):
        assert promised(booking.job) == THU  # drives on Wednesday, a day kept in hand
        moved = booking_move(booking=booking, edits=0, bay=bay, starts_on=THU, actor=alice, at=now)
        assert moved.booking.release_on == FRI
        assert promised(booking.job) == dt.date(2026, 12, 12)
        assert "is now Dec 12, 2026 (it was Dec 10, 2026)" in moved.says
        assert [row.day for row in moved.booking.held.filter(bay=bay)] == [THU, FRI]
        assert moved.booking.held.filter(member__isnull=False).count() == 2

    def test_who_saw_an_older_state_is_told(self, booking, bay, alice, now):
        booking_move(booking=booking, edits=0, bay=bay, starts_on=THU, actor=alice, at=now)
        with pytest.raises(BookingRefused, match="changed this booking meanwhile"):
            booking_move(booking=booking, edits=0, bay=bay, starts_on=TUE, actor=alice, at=now)

    def test_a_promise_before_the_release_is_blocked(self, booking, bay, bob, alice, now):
        wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,), promise_on=TUE)
        with pytest.raises(BookingRefused, match="may not drive before Dec 9, 2026"):
            booking_change(booking=booking, edits=0, wish=wish, actor=alice, at=now)
        job = Job.objects.get(pk=booking.job_id)
        job.promised_date = TUE
        with pytest.raises(ChangeRefused, match="may not drive before Dec 9, 2026"):
            job_change(job=job, people=[], actor=alice, at=now)

    def test_days_are_free_again_when_the_job_ends(self, booking, alice, now):
        job_move(job=booking.job, to="cancelled", actor=alice, at=now, reason="Sold the coach")
        booking.refresh_from_db()
        assert booking.is_off
        assert not booking.held.exists()

    def test_a_job_designed_again_is_only_pencilled(self, booking, alice, now):
        job_move(job=booking.job, to="designing", actor=alice, at=now)
        booking.refresh_from_db()
        assert (booking.state, booking.edits) == ("pencilled", 1)

    def test_next_dates_are_one_question(self, booking, new_job, django_assert_num_queries):
        idle, late = new_job(), new_job()
        late.state, late.promised_date = "in_work", dt.date(2026, 12, 1)
        jobs = [Job.objects.get(pk=booking.job_id), idle, late]
        with django_assert_num_queries(1):
            found = next_date_of(jobs, today=WED)
        assert found.keys() == {booking.job_id, late.pk}
        assert (found[booking.job_id].day, found[booking.job_id].bay) == (WED, "Bay 1")
        assert (found[late.pk].day, found[late.pk].is_late) == (None, True)


def test_own_speed_is_told_by_three_finished_jobs(shop, sold, new_job, monkeypatch):
    worked: dict[int, float] = {}
    from jobs.schedule import speed

    monkeypatch.setattr(speed, "_READERS", [])
    worked_hours_by(lambda shop, pks: worked)
    assert speed_of(shop) is None
    jobs = [new_job() for _ in range(2)]
    Job.objects.filter(pk__in=[sold.pk, *(job.pk for job in jobs)]).update(state="released")
    quote = sold.quotes.get(state="accepted")
    quote.lines.filter(code="L03").update(is_pair=True)
    for job in jobs:
        quote.pk, quote.job, quote.number = None, job, 1
        quote.save()
        hours(quote, "L13", "10")
    worked.update({sold.pk: 21.45, jobs[0].pk: 11.0, jobs[1].pk: 12.0})
    # sold: 6.5 × 2 people + 6.5 = 19.5 h, and twice 10 h: 39.5; worked 21.45 + 11 + 12 = 44.45; ratio 1.1253
    assert speed_of(shop) == Decimal("1.125")
    worked[sold.pk] = 500.0
    assert speed_of(shop) == 2


@pytest.mark.django_db(transaction=True)
def test_of_two_writers_at_once_one_holds_the_bay(shop, alice, bay, new_job, now, tmp_path, monkeypatch):
    """Ten races on a file, or on PostgreSQL: each time one is booked and the other told by whom."""
    jobs = [new_job(), new_job()]
    if connection.vendor == "sqlite":  # tests keep theirs in memory, where no lock is waited for
        path = tmp_path / "race.sqlite3"
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(path)])
        monkeypatch.setitem(connections.settings["default"], "NAME", str(path))
    start, answers, told = threading.Barrier(2), [], threading.Lock()
    days = [TUE + dt.timedelta(days=7 * week) for week in range(10)]

    def work(job: Job) -> None:
        actor = User.objects.select_related("membership").get(pk=alice.pk)
        for day in days:
            start.wait(10)
            try:
                booking_create(job=job, wish=pencilled(bay, day), actor=actor, at=now)
                answer = "held"
            except BookingRefused as refused:
                answer = "is taken on" if "is taken on" in str(refused) else str(refused)
            with told:
                answers.append((day, answer))
        answers.append(("rows", HeldDay.objects.filter(bay=bay).count()))
        connection.close()

    threads = [threading.Thread(target=work, args=(job,)) for job in jobs]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    for day in days:
        assert sorted(answer for at, answer in answers if at == day) == ["held", "is taken on"]
    assert ("rows", 10) in answers


def test_who_leaves_is_planned_with_no_more(sold, bay, bob, alice, now):
    wish = Wish(bay=bay, starts_on=TUE, people=(bob.membership,), days=2)
    booking = booking_create(job=sold, wish=wish, actor=alice, at=now).booking
    member_change(
        member=bob.membership, role="technician", is_active=False, licence_no="", actor=alice, at=now
    )
    assert [row.bay for row in booking.held.all()] == [bay, bay]


def test_a_person_who_left_is_not_booked(sold, bay, bob, alice, now):
    Membership.objects.filter(pk=bob.membership.pk).update(is_active=False)
    gone = Membership.objects.get(pk=bob.membership.pk)
    with pytest.raises(BookingRefused, match="Bob Test has left"):
        booking_create(job=sold, wish=Wish(bay=bay, starts_on=TUE, people=(gone,)), actor=alice, at=now)
