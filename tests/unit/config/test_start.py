"""What the command ``start`` writes, asks and finds missing."""

from __future__ import annotations

import datetime as dt
import stat
import subprocess
import sys

import pytest
from environs import Env

from config.start import lacks
from config.start.ask import ask
from config.start.settings_file import SiteRefused, settings_write
from config.version import VERSION
from jobs.shop.found import ShopRefused, shop_found

OPTIONS = {
    "shop_name": "Heron Fork Solar", "owner_first": "Ada", "owner_last": "Quill",
    "owner_email": "ada@heron.example", "owner_password": "lantern-on-the-ridge",
}  # fmt: skip


def test_the_settings_file_is_private_and_written_once(tmp_path):
    path = tmp_path / "var" / "settings.env"
    assert settings_write(path, site_url="https://solar.myshop.example/")
    text = path.read_text()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert not settings_write(path, site_url="https://other.example")
    assert path.read_text() == text
    env = Env()
    env.read_env(path, override=True, recurse=False)
    assert env.str("SITE_URL") == "https://solar.myshop.example"
    assert env.list("ALLOWED_HOSTS") == ["solar.myshop.example", "localhost", "127.0.0.1"]
    assert len(env.str("SECRET_KEY")) >= 50


@pytest.mark.parametrize("site", ["solar.myshop.example", "ftp://x", "https://", ""])
def test_an_address_nobody_can_open_is_refused(tmp_path, site):
    with pytest.raises(SiteRefused, match="Address"):
        settings_write(tmp_path / "settings.env", site_url=site)
    assert not list(tmp_path.iterdir())


def test_options_answer_every_question():
    answers = ask(OPTIONS, False, None, None)
    shop, owner = answers.shop(), answers.owner()
    assert (shop.name, shop.units, shop.currency) == ("Heron Fork Solar", "imperial", "USD")
    assert (owner.email, owner.password) == ("ada@heron.example", "lantern-on-the-ridge")


def test_without_a_terminal_nobody_is_asked():
    assert ask(OPTIONS | {"owner_password": ""}, False, None, None) is None


def test_at_a_terminal_what_is_missing_is_asked_for_until_it_is_said():
    said = iter(["", "Heron Fork Solar", "metric", "", "CAD", "", "", "Ada", "Quill", "ada@heron.example"])
    answers = ask({}, True, lambda words: next(said), lambda words: "lantern-on-the-ridge")
    assert (answers.shop_name, answers.units, answers.paper) == ("Heron Fork Solar", "metric", "letter")
    assert next(said, None) is None


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"units": "cubits"}, "cubits"),
        ({"rule_set": "none"}, "none"),
        ({"owner_email": "nowhere"}, "valid email"),
        ({"owner_password": "short"}, "too short"),
    ],
)
def test_an_option_that_cannot_be_is_named(now, change, words):
    answers = ask(OPTIONS | change, False, None, None)
    with pytest.raises(ShopRefused, match=words):
        shop_found(shop=answers.shop(), owner=answers.owner(), at=now)


@pytest.mark.django_db
def test_an_address_signs_in_once(now, alice):
    answers = ask(OPTIONS | {"owner_email": alice.email.upper()}, False, None, None)
    with pytest.raises(ShopRefused, match="already has a sign-in"):
        shop_found(shop=answers.shop(), owner=answers.owner(), at=now)


@pytest.mark.django_db
def test_what_is_missing_is_said_with_the_way_out(settings, tmp_path, monkeypatch):
    settings.HAS_OWN_SECRET = False
    settings.SETTINGS_FILE = tmp_path / "settings.env"
    settings.STATIC_ROOT, settings.DEBUG = tmp_path, False
    settings.FIRST_RUN_CODE = tmp_path / "code"
    monkeypatch.setattr(lacks, "check_pdf_library", lambda: ["missing"])
    found = {line.name: line for line in lacks.look_at_all(at=dt.datetime.now(dt.UTC))}
    assert (found["settings"].is_ok, "manage.py start" in found["settings"].words) == (False, True)
    assert (found["static files"].is_ok, "collectstatic" in found["static files"].words) == (False, True)
    assert (found["PDF papers"].is_ok, "apt-get install" in found["PDF papers"].words) == (False, True)
    assert (found["owner"].is_ok, "manage.py start" in found["owner"].words) == (False, True)
    assert found["database"].is_ok
    settings.FIRST_RUN_CODE.write_text("8bb9a2fa")  # the start command left the rest to the browser
    owner = {line.name: line for line in lacks.look_at_all(at=dt.datetime.now(dt.UTC))}["owner"]
    assert (owner.is_ok, "/first-run/ with the code" in owner.words) == (None, True)


def test_it_tells_its_version():
    said = subprocess.run(
        [sys.executable, "manage.py", "--version"], capture_output=True, text=True, check=True
    )
    assert said.stdout == f"Coachlight {VERSION}\n"
