"""The hub of a job: what comes next, and what a technician must not see."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from jobs.customers.job import job_create
from jobs.models import Customer, Design, Job, Quote, Vehicle


@pytest.fixture
def job(shop, alice, now):
    customer = Customer.objects.create(shop=shop, name="Ann Example")
    vehicle = Vehicle.objects.create(shop=shop, customer=customer, kind="travel_trailer")
    return job_create(shop=shop, vehicle=vehicle, title="Solar", asked_for="", actor=alice, at=now)


@pytest.fixture
def quote(job):
    design = Design.objects.create(job=job, number=1)
    return Quote.objects.create(job=job, design=design, number=1, total=Decimal("9437.79"))


class TestJobDetail:
    def test_it_works(self, client_of, bob, job):
        page = client_of(bob).get(f"/jobs/{job.pk}/")
        assert page.status_code == 200
        assert page.context["step"].title == "Survey the vehicle"

    @pytest.mark.parametrize(
        ("state", "title"),
        [
            ("quoted", "Waiting for the customer"),
            ("accepted", "Take the deposit"),
            ("in_work", "Work through the checklist"),
            ("cure_wait", "Sealant is curing"),
            ("in_care", "In care"),
            ("declined", "This job has ended"),
        ],
    )
    def test_every_state_says_what_comes_next(self, client_of, alice, job, state, title):
        Job.objects.filter(pk=job.pk).update(state=state)
        assert client_of(alice).get(f"/jobs/{job.pk}/").context["step"].title == title

    def test_a_draft_quote_is_to_be_sent(self, client_of, erin, job, quote):
        Job.objects.filter(pk=job.pk).update(state="designing")
        step = client_of(erin).get(f"/jobs/{job.pk}/").context["step"]
        assert (step.url_name, step.target_pk) == ("jobs:quote_detail", quote.pk)

    @pytest.mark.parametrize(
        ("person", "sees"), [("alice", True), ("ken", True), ("bob", False), ("lena", False)]
    )
    def test_prices_are_for_those_who_may_see_them(self, client_of, request, job, quote, person, sees):
        client = client_of(request.getfixturevalue(person))
        for path in ("", "papers/"):
            text = client.get(f"/jobs/{job.pk}/{path}").content.decode()
            assert ("9,437.79" in text) is sees
            assert ("Quote" in text) is sees

    def test_queries_are_few(self, client_of, alice, job, quote, django_assert_max_num_queries):
        client = client_of(alice)
        for path in ("", "papers/", "log/", "edit/"):
            with django_assert_max_num_queries(12):
                client.get(f"/jobs/{job.pk}/{path}")

    @pytest.mark.parametrize("path", ["", "edit/", "papers/", "log/"])
    def test_it_hides_the_job_from_a_stranger(self, client_of, charlie, job, path):
        assert client_of(charlie).get(f"/jobs/{job.pk}/{path}").status_code == 404


class TestJobEdit:
    def test_it_works(self, client_of, erin, bob, job):
        data = {"title": "New name", "work_place": "Bay 2", "promised_date": "2026-12-01", "people": [bob.pk]}
        client_of(erin).post(f"/jobs/{job.pk}/edit/", data)
        job.refresh_from_db()
        assert (job.title, job.promised_date) == ("New name", dt.date(2026, 12, 1))
        assert list(job.assigned_to.all()) == [bob]

    def test_a_blank_title_is_refused_and_the_rest_kept(self, client_of, erin, job):
        page = client_of(erin).post(f"/jobs/{job.pk}/edit/", {"title": "", "work_place": "Bay 2"})
        assert page.status_code == 422
        assert 'value="Bay 2"' in page.content.decode()

    def test_people_of_another_shop_cannot_be_named(self, client_of, erin, charlie, job):
        page = client_of(erin).post(f"/jobs/{job.pk}/edit/", {"title": "x", "people": [charlie.pk]})
        assert page.status_code == 422

    def test_technicians_do_not_edit(self, client_of, bob, job):
        assert client_of(bob).post(f"/jobs/{job.pk}/edit/", {"title": "x"}).status_code == 403


class TestJobLog:
    def test_a_note_is_written_by_anybody_of_the_shop(self, client_of, bob, job):
        client_of(bob).post(f"/jobs/{job.pk}/log/", {"text": "Rain until noon"})
        text = client_of(bob).get(f"/jobs/{job.pk}/log/").content.decode()
        assert "Rain until noon" in text
        assert "Bob Test" in text

    def test_an_empty_note_is_refused(self, client_of, bob, job):
        assert client_of(bob).post(f"/jobs/{job.pk}/log/", {"text": " "}).status_code == 422

    def test_a_stranger_writes_nothing(self, client_of, charlie, job):
        assert client_of(charlie).post(f"/jobs/{job.pk}/log/", {"text": "x"}).status_code == 404
