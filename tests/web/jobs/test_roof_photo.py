"""A photo under the roof plan: taken in, placed, served to its shop, never on paper."""

from __future__ import annotations

import io
import json

import pytest
from django.urls import reverse
from PIL import Image

from jobs.engine.stored import design_in_full
from jobs.models import Design, Job, RoofPhoto
from jobs.roof.plan import plan_svg
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    """Keep pictures of tests in a folder of their own."""
    settings.MEDIA_ROOT = tmp_path


def picture(kind="JPEG", size=(800, 300)):
    """Return a picture file as a form sends it."""
    out = io.BytesIO()
    Image.new("RGB", size, "#b0b0a0").save(out, kind)
    out.seek(0)
    out.name = f"roof.{kind.lower()}"
    return out


@pytest.fixture
def add(client_of, design):
    """Return a way to lay a photo under the plan."""

    def send(who, upload=None):
        address = reverse("jobs:roof_photo_add", args=[design.pk])
        return client_of(who).post(address, {"photo": upload or picture()}, follow=True)

    return send


@pytest.fixture
def place(client_of, design, erin):
    """Return a way to place the photo; what is not named is usual."""

    def send(who=erin, **more):
        usual = {
            "x_mm": 4000, "y_mm": 1100, "turn_deg": 1.5, "opacity": 0.4, "a": [10, 20], "b": [410, 20],
            "distance_mm": 4000, "seen": 0,
        }  # fmt: skip
        address = reverse("jobs:roof_photo_place", args=[design.pk])
        return client_of(who).post(address, json.dumps(usual | more), content_type="application/json")

    return send


def test_it_works(add, place, design, erin, client_of, django_assert_max_num_queries):
    page = add(erin)
    photo = RoofPhoto.objects.get(survey=design.job.survey)
    assert "How it lies" in page.text
    assert place().json() == {"seen": 1}
    photo.refresh_from_db()
    assert (photo.distance_m, photo.turn_deg, photo.opacity_fraction, photo.x_m) == (4.0, 1.5, 0.4, 4.0)
    client = client_of(erin)
    with django_assert_max_num_queries(12):
        page = client.get(reverse("jobs:workspace", args=[design.pk]))
    assert reverse("jobs:roof_photo", args=[photo.pk]) in page.text
    assert (
        plan_svg(roof_state(design_in_full(design.pk)), shop_units="imperial") in page.text
    )  # the plan knows no photo


def test_it_is_sent_to_its_shop_only_and_nothing_in_it_runs(add, erin, bob, charlie, client_of):
    add(erin)
    address = reverse("jobs:roof_photo", args=[RoofPhoto.objects.get().pk])
    answer = client_of(bob).get(address)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "private" in answer["Cache-Control"]
    assert "sandbox" in answer["Content-Security-Policy"]
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8\xff")
    assert client_of(charlie).get(address).status_code == 404


def test_a_second_photo_takes_the_place_and_the_file_of_the_first(
    add, erin, design, client_of, django_capture_on_commit_callbacks
):
    add(erin)
    first = RoofPhoto.objects.get()
    with django_capture_on_commit_callbacks(execute=True):
        add(erin, picture("PNG"))
    assert RoofPhoto.objects.get().pk != first.pk
    assert not first.file.storage.exists(first.file.name)
    with django_capture_on_commit_callbacks(execute=True):
        client_of(erin).post(reverse("jobs:roof_photo_remove", args=[design.pk]))
    assert not RoofPhoto.objects.exists()


def test_a_photo_whose_file_was_lost_goes_all_the_same(
    add, erin, design, client_of, django_capture_on_commit_callbacks
):
    add(erin)
    RoofPhoto.objects.update(file="")
    with django_capture_on_commit_callbacks(execute=True):
        answer = client_of(erin).post(reverse("jobs:roof_photo_remove", args=[design.pk]))
    assert answer.status_code == 302
    assert not RoofPhoto.objects.exists()


WRONG = [
    ({"x_mm": 1e9}, "Middle of the photo, from the rear: must be from -787 3/8 in to 1,574 3/4 in."),
    ({"turn_deg": "left"}, "Turned: must be from -360 to 360°."),
    ({"opacity": 2}, "Strength: must be from 0 to 1."),
    ({"a": [10, 900]}, "Known point, down: must be from 0 to 300 px."),
    ({"b": "here"}, "Known points: must lie on the photo."),
    ({"b": [12, 20]}, "well apart on the photo"),
    ({"a": []}, "well apart on the photo"),
    ({"distance_mm": 1}, "Between the two points: must be from 2 in to 1,181 1/8 in."),
    ({"distance_mm": float("inf")}, "Between the two points: must be from 2 in to 1,181 1/8 in."),
]


def test_what_cannot_be_right_is_refused_by_name(add, place, erin):
    add(erin)
    for more, said in WRONG:
        answer = place(**more)
        assert answer.status_code == 422, more
        assert said in answer.json()["error"]
    assert RoofPhoto.objects.get().edit_count == 0


def test_somebody_elses_place_is_not_overwritten(add, place, erin, alice):
    add(erin)
    place(alice, x_mm=3000)
    answer = place(x_mm=5000)
    assert answer.status_code == 409
    assert answer.json()["theirs"]["x_mm"] == 3000


def test_refusals_are_said(add, place, erin, bob, charlie, design, client_of):
    nothing = io.BytesIO(b"no picture at all")
    nothing.name = "x.jpg"
    assert "photo" in add(erin, nothing).text
    assert not RoofPhoto.objects.exists()
    assert place().status_code == 422  # there is none
    client = client_of(erin)
    address = reverse("jobs:roof_photo_place", args=[design.pk])
    assert client.post(address, "{", content_type="application/json").status_code == 422
    assert (
        "Choose a photo first"
        in client.post(reverse("jobs:roof_photo_add", args=[design.pk]), follow=True).text
    )
    assert add(bob).status_code == 403
    assert add(charlie).status_code == 404
    assert place(charlie).status_code == 404
    add(erin)
    Job.objects.update(state=Job.State.RELEASED)
    assert "survey stays as it was" in place().json()["error"]


def test_a_quote_never_holds_the_photo(add, erin, alice, design, now):
    from jobs.design.revision import design_resize
    from jobs.quote.draft import quote_create
    from jobs.quote.send import document_of

    add(erin)
    design_resize(design, actor=ByName("test"), at=now)
    quote = quote_create(design=Design.objects.get(pk=design.pk), actor=alice, at=now)
    text = json.dumps(document_of(quote, on=now.date()), default=str)
    assert "roof-plan" in text
    assert str(RoofPhoto.objects.get().pk) not in text
    assert "<image" not in text
