"""What a person reads when something is not theirs, not there, or our fault."""

from __future__ import annotations

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import include, path

from common.pdf import INSTALL_LINE, PdfLibraryMissing


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("a fault")


def paperless(request: HttpRequest) -> HttpResponse:
    raise PdfLibraryMissing


urlpatterns = [path("broken/", broken), path("paper/", paperless), path("", include("config.urls"))]


def test_not_there(client_of, alice):
    page = client_of(alice).get("/nowhere/")
    assert page.status_code == 404
    assert "no such page" in page.content.decode()


def test_not_yours(client_of, bob):
    page = client_of(bob).get("/shop/")
    assert page.status_code == 403
    assert "Only the owner may do this." in page.content.decode()


def test_a_page_kept_open_too_long(bob):
    client = Client(enforce_csrf_checks=True)
    client.force_login(bob)
    page = client.post("/jobs/1/log/", {"text": "x"})
    assert page.status_code == 403
    assert "Please send it again" in page.content.decode()


@pytest.mark.urls(__name__)
def test_a_fault_of_ours(client_of, bob):
    client = client_of(bob)
    client.raise_request_exception = False
    page = client.get("/broken/")
    assert page.status_code == 500
    assert "Something went wrong" in page.content.decode()
    assert "RuntimeError" not in page.content.decode()


@pytest.mark.urls(__name__)
def test_a_machine_without_pango_says_how_to_mend_it(client_of, bob):
    page = client_of(bob).get("/paper/")
    assert page.status_code == 503
    assert INSTALL_LINE in page.content.decode()


def test_every_page_carries_the_strict_policy(client_of, bob):
    policy = client_of(bob).get("/").headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
