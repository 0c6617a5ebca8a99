"""What every answer says of itself: kept nowhere, few devices, each source named, cookies of one host."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db

#: Pages of the house, one of each kind; the tablet's shell is the same for everybody and may be kept.
PRIVATE = ["/", "/customers/", "/catalogue/", "/search/?q=a", "/people/", "/shop/", "/account/logout/"]


def policy(answer) -> dict[str, list[str]]:
    """Return the directives of a content policy, each with its sources."""
    parts = [part.split() for part in answer["Content-Security-Policy"].split(";")]
    return {part[0]: part[1:] for part in parts}


@pytest.mark.parametrize("path", PRIVATE)
def test_no_private_page_is_kept(alice, client_of, path):
    assert "no-store" in client_of(alice).get(path)["Cache-Control"]


def test_papers_refusals_and_unknown_pages_are_not_kept_either(alice, bob, client_of, client):
    assert "no-store" in client_of(bob).get("/people/")["Cache-Control"]
    assert "no-store" in client_of(alice).get("/jobs/999999/")["Cache-Control"]
    assert "no-store" in client.get("/account/login/")["Cache-Control"]
    assert "no-store" in client.get("/")["Cache-Control"]


@pytest.mark.parametrize("name", ["tablet", "tablet_worker", "tablet_manifest"])
def test_what_a_tablet_keeps_for_work_without_a_network_may_be_kept(client, name):
    assert client.get(reverse(f"checklists:{name}"))["Cache-Control"] == "no-cache"


def test_the_camera_is_for_the_tablet_only(alice, client_of):
    tablet = client_of(alice).get("/tablet/")["Permissions-Policy"]
    board = client_of(alice).get("/")["Permissions-Policy"]
    assert "camera=(self)" in tablet
    assert "camera=()" in board
    for answer in (tablet, board):
        assert {"microphone=()", "geolocation=()", "usb=()", "payment=()"} <= set(answer.split(", "))
        assert "*" not in answer


def test_each_source_of_a_page_is_named_and_all_else_is_closed(client):
    found = policy(client.get("/account/login/"))
    assert found["default-src"] == ["'none'"]
    assert found["object-src"] == found["base-uri"] == found["frame-ancestors"] == ["'none'"]
    assert found["form-action"] == ["'self'"]
    for name, sources in found.items():
        assert not {"'unsafe-inline'", "'unsafe-eval'", "*", "https:", "http:"} & set(sources), name


@pytest.mark.parametrize("name", ["css/base.css", "js/tablet/scan/worker.js", "vendor/icons/lock.svg"])
def test_static_files_have_a_policy_of_their_own(client, name):
    """A script may be a worker: the reader of bar codes needs its module and WebAssembly, nothing else."""
    answer = client.get(f"/static/{name}")
    answer.close()
    assert answer.status_code == 200
    found = policy(answer)
    assert found["default-src"] == found["frame-ancestors"] == ["'none'"]
    assert ("script-src" in found) is name.endswith(".js")


ASK = """
import django; django.setup()
from django.conf import settings as s
from config.short_messages import HostCookie
print(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE,
      s.SESSION_COOKIE_PATH, s.SESSION_COOKIE_DOMAIN, s.CSRF_COOKIE_DOMAIN, s.CSRF_COOKIE_PATH,
      HostCookie.cookie_name, s.KNOWN_COOKIE_NAME)
print(s.SECURE_HSTS_SECONDS >= 31536000, s.SECURE_HSTS_INCLUDE_SUBDOMAINS, s.SECURE_SSL_REDIRECT)
"""


def test_cookies_over_tls_belong_to_one_host(tmp_path):
    # A browser refuses such a name unless: Secure, Path=/, no Domain (RFC 6265bis, "__Host-").
    environ = os.environ | {
        "SITE_URL": "https://solar.shop.example", "VAR_DIR": str(tmp_path), "DEBUG": "0",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }  # fmt: skip
    said = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", ASK], env=environ, capture_output=True, text=True, check=True
    )
    assert said.stdout.split() == [
        "__Host-sessionid", "__Host-csrftoken", "True", "True", "/", "None", "None", "/",
        "__Host-messages", "__Host-known", "True", "True", "True",
    ]  # fmt: skip
