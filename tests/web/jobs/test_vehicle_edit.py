"""Adding and changing vehicles: VIN, weights, odd values; and the page with their history."""

from __future__ import annotations

import pytest

from jobs.models import Customer, Job, Vehicle

GOOD = {"kind": "travel_trailer", "cargo_label_type": "occc", "height_limit_m": "13' 3\""}


@pytest.fixture
def ann(shop):
    return Customer.objects.create(shop=shop, name="Ann Example")


@pytest.fixture
def trailer(shop, ann):
    return Vehicle.objects.create(shop=shop, customer=ann, kind="travel_trailer", gvwr_kg=3450, plate="TRL 1")


class TestVehicleCreate:
    def test_it_works(self, client_of, erin, ann, shop):
        data = GOOD | {"vin": "1m8gdm9axkp042788", "gvwr_kg": "7600 lb", "fresh_water_l": "45 gal"}
        client_of(erin).post(f"/customers/{ann.pk}/vehicles/new/", data)
        made = Vehicle.objects.get()
        assert (made.customer, made.shop, made.vin) == (ann, shop, "1M8GDM9AXKP042788")
        assert made.gvwr_kg == pytest.approx(3447.3, abs=0.1)
        assert made.fresh_water_l == pytest.approx(170.3, abs=0.1)

    def test_axles_hitch_and_label_in_feet_and_pounds(self, client_of, erin, ann):
        """1 lb is 0.45359237 kg, 1 ft is 0.3048 m (NIST SP 811)."""
        data = {
            "gawr_front_kg": "5000 lb", "gawr_rear_kg": "9600 lb", "gawr_tag_kg": "4000 lb",
            "hitch": "caravan", "hitch_limit_kg": "220 lb", "wheelbase_m": "20'", "rear_overhang_m": "8' 6\"",
            "tag_spacing_m": "4' 3\"", "scale_is_loaded": "true", "cargo_label_type": "cargo",
        }  # fmt: skip
        client_of(erin).post(f"/customers/{ann.pk}/vehicles/new/", GOOD | data)
        made = Vehicle.objects.get()
        masses = (made.gawr_front_kg, made.gawr_rear_kg, made.gawr_tag_kg, made.hitch_limit_kg)
        assert masses == pytest.approx((2267.96, 4354.49, 1814.37, 99.79), abs=0.01)
        assert (made.wheelbase_m, made.rear_overhang_m) == pytest.approx((6.096, 2.591), abs=0.001)
        assert made.tag_spacing_m == pytest.approx(1.295, abs=0.001)
        assert (made.hitch, made.scale_is_loaded, made.cargo_label_type) == ("caravan", True, "cargo")

    def test_whether_it_was_weighed_loaded_may_stay_open(self, client_of, erin, ann):
        client_of(erin).post(f"/customers/{ann.pk}/vehicles/new/", GOOD | {"scale_is_loaded": "unknown"})
        assert Vehicle.objects.get().scale_is_loaded is None

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"vin": "1M8GDM9AXKP04278O"}, "never I, O or Q"),
            ({"year": "2100"}, "Model year must be at most"),
            ({"gvwr_kg": "-5"}, "GVWR must be 0 lb to 88,185 lb; you typed -5 lb."),
            ({"gvwr_kg": "1e9"}, "GVWR: “1e9” cannot be read as a mass"),
            ({"rear_overhang_m": "60 ft"}, "Rear axle to the rear edge of the roof must be"),
            ({"tag_spacing_m": "1 ft"}, "Drive axle to tag axle must be"),
            ({"cargo_label_type": "gvwr"}, "Select a valid choice"),
            ({"overall_height_m": "90 ft"}, "Overall height now must be"),
            ({"vin": "1M8GDM9A1KP042788"}, "check digit should be X"),
            ({"gvwr_kg": "7600", "uvw_kg": "8000"}, "UVW is not below GVWR"),
        ],
    )
    def test_it_refuses_or_asks_naming_the_field(self, client_of, erin, ann, change, said):
        page = client_of(erin).post(f"/customers/{ann.pk}/vehicles/new/", GOOD | change)
        assert page.status_code == 422
        assert said in page.content.decode().replace("&#x27;", "'")
        assert not Vehicle.objects.exists()

    def test_a_vin_on_file_is_not_entered_twice(self, client_of, erin, ann, trailer):
        Vehicle.objects.filter(pk=trailer.pk).update(vin="1M8GDM9AXKP042788")
        page = client_of(erin).post(f"/customers/{ann.pk}/vehicles/new/", GOOD | {"vin": "1M8GDM9AXKP042788"})
        assert "on file already" in page.content.decode()

    def test_a_foreign_check_digit_is_kept_once_confirmed(self, client_of, erin, ann):
        data = GOOD | {"vin": "1M8GDM9A1KP042788"}
        url = f"/customers/{ann.pk}/vehicles/new/"
        key = client_of(erin).post(url, data).context["form"].fields["sure"].widget.key
        client_of(erin).post(url, data | {"sure": key})
        assert Vehicle.objects.get().vin == "1M8GDM9A1KP042788"


class TestVehicleEdit:
    def test_an_untouched_value_does_not_drift(self, client_of, erin, trailer):
        shown = client_of(erin).get(f"/vehicles/{trailer.pk}/edit/").context["form"]
        data = {name: shown[name].value() or "" for name in shown.fields}
        data.pop("is_lived_in")
        client_of(erin).post(f"/vehicles/{trailer.pk}/edit/", data | {"plate": "TRL 2"})
        trailer.refresh_from_db()
        assert (trailer.plate, trailer.gvwr_kg, trailer.height_limit_m) == ("TRL 2", 3450, 4.05)

    def test_technicians_do_not_edit(self, client_of, bob, trailer):
        assert client_of(bob).post(f"/vehicles/{trailer.pk}/edit/", GOOD).status_code == 403

    @pytest.mark.parametrize("path", ["", "edit/"])
    def test_it_hides_the_vehicle_from_a_stranger(self, client_of, charlie, trailer, path):
        assert client_of(charlie).get(f"/vehicles/{trailer.pk}/{path}").status_code == 404


class TestVehicleDetail:
    def test_history_shows_every_job(self, client_of, bob, shop, trailer, django_assert_max_num_queries):
        for number in range(5):
            Job.objects.create(shop=shop, vehicle=trailer, number=f"2026-{number}", title=f"Visit {number}")
        client = client_of(bob)
        with django_assert_max_num_queries(12):
            text = client.get(f"/vehicles/{trailer.pk}/").content.decode()
        assert all(f"Visit {number}" in text for number in range(5))
        assert "7,606 lb" in text

    def test_history_shows_what_was_fitted(
        self, client_of, bob, golden_job, shop, django_assert_max_num_queries
    ):
        from jobs.models import Quote

        design = golden_job.designs.get(number=1)
        Quote.objects.create(job=golden_job, design=design, number=1, state="accepted")
        client = client_of(bob)
        with django_assert_max_num_queries(12):
            text = client.get(f"/vehicles/{golden_job.vehicle_id}/").content.decode()
        assert "4 ×" in text
        assert "LFP" in text
