"""A fresh installation: each page leads to the first, which asks for shop, owner and the server's code."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from config.start import views
from config.start.catalog import catalog_copy
from jobs.models import LogEntry, Membership, PanelSheet, Part, Shop

ANSWERS = {
    "code": "a1b2c3d4", "name": "Heron Fork Solar", "units": "metric", "paper": "a4", "currency": "CAD",
    "time_zone": "America/Toronto", "rule_set": "metric", "first_name": "Ada", "last_name": "Quill",
    "email": "Ada@Heron.example", "password": "lantern-on-the-ridge",
}  # fmt: skip


@pytest.fixture
def nothing_set_up(db, settings, tmp_path, monkeypatch):
    """Begin as ``start`` leaves it: no shop, a code in a file, the middleware in place."""
    monkeypatch.setattr(views, "_seen", [])
    settings.MIDDLEWARE = [*settings.MIDDLEWARE, "config.start.views.FirstRunMiddleware"]
    settings.FIRST_RUN_CODE = tmp_path / "code"
    settings.FIRST_RUN_CODE.write_text("a1b2c3d4\n")
    return settings


@pytest.mark.parametrize("path", ["/", "/account/login/", "/jobs/1/", "/nowhere/"])
def test_every_page_leads_to_the_first(nothing_set_up, path):
    answer = Client().get(path)
    assert (answer.status_code, answer["Location"]) == (302, "/first-run/")


def test_a_probe_is_answered_all_the_same(nothing_set_up):
    assert Client().get("/healthz").status_code == 200


def test_the_shop_is_set_up_and_its_owner_signs_in(nothing_set_up):
    client = Client()
    answer = client.post("/first-run/", ANSWERS | {"with_catalog": "on"})
    assert (answer.status_code, answer["Location"]) == (302, "/account/login/")
    shop = Shop.objects.get()
    assert (shop.name, shop.units, shop.currency, shop.time_zone) == (
        "Heron Fork Solar", "metric", "CAD", "America/Toronto",
    )  # fmt: skip
    member = Membership.objects.get()
    assert (member.role, member.user.email) == ("owner", "ada@heron.example")
    assert LogEntry.objects.get().verb == "shop set up"
    assert Part.objects.filter(shop=shop).exists()
    signed_in = client.post(
        "/account/login/", {"login": "ada@heron.example", "password": ANSWERS["password"]}
    )
    assert (signed_in.status_code, signed_in["Location"]) == (302, "/")
    assert client.get("/").status_code == 200


def test_once_set_up_the_page_is_gone(nothing_set_up):
    Client().post("/first-run/", ANSWERS)
    assert not nothing_set_up.FIRST_RUN_CODE.exists()
    assert Client().get("/first-run/").status_code == 404
    assert Client().post("/first-run/", ANSWERS | {"email": "eve@other.example"}).status_code == 404
    assert Shop.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"code": "wrong"}, "not the code"),
        ({"password": "short"}, "too short"),
        ({"password": "password123456"}, "too common"),
        ({"email": "nowhere"}, "valid email"),
        ({"time_zone": "Mars/Base"}, "Select a valid choice"),
        ({"name": ""}, "required"),
    ],
)
def test_what_cannot_be_right_is_named_and_nothing_is_stored(nothing_set_up, change, words):
    answer = Client().post("/first-run/", ANSWERS | change)
    assert answer.status_code == 422
    assert words in answer.text
    assert 'value="Ada"' in answer.text  # what was typed is kept
    assert not Shop.objects.exists()
    assert not Membership.objects.exists()


def test_without_a_code_on_the_server_nobody_sets_up_anything(nothing_set_up):
    nothing_set_up.FIRST_RUN_CODE.unlink()
    assert "manage.py start" in Client().get("/first-run/").text
    assert "manage.py start" in Client().post("/first-run/", ANSWERS).text
    assert not Shop.objects.exists()


def test_the_copied_catalog_is_the_demos(shop, settings):
    Part.objects.all().delete()
    rows = json.loads((settings.FIXTURE_DIRS[0] / "demo_shop.json").read_text())
    count = sum(row["model"] == "jobs.part" for row in rows)
    assert catalog_copy(shop) == count
    assert catalog_copy(shop) == 0  # a second time adds nothing
    panels = sum(row["model"] == "jobs.panelsheet" for row in rows)
    assert PanelSheet.objects.filter(part__shop=shop).count() == panels
