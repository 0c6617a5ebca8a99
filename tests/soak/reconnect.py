"""A hundred tablets come back at once while the office works: how long it takes, and what the office feels.

``python -m tests.soak.reconnect [sqlite|postgres] [--tablets 100] [--processes 1] [--seconds 15]``. Each
tablet sends the 300 events of a whole install in batches as the real one does, together they send 60 photos;
two people of the office open pages, one after the other, before and meanwhile. Both are measured in one run:
the machine may have other work. The server is the shipped one (config/deploy/gunicorn.py).
"""

from __future__ import annotations

import argparse
import contextlib
import datetime as dt
import hashlib
import os
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from common.turnstile import AGAIN_AFTER_S
from tests.soak.web import ROOT, call, free_port, patch

BATCH, EVENTS, PHOTOS, CHUNK = 200, 300, 60, 256 * 1024
AT = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
#: Between two pages of one person in the office. [s]
THINKS_S = 0.3


@dataclass
class Storm:
    """The tablets, the office, and what they were told."""

    port: int
    jobs: list[tuple[int, list[dict[str, Any]]]]
    tablet_session: str
    office_session: str
    pages: list[str]
    statuses: Counter[int] = field(default_factory=Counter)
    times: list[float] = field(default_factory=list)
    named: set[str] = field(default_factory=set)
    photos: int = 0
    done_s: list[float] = field(default_factory=list)
    _is_over: threading.Event = field(default_factory=threading.Event)

    def office(self, seconds: float = 0.0) -> list[float]:
        """Open pages for so long, or until all tablets are done; return how long each took."""
        self.times, self._is_over = [], threading.Event()
        hands = [threading.Thread(target=self._person, args=(turn,)) for turn in range(2)]
        for hand in hands:
            hand.start()
        if seconds:
            time.sleep(seconds)
        else:
            self._tablets()
        self._is_over.set()
        for hand in hands:
            hand.join()
        return self.times

    def _person(self, turn: int) -> None:
        while not self._is_over.is_set():
            begun = time.monotonic()
            status, _ = call(
                self.port, "GET", self.pages[turn % len(self.pages)], session=self.office_session, page=True
            )
            self.times.append(time.monotonic() - begun)
            self.statuses[status] += 1
            turn += 1
            time.sleep(THINKS_S)

    def _tablets(self) -> None:
        hands = [threading.Thread(target=self._tablet, args=(n,)) for n in range(len(self.jobs))]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()

    def _tablet(self, number: int) -> None:
        begun, chance = time.monotonic(), random.Random(number)
        job, events = self.jobs[number]
        time.sleep(chance.uniform(0, 2))  # the network is back for all of them, not to the millisecond
        device = str(uuid.UUID(int=chance.getrandbits(128), version=4))
        if number < PHOTOS:
            self._photo(job, number)
        for start in range(0, len(events), BATCH):
            body = {
                "device": device,
                "device_name": f"tablet {number}",
                "events": events[start : start + BATCH],
            }
            answer = self._until_taken("POST", f"/jobs/{job}/events/", body)
            self.named |= {*answer["new"], *answer["known"]}
        self.done_s.append(time.monotonic() - begun)

    def _until_taken(self, method: str, path: str, body: Any) -> Any:
        failures = 0
        while True:
            try:
                status, answer = call(self.port, method, path, session=self.tablet_session, body=body)
            except (OSError, ValueError):
                status, answer = 0, {}
            self.statuses[status] += 1
            if status in (200, 201):
                return answer
            assert status in (0, 503), (status, answer)
            if status == 503:  # as static/js/tablet/ask.js waits, and send.js
                time.sleep(AGAIN_AFTER_S * random.uniform(0.5, 1.5))
                continue
            failures += 1
            time.sleep(min(60, 2 * 2 ** min(failures, 5)) * random.uniform(0.8, 1.2))

    def _photo(self, job: int, number: int) -> None:
        data = photo(number)
        facts = {
            "id": str(uuid.uuid5(uuid.NAMESPACE_URL, str(number))), "size": len(data),
            "sha256": hashlib.sha256(data).hexdigest(), "type": "image/jpeg",
        }  # fmt: skip
        offset = self._until_taken("POST", f"/jobs/{job}/uploads/", facts)["offset"]
        while True:
            piece = data[offset : offset + CHUNK]
            status, told = patch(self.port, f"/uploads/{facts['id']}/", self.tablet_session, offset, piece)
            self.statuses[status] += 1
            if told.get("photo"):
                self.photos += 1
                return
            assert status in (200, 204, 503), (status, told)
            if status == 503:
                time.sleep(AGAIN_AFTER_S * random.uniform(0.5, 1.5))
                continue
            offset = told["offset"]


