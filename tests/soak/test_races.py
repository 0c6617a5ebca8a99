"""A customer's yes meets other acts at the same moment: one outcome; many editors of a draft: none lost.

The short form runs on SQLite; the long form on both databases:
``pytest -n 0 -s -m full tests/soak/test_races.py``.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest

from jobs.design.revision import design_create
from jobs.models import Design, Offer
from jobs.quote.offer import offer_make, offer_send
from tests.quotes import nothing_missing
from tests.soak.test_invoice_numbers import database
from tests.soak.web import ROOT

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def offer(draft_quote, alice) -> Offer:
    """Return an offer of two options that is out."""
    from django.utils import timezone

    now = timezone.now()
    first = draft_quote.design
    second = design_create(job=draft_quote.job, actor=alice, at=now, copy_of=first)
    Design.objects.filter(pk=second.pk).update(option=Design.Option.LANTERN)
    second.refresh_from_db()
    made = offer_make(job=draft_quote.job, designs=[first, second], recommended=first, actor=alice, at=now)
    for quote in made.quotes.all():
        nothing_missing(quote, alice, now)
    offer_send(offer=made, actor=alice, at=now, reason="Racing")
    return made


def ran(address: str, *words: object) -> dict[str, Any]:
    """Run the program on this database; return what it told."""
    env = os.environ | {
        "DATABASE_URL": address, "DJANGO_SETTINGS_MODULE": "config.settings", "DEBUG": "1",
    }  # fmt: skip
    command = [sys.executable, "-m", "tests.soak.racing", *map(str, words)]
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    told: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    print(words, told, done.stderr[-1500:] if told["wrong"] else "")
    return told


def test_a_yes_beside_something_else_has_one_outcome(offer, tmp_path):
    with database("sqlite", tmp_path) as (address, _):
        told = ran(address, "races", offer.pk, 16)
    assert told["wrong"] == []
    assert sum(told["said"].values()) == 16


def test_no_save_of_eight_editors_is_lost(draft_quote, tmp_path):
    with database("sqlite", tmp_path) as (address, _):
        told = ran(address, "editors", draft_quote.pk, 5)
    assert told["wrong"] == []
    assert sum(told["said"].values()) == 40


@pytest.mark.full
@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_a_thousand_races(engine, offer, tmp_path):
    with database(engine, tmp_path) as (address, _):
        assert ran(address, "races", offer.pk, 1000)["wrong"] == []


@pytest.mark.full
@pytest.mark.parametrize("engine", ["sqlite", "postgres"])
def test_eight_editors_save_two_hundred_times_each(engine, draft_quote, tmp_path):
    with database(engine, tmp_path) as (address, _):
        told = ran(address, "editors", draft_quote.pk, 200)
    assert told["wrong"] == []
    assert sum(told["said"].values()) == 1600
