"""One box for customer, plate, VIN, phone and job number."""

from __future__ import annotations

import pytest

from jobs.models import Customer, Job, Vehicle


@pytest.fixture
def trailer(shop):
    customer = Customer.objects.create(shop=shop, name="Ann Example", phone="+1 (303) 555-0171")
    vehicle = Vehicle.objects.create(
        shop=shop, customer=customer, kind="travel_trailer", plate="TRL-27 09", vin="1M8GDM9AXKP042788"
    )
    Job.objects.create(shop=shop, vehicle=vehicle, number="2026-007", title="Solar and lithium")
    return vehicle


class TestJobSearch:
    @pytest.mark.parametrize("words", ["ann", "TRL2709", "trl-27", "27 09", "042788", "1m8g dm9a"])
    def test_it_finds_the_vehicle(self, client_of, bob, trailer, words):
        page = client_of(bob).get("/search/", {"q": words})
        assert page.context["found"].vehicles == (trailer,)
        assert page.context["found"].jobs

    @pytest.mark.parametrize(
        ("words", "kind"), [("5550171", "customers"), ("2026-007", "jobs"), ("lithium", "jobs")]
    )
    def test_it_finds_phone_number_and_title(self, client_of, bob, trailer, words, kind):
        assert len(getattr(client_of(bob).get("/search/", {"q": words}).context["found"], kind)) == 1

    def test_one_character_is_too_little(self, client_of, bob, trailer):
        assert client_of(bob).get("/search/", {"q": "a"}).context["found"].is_nothing

    def test_nothing_found_says_so_and_keeps_the_words(self, client_of, bob, trailer):
        text = client_of(bob).get("/search/", {"q": "<zzz>"}).content.decode()
        assert "Nothing found for “&lt;zzz&gt;”" in text

    def test_the_live_box_gets_the_results_alone(self, client_of, bob, trailer):
        text = client_of(bob).get("/search/", {"q": "ann"}, headers={"HX-Request": "true"}).content.decode()
        assert "Ann Example" in text
        assert "<html" not in text

    def test_queries_are_few(self, client_of, bob, trailer, django_assert_max_num_queries):
        client = client_of(bob)
        with django_assert_max_num_queries(12):
            client.get("/search/", {"q": "ann"})

    def test_it_hides_everything_from_a_stranger(self, client_of, charlie, trailer):
        for words in ("ann", "042788", "2026-007", "5550171"):
            assert client_of(charlie).get("/search/", {"q": words}).context["found"].is_nothing
