"""Opening a job on the telephone: customer, vehicle and job in one act."""

from __future__ import annotations

import pytest

from jobs.models import Customer, Job, LogEntry, Survey, Vehicle

CALL = {
    "customer-name": "Ann Example",
    "customer-phone": "303 555 0171",
    "customer-preferred_contact": "phone",
    "vehicle-kind": "travel_trailer",
    "vehicle-year": "2019",
    "vehicle-length_m": "27 ft",
    "vehicle-plate": "trl 2709",
    "job-title": "Solar and lithium",
    "job-asked_for": "Fridge for three days",
}


class TestJobCreate:
    def test_it_works(self, client_of, erin, shop):
        answer = client_of(erin).post("/jobs/new/", CALL)
        job = Job.objects.get()
        assert answer.headers["Location"] == f"/jobs/{job.pk}/"
        assert (job.shop, job.title, job.state) == (shop, "Solar and lithium", "enquiry")
        assert job.vehicle.length_m == pytest.approx(8.2296)
        assert job.vehicle.plate == "TRL 2709"
        assert job.vehicle.customer.name == "Ann Example"
        assert Survey.objects.filter(job=job).exists()
        assert list(LogEntry.objects.values_list("verb", flat=True).order_by("pk")) == [
            "customer added", "vehicle added", "job opened",
        ]  # fmt: skip

    def test_a_known_vehicle_is_asked_for_the_job_alone(self, client_of, erin, shop):
        customer = Customer.objects.create(shop=shop, name="Ann Example", phone="303 555 0171")
        vehicle = Vehicle.objects.create(shop=shop, customer=customer, kind="bus")
        client_of(erin).post(f"/jobs/new/?vehicle={vehicle.pk}", {"job-title": "Second visit"})
        assert Job.objects.get().vehicle == vehicle
        assert Customer.objects.count() == 1

    def test_nothing_is_stored_when_one_part_is_refused(self, client_of, erin):
        page = client_of(erin).post("/jobs/new/", CALL | {"vehicle-length_m": "900 ft"})
        assert page.status_code == 422
        assert not Customer.objects.exists()
        text = page.content.decode()
        assert "Outside length must be" in text
        assert 'value="900 ft"' in text
        assert 'value="Ann Example"' in text

    def test_an_unusual_value_is_asked_about_once(self, client_of, erin):
        page = client_of(erin).post("/jobs/new/", CALL | {"vehicle-year": "1958"})
        assert page.status_code == 422
        assert "Model year 1958" in page.content.decode()
        key = page.context["vehicle_form"].fields["sure"].widget.key
        answer = client_of(erin).post("/jobs/new/", CALL | {"vehicle-year": "1958", "vehicle-sure": key})
        assert answer.status_code == 302

    def test_it_wants_a_way_to_reach_the_customer(self, client_of, erin):
        page = client_of(erin).post("/jobs/new/", CALL | {"customer-phone": ""})
        assert "phone number or an e-mail address" in page.content.decode()

    @pytest.mark.parametrize("person", ["bob", "lena", "ken"])
    def test_only_designers_open_jobs(self, client_of, person, request):
        assert client_of(request.getfixturevalue(person)).post("/jobs/new/", CALL).status_code == 403
        assert not Job.objects.exists()

    def test_a_stranger_cannot_use_our_vehicle_or_customer(self, client_of, charlie, shop):
        customer = Customer.objects.create(shop=shop, name="Ann Example")
        vehicle = Vehicle.objects.create(shop=shop, customer=customer, kind="bus")
        client = client_of(charlie)
        assert client.post(f"/jobs/new/?vehicle={vehicle.pk}", {"job-title": "x"}).status_code == 404
        assert client.post(f"/jobs/new/?customer={customer.pk}", CALL).status_code == 404
