"""The owner's settings."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.models import Shop


def shown(client):
    """Return what the form would send untouched."""
    form = client.get("/shop/").context["form"]
    data = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in data.items() if value not in (None, False)}


class TestShopEdit:
    def test_untouched_it_changes_nothing(self, client_of, alice, shop):
        before = Shop.objects.filter(pk=shop.pk).values().get()
        client = client_of(alice)
        assert client.post("/shop/", shown(client)).status_code == 302
        assert Shop.objects.filter(pk=shop.pk).values().get() == before
        assert not shop.log.exists()

    def test_it_works(self, client_of, alice, shop):
        client = client_of(alice)
        client.post("/shop/", shown(client) | {"tax_fraction": "8.25 %", "units": "metric", "paper": "a4"})
        client.post("/shop/", shown(client) | {"alternator_idle_fraction": "40 %"})
        shop.refresh_from_db()
        assert shop.alternator_idle_fraction == 0.4
        assert (shop.tax_fraction, shop.units, shop.paper) == (Decimal("0.08250"), "metric", "a4")
        assert {entry.detail for entry in shop.log.all()} == {
            "mile_cost, mile_rate, paper, tax_fraction, units", "alternator_idle_fraction"
        }  # fmt: skip

    def test_rates_of_the_way_go_along_from_miles_to_kilometers(self, client_of, alice, shop):
        """2.50 a mile is 1.55 a kilometer (1 mi is 1.609344 km, NIST SP 811); a typed one stays."""
        client = client_of(alice)
        client.post("/shop/", shown(client) | {"units": "metric", "mile_cost": "0.50"})
        shop.refresh_from_db()
        assert (shop.mile_rate, shop.mile_cost) == (Decimal("1.55"), Decimal("0.50"))
        assert "Travel, per kilometer" in client.get("/shop/").text
        client.post("/shop/", shown(client) | {"units": "imperial"})
        shop.refresh_from_db()
        assert (shop.mile_rate, shop.mile_cost) == (Decimal("2.49"), Decimal("0.80"))  # 1.55, 0.50 × 1.609344
        assert "Travel, per mile" in client.get("/shop/").text

    def test_the_owner_sets_what_is_shop_policy(self, client_of, alice, shop):
        client = client_of(alice)
        policy = {
            "lithium_main_interrupt_a": "50,000", "cold_volts_fraction": "95 %",
            "foot_use_fraction": "40 %", "cargo_left_fraction": "15 %",
        }  # fmt: skip
        assert client.post("/shop/", shown(client) | policy).status_code == 302
        shop.refresh_from_db()
        assert shop.lithium_main_interrupt_a == 50_000.0
        assert (shop.cold_volts_fraction, shop.foot_use_fraction) == (0.95, 0.4)
        assert shop.cargo_left_fraction == 0.15

    def test_the_wind_panels_must_stand_is_typed_in_miles_per_hour(self, client_of, alice, shop):
        """90 mph is 40.23 m/s (1 mph is 0.44704 m/s, NIST SP 811)."""
        client = client_of(alice)
        assert shown(client)["design_speed_mps"].startswith("105 mph")
        client.post("/shop/", shown(client) | {"design_speed_mps": "90"})
        shop.refresh_from_db()
        assert shop.design_speed_mps == pytest.approx(40.23, abs=0.01)

    def test_a_metric_shop_types_it_in_kilometers_per_hour(self, client_of, alice, shop):
        """144 km/h is 40 m/s (3.6 km/h is 1 m/s); the default of 46.94 m/s is 169 km/h."""
        Shop.objects.filter(pk=shop.pk).update(units="metric")
        client = client_of(alice)
        page = client.get("/shop/").text
        assert "169 km/h" in page
        assert "m/s" not in page
        client.post("/shop/", shown(client) | {"design_speed_mps": "144"})
        shop.refresh_from_db()
        assert shop.design_speed_mps == pytest.approx(40.0, abs=0.001)
        assert (
            "72 km/h to 360 km/h" in client.post("/shop/", shown(client) | {"design_speed_mps": "400"}).text
        )

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"alternator_idle_fraction": "5"}, "Alternator output, idling hot must be 10% to 100%"),
            ({"lithium_main_interrupt_a": "500"}, "must be 1,000 A to 200,000 A"),
            ({"foot_use_fraction": "90"}, "must be 5% to 80%"),
            ({"tax_fraction": "70"}, "Sales tax must be 0% to 50%"),
            ({"design_speed_mps": "400"}, "must be 45 mph to 224 mph"),
            ({"labour_rate": "-3"}, "greater than or equal to 0"),
            ({"margin_block": "40"}, "must not be above the caution limit"),
            ({"quote_valid_days": "0"}, "1 to 365 days"),
            ({"time_zone": "Mars/Base"}, "Select a valid choice"),
            ({"name": ""}, "This field is required"),
        ],
    )
    def test_it_refuses_and_keeps_the_stored_shop(self, client_of, alice, shop, change, said):
        client = client_of(alice)
        page = client.post("/shop/", shown(client) | change)
        assert page.status_code == 422
        assert said in page.content.decode()
        assert "Test Coach Solar" in page.content.decode()

    @pytest.mark.parametrize("person", ["erin", "lena", "bob", "ken"])
    def test_only_the_owner(self, client_of, request, person):
        assert client_of(request.getfixturevalue(person)).get("/shop/").status_code == 403

    def test_a_stranger_changes_only_their_own(self, client_of, charlie, shop):
        client = client_of(charlie)
        client.post("/shop/", shown(client) | {"name": "Taken over"})
        shop.refresh_from_db()
        assert shop.name == "Test Coach Solar"
