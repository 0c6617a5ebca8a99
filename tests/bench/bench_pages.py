"""Times pages in this process against a bare Django page with session and four queries, in the same run.

``uv run --group dev python tests/bench/bench_pages.py`` (``--profile NAME`` prints where a page's time goes).
Settings as a shop runs them, a database of its own, one install with every step recorded. Printed are the
processor time of a page and the bare page's share of it. Goals: job, board, install and step 1/3, design 1/6.
"""

from __future__ import annotations

import cProfile
import datetime as dt
import pstats
import statistics
import sys
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
TIMES = 25
GOALS = {
    "board": 3,
    "job": 3,
    "install": 3,
    "step": 3,
    "record": 3,
    "sign-off": 6,
    "design": 6,
    "workspace": 6,
}


def main() -> None:
    """Make the shop, ask for each page in turn and print the times."""
    sys.path.insert(0, str(ROOT))
    from tests.bench.house import own_database

    with own_database():
        pages = asked()
        if "--profile" in sys.argv:
            profile(pages[sys.argv[sys.argv.index("--profile") + 1]])
            return
        spent: dict[str, list[float]] = {name: [] for name in pages}
        for turn in range(TIMES):
            for name, ask in pages.items():
                begun = time.process_time()
                ask()
                if turn > 2:
                    spent[name].append((time.process_time() - begun) * 1000)
        bare = statistics.median(spent.pop("bare"))
        print(f"bare page {bare:9.2f} ms")
        for name, times in spent.items():
            own = statistics.median(times)
            print(f"{name:9s} {own:9.2f} ms   ratio {bare / own:5.2f}   goal {1 / GOALS[name]:.2f}")


def asked() -> dict[str, Callable[[], Any]]:
    """Return how each page is asked for."""
    from tests.bench.bench_workspace import set_up

    set_up()
    from django.core.management import call_command

    call_command("collectstatic", interactive=False, verbosity=0)
    checklist, client, lead = shop()
    from checklists.record.read import work_of

    job = checklist.job_id
    design = checklist.design_id
    work = work_of(checklist)
    step = next(
        each.pk for each in work.install.in_scope if any(spec.name == "rest_v" for spec in each.specs)
    )
    paths = {
        "board": "/",
        "job": f"/jobs/{job}/",
        "install": f"/jobs/{job}/install/",
        "step": f"/steps/{step}/",
        "sign-off": f"/jobs/{job}/sign-off/",
        "design": f"/designs/{design}/",
        "workspace": f"/designs/{design}/roof/",
    }
    found: dict[str, Callable[[], Any]] = {"bare": bare_page(client)}
    for name, path in paths.items():
        found[name] = lambda path=path: got(client, path)
    found["record"] = lambda: recorded(lead, step)
    return found


def shop() -> tuple[Any, Any, Any]:
    """Return an install with every step recorded, and clients of two of the shop's people."""
    from django.conf import settings
    from django.test import Client

    from checklists.plan.templates import newest_version
    from jobs.models import Job, Membership
    from tests.unit.checklists.conftest import open_for
    from tests.unit.checklists.walk import complete

    settings.MIDDLEWARE = [each for each in settings.MIDDLEWARE if "FirstRun" not in each]
    job = Job.objects.get(number="2026-001")
    now = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
    checklist = open_for(job, now, newest_version())
    people = {row.role: row.user for row in Membership.objects.filter(shop=job.shop)}
    complete(checklist, people["lead_technician"], now)
    clients = []
    for role in ("owner", "lead_technician"):
        client = Client(headers={"accept": "text/html"})
        client.force_login(people[role])
        clients.append(client)
    return checklist, clients[0], clients[1]


def bare_page(client: Any) -> Callable[[], None]:
    """Return how a page of session, person and four queries is asked for, behind Django's own middleware."""
    from django.conf import settings
    from django.http import HttpRequest, HttpResponse
    from django.test import Client, override_settings
    from django.urls import path

    from config import urls
    from jobs.models import Customer, Job, Part, Vehicle

    def page(request: HttpRequest) -> HttpResponse:
        rows = [list(model.objects.all()[:10]) for model in (Job, Customer, Vehicle, Part)]
        words = "".join(f"<li>{row}" for found in rows[1:] for row in found)
        return HttpResponse(f"<h1>{request.user}</h1><ul>{words}</ul>")

    urls.urlpatterns.append(path("bare/", page))
    plain = Client()
    plain.cookies = client.cookies
    own = [each for each in settings.MIDDLEWARE if each.startswith("django.") and "csp" not in each]
    with override_settings(MIDDLEWARE=own):
        plain.handler.load_middleware()
    return lambda: got(plain, "/bare/")


def got(client: Any, path: str) -> None:
    """Ask for one page."""
    answer = client.get(path, headers={"host": "localhost"})
    assert answer.status_code == 200, (path, answer.status_code)


def recorded(client: Any, step: int) -> None:
    """Record a note at a step as its page sends it."""
    sent = {"submission": str(uuid.uuid4()), "note": f"Rain at {time.time()}", "safety": "on"}
    answer = client.post(f"/steps/{step}/record/", sent, headers={"host": "localhost"})
    assert answer.status_code == 302, answer.status_code


def profile(ask: Callable[[], Any]) -> None:
    """Print where the time of a page goes."""
    ask()
    ask()
    watch = cProfile.Profile()
    watch.enable()
    for _ in range(5):
        ask()
    watch.disable()
    pstats.Stats(watch).sort_stats("cumulative").print_stats(90)


if __name__ == "__main__":
    main()
