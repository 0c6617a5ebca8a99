"""Beginning from another job in the browser, and the quote that follows."""

from __future__ import annotations

import pytest
from django.urls import reverse

from jobs.customers.intake import job_intake
from jobs.design.revision import design_create
from jobs.models import Customer, Job, Package, Survey, Vehicle

pytestmark = pytest.mark.django_db


@pytest.fixture
def next_job(golden_job, alice, now) -> Job:
    """Return the job of another trailer, whose roof is 5.8 m long and bare."""
    trailer = Vehicle(shop=golden_job.shop, kind="travel_trailer", year=2021, make_text="Invented 19")
    caller = Customer(shop=golden_job.shop, name="Nell Pardee", phone="555-0142")
    job = job_intake(job=Job(title="The same"), vehicle=trailer, customer=caller, actor=alice, at=now)
    Survey.objects.filter(job=job).update(roof_length_m=5.8, roof_width_m=2.2)
    return job


def url(job: Job) -> str:
    return reverse("jobs:design_start", args=[job.pk])


def test_from_the_list_to_a_quote_like_the_other(draft_quote, golden_job, next_job, erin, bob, client_of):
    client, like = client_of(erin), golden_job.designs.get()
    assert url(next_job) in client.get(reverse("jobs:design_list", args=[next_job.pk])).content.decode()
    page = client.get(url(next_job)).content.decode()
    assert golden_job.number in page
    text = client.post(url(next_job), {"like": like.pk}, follow=True).content.decode()
    design = next_job.designs.get()
    assert "hangs 24 in over the front edge" in text
    assert f"Quote it like job {golden_job.number}" in text
    assert (
        "hangs 24 in" in client_of(bob).get(reverse("jobs:design_detail", args=[design.pk])).content.decode()
    )
    text = client.post(reverse("jobs:quote_repeat", args=[design.pk]), follow=True).content.decode()
    assert next_job.quotes.count() == 1
    assert "is begun." in text
    text = client.post(reverse("jobs:misfits_seen", args=[design.pk]), follow=True).content.decode()
    assert "you have seen what did not fit" in text
    assert "I have seen this" not in text


def test_the_list_is_searched(golden_job, next_job, erin, client_of):
    client = client_of(erin)
    for asked, is_found in (
        ({"q": golden_job.vehicle.customer.name[:6]}, True),
        ({"q": golden_job.number}, True),
        ({"q": "nobody of that name"}, False),
        ({"kind": "travel_trailer"}, True),
        ({"kind": "bus"}, False),
    ):
        text = client.get(url(next_job), asked).content.decode()
        assert ("Use this" in text) is is_found, asked


def test_strangers_and_technicians(golden_job, next_job, bob, charlie, client_of):
    like = golden_job.designs.get()
    assert client_of(bob).post(url(next_job), {"like": like.pk}).status_code == 403
    for path in (url(next_job), reverse("jobs:misfits_seen", args=[like.pk])):
        assert client_of(charlie).post(path, {"like": like.pk}).status_code == 404
    assert client_of(charlie).post(reverse("jobs:quote_repeat", args=[like.pk])).status_code == 404
    assert not next_job.designs.exists()


def test_a_design_of_another_shop_is_not_found(next_job, erin, charlie, client_of, now):
    theirs = charlie.membership.shop
    van, caller = Vehicle(shop=theirs, kind="class_b"), Customer(shop=theirs, name="Odd Winter")
    job = job_intake(job=Job(title="Theirs"), vehicle=van, customer=caller, actor=charlie, at=now)
    other = design_create(job=job, actor=charlie, at=now)
    client = client_of(erin)
    for asked in (str(other.pk), "", "x"):
        assert client.post(url(next_job), {"like": asked}).status_code == 404
    assert f'value="{other.pk}"' not in client.get(url(next_job)).content.decode()


def test_a_closed_job_says_why_not(golden_job, next_job, erin, client_of):
    Job.objects.filter(pk=next_job.pk).update(state=Job.State.CANCELLED)
    answer = client_of(erin).post(url(next_job), {"like": golden_job.designs.get().pk}, follow=True)
    assert "This job is closed" in answer.content.decode()


def test_a_package_is_kept_listed_placed_and_removed(
    draft_quote, golden_job, next_job, erin, bob, charlie, client_of
):
    client, like = client_of(erin), golden_job.designs.get()
    keep = reverse("jobs:package_keep", args=[like.pk])
    assert client_of(bob).post(keep, {"name": "Pair"}).status_code == 403
    assert client_of(charlie).post(keep, {"name": "Pair"}).status_code == 404
    assert "This field is required" in client.post(keep, {"name": " "}, follow=True).content.decode()
    text = client.post(keep, {"name": "Weekend pair", "note": "For two nights"}, follow=True).content.decode()
    assert "Weekend pair is kept as a package." in text
    assert "For two nights" in text
    assert "Weekend pair" not in client_of(charlie).get(reverse("jobs:package_list")).content.decode()
    assert "Weekend pair" in client.get(url(next_job)).content.decode()
    remove = reverse("jobs:package_remove", args=[Package.objects.get().pk])
    assert client_of(charlie).post(remove).status_code == 404
    assert "No package yet." in client.post(remove, follow=True).content.decode()