def photo(number: int) -> bytes:
    """Return a picture as the tablet shrinks them: 1600 × 1200, some 400 kB."""
    import io

    from PIL import Image

    chance = random.Random(number)
    rough = Image.frombytes("RGB", (200, 150), chance.randbytes(200 * 150 * 3))
    out = io.BytesIO()
    rough.resize((1600, 1200), Image.Resampling.BICUBIC).save(out, "JPEG", quality=88)
    return out.getvalue()


def records(tablets: int) -> tuple[list[tuple[int, list[dict[str, Any]]]], dict[str, str], list[str]]:
    """Fill the database of DATABASE_URL; return each tablet's job and events, sessions, office pages."""
    from tests.bench.bench_workspace import set_up

    set_up()
    from django.conf import settings
    from django.test import Client

    from checklists.models import Checklist, Step, StepEvent
    from checklists.plan.templates import newest_version
    from jobs.models import Job, Membership
    from tests.unit.checklists.conftest import open_for
    from tests.unit.checklists.walk import complete

    settings.MIDDLEWARE = [each for each in settings.MIDDLEWARE if "FirstRun" not in each]
    job = Job.objects.get(number="2026-001")
    job.shop.technicians_take_all = True
    job.shop.save()
    checklist = open_for(job, AT, newest_version())
    steps = list(Step.objects.filter(checklist=checklist).order_by("pk"))
    untouched = (Job.objects.get(pk=job.pk), Checklist.objects.get(pk=checklist.pk))
    people = {row.role: row.user for row in Membership.objects.filter(shop=job.shop)}
    complete(checklist, people["lead_technician"], AT)
    told = list(StepEvent.objects.filter(checklist=checklist, photo=None).order_by("serial"))
    jobs = [_job(n, *untouched, steps, told) for n in range(tablets)]
    sessions = {}
    for role in ("owner", "lead_technician"):
        client = Client()
        client.force_login(people[role])
        sessions[role] = client.cookies[settings.SESSION_COOKIE_NAME].value
    pages = ["/", f"/jobs/{job.pk}/", f"/jobs/{job.pk}/install/", f"/designs/{checklist.design_id}/"]
    return jobs, sessions, pages


def _job(number: int, job: Any, checklist: Any, steps: list[Any], told: list[Any]) -> tuple[int, Any]:
    """Copy a job that is ready, and write down what its tablet has to send."""
    job.pk, job.number, job.title = None, f"2026-{500 + number}", f"Storm {number}"
    job.save(force_insert=True)
    checklist.pk, checklist.job = None, job
    checklist.save(force_insert=True)
    rows = [copy(step) for step in steps]
    for row in rows:
        row.pk, row.checklist = None, checklist
    rows = type(rows[0]).objects.bulk_create(rows)
    new_of = {step.pk: row.pk for step, row in zip(steps, rows, strict=True)}
    return job.pk, [*_sent(told, new_of, str(number))]


