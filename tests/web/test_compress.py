"""Pages go out compressed, save where another site chose words that a page shows; pictures are left alone."""

from __future__ import annotations

import gzip
import re

import pytest
from django.http import FileResponse, HttpResponse
from django.test import RequestFactory

from config.compress import CompressText

pytestmark = pytest.mark.django_db
TAKES = {"accept-encoding": "gzip, br"}


def sent(client, address, **headers):
    return client.get(address, headers={**TAKES, **headers})


def test_a_page_is_much_smaller(client_of, erin, golden_job):
    client, address = client_of(erin), f"/designs/{golden_job.designs.get().pk}/"
    whole, small = client.get(address), sent(client, address)
    assert small["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in small["Vary"]
    assert len(small.content) < 0.25 * len(whole.content)
    assert b"<h1" in gzip.decompress(small.content)


@pytest.mark.parametrize(
    ("address", "site", "is_small"),
    [
        ("/search/?q=smith", "cross-site", False),
        ("/search/?q=smith", "same-site", False),
        ("/search/?q=smith", "same-origin", True),
        ("/search/?q=smith", "none", True),
        ("/customers/", "cross-site", True),  # a link in a letter: no words of another's
    ],
)
def test_words_of_another_site_are_not_compressed(client_of, erin, golden_job, address, site, is_small):
    answer = sent(client_of(erin), address, **{"sec-fetch-site": site})
    assert answer.has_header("Content-Encoding") == is_small


def test_a_browser_that_does_not_say_where_it_comes_from_is_not_believed(client_of, erin, settings):
    answer = client_of(erin).get("/search/?q=smith", headers=TAKES, secure=True)
    assert answer.status_code == 200
    assert not answer.has_header("Content-Encoding")


def test_the_length_says_nothing_and_the_token_differs_each_time(client_of, erin, golden_job):
    client = client_of(erin)
    answers = [sent(client, "/customers/new/").content for _ in range(12)]
    assert len({len(each) for each in answers}) > 3  # up to 100 random bytes each
    tokens = {gzip.decompress(each).split(b'csrfmiddlewaretoken" value="')[1][:64] for each in answers}
    assert len(tokens) == 12


def test_pictures_and_files_are_left_alone(tmp_path):
    (tmp_path / "a.bin").write_bytes(b"a" * 5000)
    request = RequestFactory().get("/", headers=TAKES)
    with (tmp_path / "a.bin").open("rb") as opened:
        file = CompressText(lambda _: FileResponse(opened, content_type="text/plain"))(request)
    picture = CompressText(lambda _: HttpResponse(b"a" * 5000, content_type="image/jpeg"))
    assert not file.has_header("Content-Encoding")
    assert not picture(request).has_header("Content-Encoding")


def test_there_is_an_icon_for_who_only_looks(client):
    answer = client.get("/favicon.ico")
    assert answer.status_code == 302
    assert answer["Location"].endswith(".ico")


def test_a_telephone_link_has_no_spaces(client_of, erin, golden_job):
    customer = golden_job.vehicle.customer
    customer.phone = "303 555 0171"
    customer.save()
    page = client_of(erin).get(f"/customers/{customer.pk}/").content.decode()
    assert 'href="tel:3035550171"' in page
    assert "tel:303 " not in page


def test_times_are_written_as_html_reads_them(client_of, erin, golden_job):
    """At most three digits of a second (HTML, "valid global date and time string"); we write none."""
    page = client_of(erin).get(f"/jobs/{golden_job.pk}/").content.decode()
    times = re.findall(r'<time[^>]* datetime="([^"]*)"', page)
    assert times
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d{4}", each) for each in times), times
