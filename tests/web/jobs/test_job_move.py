"""Moving a job by hand: the road, the reason, and whose move it is."""

from __future__ import annotations

import pytest

from jobs.customers.job import job_create, next_states
from jobs.models import Customer, Job, Vehicle


@pytest.fixture
def job(shop, alice, now):
    customer = Customer.objects.create(shop=shop, name="Ann Example")
    vehicle = Vehicle.objects.create(shop=shop, customer=customer, kind="travel_trailer")
    return job_create(shop=shop, vehicle=vehicle, title="Solar", asked_for="", actor=alice, at=now)


def move(client, job, to, reason=""):
    return client.post(f"/jobs/{job.pk}/move/", {"to": to, "reason": reason})


class TestJobMove:
    def test_it_works_and_is_logged(self, client_of, erin, job):
        assert move(client_of(erin), job, "survey_booked").status_code == 302
        job.refresh_from_db()
        assert job.state == "survey_booked"
        assert job.moves.get().by_name == "Erin Test"
        assert job.log.filter(verb="job moved").exists()

    def test_the_way_on_stands_before_the_way_back(self, job):
        for state in ("quoted", "accepted", "commissioning"):
            job.state = state
            onward = [
                one for one in next_states(job) if one not in {"declined", "expired", "cancelled", "refused"}
            ]
            assert list(Job.State.values).index(onward[0]) > list(Job.State.values).index(state)

    def test_it_refuses_a_jump(self, client_of, erin, job):
        assert move(client_of(erin), job, "paid").status_code == 422
        job.refresh_from_db()
        assert job.state == "enquiry"

    def test_the_end_of_a_job_needs_a_reason_and_keeps_the_choice(self, client_of, erin, job):
        page = move(client_of(erin), job, "refused")
        assert page.status_code == 422
        assert "say why the job ends" in page.content.decode()
        assert move(client_of(erin), job, "refused", "Soft roof").status_code == 302

    @pytest.mark.parametrize(
        ("start", "to"), [("designing", "quoted"), ("quoted", "accepted"), ("cure_wait", "released")]
    )
    def test_what_another_act_brings_about_is_not_done_by_hand(self, client_of, alice, job, start, to):
        Job.objects.filter(pk=job.pk).update(state=start)
        assert move(client_of(alice), job, to).status_code == 422

    @pytest.mark.parametrize(
        ("person", "start", "to", "answer"),
        [
            ("bob", "ready", "in_work", 422),
            ("lena", "ready", "in_work", 302),
            ("lena", "accepted", "deposit_paid", 422),
            ("ken", "accepted", "deposit_paid", 302),
            ("alice", "accepted", "deposit_paid", 302),
            ("erin", "accepted", "deposit_paid", 422),
            ("ken", "ready", "in_work", 422),
            ("ken", "invoiced", "paid", 302),
        ],
    )
    def test_each_part_of_the_shop_has_its_own_moves(
        self, client_of, request, job, person, start, to, answer
    ):
        Job.objects.filter(pk=job.pk).update(state=start)
        assert move(client_of(request.getfixturevalue(person)), job, to).status_code == answer

    def test_it_hides_the_job_from_a_stranger(self, client_of, charlie, job):
        assert move(client_of(charlie), job, "survey_booked").status_code == 404

    def test_a_link_moves_nothing(self, client_of, alice, job):
        assert client_of(alice).get(f"/jobs/{job.pk}/move/?to=surveyed").status_code == 405