def _sent(told: list[Any], step_of: dict[int, int], own: str) -> Iterator[dict[str, Any]]:
    """Yield events of an install as a tablet sends them, filled up with notes."""

    def name_of(name: Any) -> str:
        return str(uuid.uuid5(uuid.NAMESPACE_URL, f"{own} {name}"))

    for count in range(EVENTS):
        row = told[count] if count < len(told) else None
        event = {"id": name_of(row.pk if row else count), "at": AT.isoformat(), "design_number": 1}
        event |= {"sequence": count + 1}
        if row is None:
            yield event | {"verb": "note", "step": next(iter(step_of.values())), "value": f"note {count}"}
        else:
            yield event | {
                "verb": row.verb, "step": step_of.get(row.step_id), "field": row.field, "value": row.value,
                "cause": row.cause, "replaces": [name_of(each) for each in row.replaces],
            }  # fmt: skip


@contextlib.contextmanager
def serving(address: str, folder: Path, processes: int) -> Iterator[int]:
    """Run the shipped server."""
    port = free_port()
    env = os.environ | {
        "DATABASE_URL": address, "BIND": f"127.0.0.1:{port}", "WEB_PROCESSES": str(processes), "DEBUG": "0",
        "MEDIA_ROOT": str(folder / "media"), "LOG_LEVEL": "ERROR", "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    command = [sys.executable, "-m", "gunicorn", "-c", "config/deploy/gunicorn.py", "--log-level", "error"]
    with subprocess.Popen(command, cwd=ROOT, env=env) as master:
        for _ in range(1200):
            with contextlib.suppress(OSError, ValueError):
                if call(port, "GET", "/healthz", page=True)[0] == 200:
                    break
            time.sleep(0.1)
        yield port
        master.terminate()


def main() -> None:
    """Run it and print the figures."""
    options = argparse.ArgumentParser()
    options.add_argument("engine", nargs="?", default="postgres", choices=["sqlite", "postgres"])
    options.add_argument("--tablets", type=int, default=100)
    options.add_argument("--processes", type=int, default=1)
    options.add_argument("--seconds", type=float, default=15)
    known = options.parse_args()
    sys.argv = sys.argv[:1]
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        folder, address = Path(name), f"sqlite:///{name}/storm.sqlite3"
        if known.engine == "postgres":
            from tests.soak.postgres import cluster

            address = stack.enter_context(cluster())
        os.environ |= {"DATABASE_URL": address, "VAR_DIR": name, "DEBUG": "0", "MEDIA_ROOT": f"{name}/media"}
        jobs, sessions, pages = records(known.tablets)
        from checklists.models import Photo

        before = Photo.objects.count()
        from django.core.management import call_command
        from django.db import connections

        call_command("collectstatic", interactive=False, verbosity=0)
        port = stack.enter_context(serving(address, folder, known.processes))
        storm = Storm(port, jobs, sessions["lead_technician"], sessions["owner"], pages)
        storm.office(5)  # everything is read and compiled
        idle, begun = storm.office(known.seconds), time.monotonic()
        busy = storm.office()
        took_s = time.monotonic() - begun
        from checklists.models import StepEvent

        stored = {str(pk) for pk in StepEvent.objects.filter(pk__in=storm.named).values_list("pk", flat=True)}
        sent = {event["id"] for _, events in jobs for event in events}
        print(f"{known.engine}, {known.processes} process(es), load {os.getloadavg()[0]:.1f}")
        photos = Photo.objects.count() - before
        print(f"{len(stored & sent):,} of {len(sent):,} events, {photos} photos in {took_s:.1f} s")
        p95 = [statistics.quantiles(times, n=20)[-1] * 1000 for times in (idle, busy)]
        print(f"office p95 {p95[0]:.0f} ms idle, {p95[1]:.0f} ms in the storm: {p95[1] / p95[0]:.1f} times")
        print(
            f"office median {statistics.median(idle) * 1000:.0f} and {statistics.median(busy) * 1000:.0f} ms"
        )
        print(f"answers {dict(storm.statuses)}")
        connections.close_all()


if __name__ == "__main__":
    main()
