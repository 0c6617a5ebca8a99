"""The week board, bookings and bays: by hand, refused with the reason, and nothing for a stranger."""

from __future__ import annotations

import datetime as dt

import pytest

from jobs.models import Bay, Booking, Job
from jobs.schedule.book import Wish, booking_create, booking_move

TUE, FRI = dt.date(2026, 12, 8), dt.date(2026, 12, 11)
WEEK = "/schedule/?week=2026-12-09"


@pytest.fixture
def bay(shop) -> Bay:
    return Bay.objects.create(shop=shop, name="Bay 1")


@pytest.fixture
def booking(golden_job, bay, bob, alice, now) -> Booking:
    wish = Wish(bay=bay, starts_on=TUE, state="pencilled", days=2, people=(bob.membership,), note="Low gate")
    return booking_create(job=golden_job, wish=wish, actor=alice, at=now).booking


def form_of(bay, **changes):
    return {
        "state": "pencilled", "bay": bay.pk, "place": "shop", "starts_on": "2026-12-08", "arrive_at": "08:00",
        "travel_min": "0", "days": "2",
    } | changes  # fmt: skip


class TestBoard:
    def test_everybody_of_the_shop_sees_the_week(self, client_of, booking, alice, bob, ken):
        for person in (alice, bob, ken):
            page = client_of(person).get(WEEK).content.decode()
            assert "Week of Dec 7, 2026" in page
            assert "day 1 of 2" in page
            assert "Penciled in" in page
            assert ("Move</summary>" in page) == (person is alice)

    def test_weekends_only_where_somebody_works(self, client_of, bay, alice):
        assert "Sat Dec 12" not in client_of(alice).get(WEEK).content.decode()
        Bay.objects.filter(pk=bay.pk).update(works_saturday=True)
        page = client_of(alice).get(WEEK).content.decode()
        assert "Sat Dec 12" in page
        assert "Sun Dec 13" not in page

    def test_a_sold_job_waits_for_its_days(self, client_of, accepted_quote, bay, alice, now):
        page = client_of(alice).get("/schedule/").content.decode()
        assert f"/schedule/jobs/{accepted_quote.job_id}/" in page
        job = Job.objects.get(pk=accepted_quote.job_id)
        booking_create(job=job, wish=Wish(bay=bay, starts_on=TUE, state="pencilled"), actor=alice, at=now)
        assert "Every sold job has its days" in client_of(alice).get("/schedule/").content.decode()

    def test_the_limits_of_weather_are_in_the_shop_s_units(self, client_of, bay, alice, shop):
        assert "wind under 20 mph" in client_of(alice).get("/schedule/").content.decode()
        shop.units = "metric"
        shop.save()
        assert "wind under 32 km/h" in client_of(alice).get("/schedule/").content.decode()

    def test_no_query_per_booking(self, client_of, booking, alice, now, django_assert_max_num_queries):
        client = client_of(alice)
        for day in (10, 11):
            wish = Wish(bay=booking.bay, starts_on=dt.date(2026, 12, day), state="pencilled", days=1)
            booking_create(job=booking.job, wish=wish, actor=alice, at=now)
        with django_assert_max_num_queries(14):
            client.get(WEEK)

    @pytest.mark.parametrize("week", ["", "tomorrow", "2026-13-40", "0001-01-01", "9999-12-31"])
    def test_any_week_answers(self, client_of, alice, bay, week):
        assert client_of(alice).get("/schedule/", {"week": week}).status_code == 200


