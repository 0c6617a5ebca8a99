"""Adding, changing and reading customers."""

from __future__ import annotations

import pytest

from jobs.models import Customer, Vehicle

ANN = {"name": "Ann Example", "phone": "303 555 0171", "preferred_contact": "text"}


@pytest.fixture
def ann(shop):
    return Customer.objects.create(shop=shop, name="Ann Example", phone="303 555 0171")


class TestCustomerCreate:
    def test_it_works(self, client_of, erin, shop):
        answer = client_of(erin).post("/customers/new/", ANN)
        found = Customer.objects.get()
        assert answer.headers["Location"] == f"/customers/{found.pk}/"
        assert (found.shop, found.preferred_contact) == (shop, "text")

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"name": ""}, "This field is required"),
            ({"phone": "12"}, "Phone must have 7 to 15 digits; this has 2."),
            ({"phone": ""}, "phone number or an e-mail address"),
            ({"email": "nowhere"}, "valid email"),
        ],
    )
    def test_it_refuses_naming_the_field_and_keeps_the_text(self, client_of, erin, change, said):
        page = client_of(erin).post("/customers/new/", ANN | {"address": "18 Millrace Lane"} | change)
        assert page.status_code == 422
        assert said in page.content.decode()
        assert "18 Millrace Lane" in page.content.decode()
        assert not Customer.objects.exists()

    @pytest.mark.parametrize("person", ["bob", "lena", "ken"])
    def test_only_designers_add_and_change(self, client_of, request, ann, person):
        client = client_of(request.getfixturevalue(person))
        assert client.post("/customers/new/", ANN).status_code == 403
        assert client.post(f"/customers/{ann.pk}/edit/", ANN).status_code == 403


class TestCustomerEdit:
    def test_it_works(self, client_of, erin, ann):
        client_of(erin).post(f"/customers/{ann.pk}/edit/", ANN | {"name": "Ann Other"})
        ann.refresh_from_db()
        assert ann.name == "Ann Other"
        assert ann.shop.log.get().verb == "customer changed"

    @pytest.mark.parametrize("path", ["", "edit/", "vehicles/new/"])
    def test_it_hides_the_customer_from_a_stranger(self, client_of, charlie, ann, path):
        assert client_of(charlie).get(f"/customers/{ann.pk}/{path}").status_code == 404
        assert client_of(charlie).post(f"/customers/{ann.pk}/{path}", ANN).status_code == 404


class TestCustomerList:
    def test_it_pages_and_queries_do_not_grow(self, client_of, bob, shop, django_assert_num_queries):
        client = client_of(bob)
        Customer.objects.bulk_create(Customer(shop=shop, name=f"C{i}") for i in range(60))
        assert len(client.get("/customers/").context["page"]) == 50
        with django_assert_num_queries(4):
            client.get("/customers/")
        Customer.objects.bulk_create(Customer(shop=shop, name=f"D{i}") for i in range(1000))
        with django_assert_num_queries(4):
            client.get("/customers/")

    def test_a_page_shows_vehicles_and_jobs(self, client_of, bob, ann, shop, django_assert_max_num_queries):
        Vehicle.objects.create(shop=shop, customer=ann, kind="bus", plate="BUS 1")
        client = client_of(bob)
        with django_assert_max_num_queries(12):
            assert "BUS 1" in client.get(f"/customers/{ann.pk}/").content.decode()

    def test_a_stranger_sees_none(self, client_of, charlie, ann):
        assert not client_of(charlie).get("/customers/").context["page"].object_list
