"""A real web process on a real database, killed under load and behind a spoiled line.

Nothing acknowledged is lost, nothing doubled, no batch half stored, no answer 5xx; each build broken on
purpose (tests/soak/broken.py) is found. The long forms: ``pytest -n 0 -s -m full tests/soak``.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.urls import reverse

from tests.soak.faults import FaultRun, Place
from tests.soak.postgres import postgres_copy
from tests.soak.proxy import FAULTS
from tests.soak.storm import Rows, Storm
from tests.soak.web import Web, sqlite_copy, sqlite_rows

#: How pieces of a picture may be answered: taken, or "go on at another place" after a kill.
FINE = {200, 201, 204, 409}


@dataclass
class Served:
    """A running server that holds this test's records."""

    web: Web
    path: str
    sessions: list[str]
    job: int
    kinds: list[dict[str, Any]]
    places: list[Place]
    rows: Rows

    def storm(self, seed: int | str) -> Storm:
        """Return tablets that send while the web process is killed."""
        return Storm(self.web, self.path, self.sessions, self.job, self.kinds, self.rows, seed=seed)

    def faults(self, seed: int, requests: int) -> FaultRun:
        """Return two tablets after so many requests through the spoiled line."""
        return FaultRun(self.web, self.path, self.sessions, self.places, seed).run(requests)


@contextlib.contextmanager
def serving(
    checklist: Any, sessions: list[str], folder: Any, address: str, rows: Rows, workers: int = 1
) -> Iterator[Served]:
    step = {row.code: row.pk for row in checklist.steps.filter(code__in=["A1", "A2", "A3", "A4", "A5"])}
    places: list[Place] = [
        (step["A4"], "rest_v", [12.1, 12.4, 12.6, 12.9], ["12.1 V", "12.4 V", "12.6 V", "12.9 V"]),
        (step["A4"], "rest_time", ["from_4", "under_4"], ["4 hours or more", "Under 4 hours"]),
        (step["A2"], "damage", ["dent", "none", "scratch"], ["dent", "none", "scratch"]),
        (step["A2"], "stains", ["none", "found"], ["None", "Found"]),
        (step["A5"], "polarity", ["correct", "reversed"], ["Correct", "Reversed"]),
        (step["A5"], "gfci", ["trips", "fails", "none"], ["Trips", "Does not trip", "None found"]),
    ]
    url = reverse("checklists:events", args=[checklist.job_id])
    with Web(address, folder, workers=workers) as web:
        yield Served(web, url, sessions, checklist.job_id, kinds_of(step), places, rows)


def kinds_of(step: dict[str, int]) -> list[dict[str, Any]]:
    """Return a choice, a number, a note, and last a photo, as a tablet sends them."""
    return [
        {"verb": "record", "step": step["A2"], "field": "stains", "value": "none"},
        {"verb": "record", "step": step["A4"], "field": "rest_v", "value": 12.6, "unit": "V"},
        {"verb": "note", "step": step["A2"], "value": "seen"},
        {"verb": "record", "step": step["A1"], "field": "photo", "value": None},
    ]


@pytest.fixture
def on_sqlite(checklist, sessions, tmp_path):
    path = tmp_path / "soak.sqlite3"
    with serving(
        checklist, sessions, tmp_path, sqlite_copy(path), lambda query: sqlite_rows(path, query)
    ) as served:
        yield served


@pytest.fixture
def on_postgres(checklist, sessions, tmp_path):
    with (
        postgres_copy(tmp_path) as (address, rows),
        serving(checklist, sessions, tmp_path, address, rows, workers=2) as served,
    ):
        yield served


def test_kills_and_faults_do_no_harm_and_broken_builds_are_found(on_sqlite):
    faults = on_sqlite.faults(1, 20)
    assert faults.found == []
    assert all(faults.proxy.faults[name] == 2 for name in faults.proxy.faults if name)
    kills = on_sqlite.storm(1).run(4)
    assert kills.found == []
    assert set(kills.statuses) == {200}
    assert len(kills.acked) > 8
    assert kills.pictures
    assert kills.picture_statuses.keys() <= FINE
    harms = {
        "no_commit": "lost", "no_photo_commit": "lost picture", "no_unique_key": "doubled",
        "row_by_row": "half",
    }  # fmt: skip
    for seed, build in enumerate([*harms, "device_clock"]):
        on_sqlite.web.build(build)
        if harm := harms.get(build):
            assert any(does_harm(on_sqlite, f"{build} {turn}", harm) for turn in range(6)), f"{build} passed"
        else:
            assert on_sqlite.faults(seed, 10).found, f"{build} passed"


def does_harm(served: Served, seed: str, harm: str) -> bool:
    """Return whether one kill under load shows this harm."""
    storm = served.storm(seed)
    storm.clients, storm.photographers = 2, int("picture" in harm)
    found = storm.run(1, gap_s=(0.1, 0.3), rest_s=storm.photographers).found
    return any(words.startswith(harm) for words in found)


def fifty_kills(served: Served, piece: int) -> None:
    storm = served.storm(100 + piece)
    storm.patience_s, storm.clients = 1200, 3
    done = storm.run(50)
    print(done, flush=True)
    assert done.found == []
    assert set(done.statuses) == {200}
    assert done.picture_statuses.keys() <= FINE
    assert done.pictures


@pytest.mark.full
@pytest.mark.parametrize("piece", range(10))
def test_five_hundred_kills_on_sqlite(on_sqlite, piece):
    fifty_kills(on_sqlite, piece)


@pytest.mark.full
@pytest.mark.parametrize("piece", range(10))
def test_five_hundred_kills_on_postgres(on_postgres, piece):
    fifty_kills(on_postgres, piece)


def spoiled(served: Served, piece: int) -> None:
    """Two thousand requests with a tenth of each fault, in four pieces of some minutes."""
    done = served.faults(7 + piece, 500)
    print(f"{done.proxy.faults}, answers {done.proxy.statuses}, {done.breaks} connections broken", flush=True)
    assert done.found == []
    assert all(done.proxy.faults[name] == 50 for name in FAULTS)


@pytest.mark.full
@pytest.mark.parametrize("piece", range(4))
def test_two_thousand_requests_with_faults(on_sqlite, piece):
    spoiled(on_sqlite, piece)


@pytest.mark.full
@pytest.mark.parametrize("piece", range(4))
def test_two_thousand_requests_with_faults_on_postgres(on_postgres, piece):
    spoiled(on_postgres, piece)
