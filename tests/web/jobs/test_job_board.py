"""The board: who sees what, and that it stays as quick with a thousand jobs."""

from __future__ import annotations

from jobs.models import Job, Vehicle


def make_jobs(shop, count, state="enquiry"):
    """Write many jobs of one customer at once."""
    from jobs.models import Customer

    customer = Customer.objects.create(shop=shop, name="Ann Example")
    start = Job.objects.filter(shop=shop).count()
    vehicles = Vehicle.objects.bulk_create(
        Vehicle(shop=shop, customer=customer, kind="travel_trailer") for _ in range(count)
    )
    return Job.objects.bulk_create(
        Job(shop=shop, vehicle=vehicle, number=f"2026-{start + place}", title="Solar", state=state)
        for place, vehicle in enumerate(vehicles)
    )


def count_queries(client, url):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


class TestJobBoard:
    def test_it_works(self, client_of, bob, shop):
        make_jobs(shop, 1)
        make_jobs(shop, 1, state="cure_wait")
        page = client_of(bob).get("/")
        assert [lane.count for lane in page.context["lanes"]] == [1, 0, 0, 0, 1, 0]
        assert "Ann Example" in page.content.decode()

    def test_a_lane_shows_its_newest_and_leads_to_the_rest(self, client_of, alice, shop):
        make_jobs(shop, 60)
        page = client_of(alice).get("/")
        assert page.context["lanes"][0].hidden_count == 48
        lane = client_of(alice).get("/?lane=asking")
        assert len(lane.context["page"]) == 50
        assert len(client_of(alice).get("/?lane=asking&page=2").context["page"]) == 10

    def test_an_unknown_lane_is_not_found(self, client_of, alice):
        assert client_of(alice).get("/?lane=nowhere").status_code == 404

    def test_queries_are_few_and_do_not_grow(self, client_of, alice, shop):
        client = client_of(alice)
        make_jobs(shop, 10)
        few = [count_queries(client, url) for url in ("/", "/?lane=asking")]
        make_jobs(shop, 990)
        assert [count_queries(client, url) for url in ("/", "/?lane=asking")] == few
        assert max(few) <= 12

    def test_only_designers_are_offered_a_new_job(self, client_of, bob, erin):
        assert "New job" not in client_of(bob).get("/").content.decode()
        assert "New job" in client_of(erin).get("/").content.decode()

    def test_it_hides_the_jobs_from_a_stranger(self, client_of, charlie, shop):
        make_jobs(shop, 3)
        page = client_of(charlie).get("/")
        assert [lane.count for lane in page.context["lanes"]] == [0] * 6

    def test_it_asks_a_visitor_to_sign_in(self, client, db):
        assert client.get("/").headers["Location"] == "/account/login/?next=/"

    def test_somebody_who_left_gets_a_sentence(self, client_of, bob):
        bob.membership.is_active = False
        bob.membership.save()
        page = client_of(bob).get("/")
        assert page.status_code == 403
        assert "no longer belongs to a shop" in page.content.decode()