class TestBook:
    def test_it_holds_the_days_and_says_so(self, client_of, golden_job, bay, erin):
        page = client_of(erin).post(f"/schedule/jobs/{golden_job.pk}/", form_of(bay), follow=True)
        assert "Penciled in: Bay 1, Dec 8, 2026 to Dec 9, 2026." in page.content.decode()
        assert "may drive from Wed Dec 9" in client_of(erin).get(f"/jobs/{golden_job.pk}/").content.decode()

    def test_a_refusal_keeps_what_was_typed(self, client_of, booking, alice):
        data = form_of(booking.bay, note="Second visit")
        page = client_of(alice).post(f"/schedule/jobs/{booking.job_id}/", data)
        assert page.status_code == 422
        assert "Bay 1 is taken on Dec 8, 2026" in page.content.decode()
        assert "Second visit" in page.content.decode()

    def test_the_form_tells_hours_days_and_waits(self, client_of, accepted_quote, bay, alice):
        page = client_of(alice).get(f"/schedule/jobs/{accepted_quote.job_id}/").content.decode()
        assert "The roof first, sealed by the end of its last day" in page
        assert "Working hours a day" in page

    def test_without_a_bay_it_leads_to_the_bays(self, client_of, golden_job, alice):
        page = client_of(alice).get(f"/schedule/jobs/{golden_job.pk}/")
        assert page.url == "/schedule/bays/"

    def test_changing_and_taking_off(self, client_of, booking, alice):
        client, path = client_of(alice), f"/schedule/bookings/{booking.pk}/"
        assert "Low gate" in client.get(path).content.decode()
        assert client.post(path, form_of(booking.bay, starts_on="2026-12-10", edits="0")).status_code == 302
        assert client.post(path, form_of(booking.bay, edits="0")).status_code == 422  # an older page
        assert client.post(f"{path}off/", {"edits": "1", "reason": "Storm"}).status_code == 302
        booking.refresh_from_db()
        assert booking.is_off
        assert client.get(path).status_code == 404

    def test_moving_from_the_board(self, client_of, booking, alice):
        path = f"/schedule/bookings/{booking.pk}/move/"
        data = {"edits": "0", "bay": booking.bay_id, "starts_on": "2026-12-14"}
        page = client_of(alice).post(path, data, follow=True).content.decode()
        assert "Week of Dec 14, 2026" in page
        assert "Penciled in: Bay 1, Dec 14, 2026 to Dec 15, 2026" in page
        page = client_of(alice).post(path, data, follow=True).content.decode()
        assert "Not moved. Somebody changed this booking meanwhile" in page


class TestBays:
    def test_a_bay_is_added_once(self, client_of, alice, shop):
        client = client_of(alice)
        data = {"name": "Van", "kind": "mobile", "is_active": "on"}
        assert client.post("/schedule/bays/", data).status_code == 302
        assert client.post("/schedule/bays/", data).status_code == 422
        assert Bay.objects.of_shop(shop).get().is_mobile

    def test_one_with_bookings_to_come_stays_in_use(self, client_of, booking, alice, now):
        data = {"name": "Bay 1", "kind": "bay"}
        booking_move(
            booking=booking, edits=0, bay=booking.bay, starts_on=dt.date(2099, 1, 1), actor=alice, at=now
        )
        page = client_of(alice).post(f"/schedule/bays/{booking.bay_id}/", data)
        assert "has bookings to come" in page.content.decode()


class TestWho:
    def test_the_field_looks_but_does_not_change(self, client_of, booking, lena, bob, ken):
        for person in (lena, bob, ken):
            client = client_of(person)
            assert client.get(f"/schedule/jobs/{booking.job_id}/").status_code == 403
            assert client.post(f"/schedule/bookings/{booking.pk}/move/").status_code == 403
            assert client.get("/schedule/bays/").status_code == 403

    def test_a_stranger_finds_nothing(self, client_of, booking, charlie):
        client = client_of(charlie)
        assert "Pardee" not in client.get(WEEK).content.decode()
        for path in (
            f"/schedule/jobs/{booking.job_id}/",
            f"/schedule/bookings/{booking.pk}/",
            f"/schedule/bays/{booking.bay_id}/",
        ):
            assert client.get(path).status_code == 404
        assert client.post(f"/schedule/bookings/{booking.pk}/move/").status_code == 404
        assert client.post(f"/schedule/bookings/{booking.pk}/off/").status_code == 404
