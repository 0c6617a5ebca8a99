"""Times the pages of one shop alone and among 200 shops with 40,000 jobs, asked in turn; prints the ratios.

``nice -n 10 uv run --group dev python tests/bench/bench_shops.py sqlite 200`` (or ``postgres``, where it is
installed; a smaller number for a look). Every shop holds 20 copies of the ten invented jobs: survey, design,
stored sums, a quote of twelve lines, 15 lines of the log, six moves a job; one job in ten has a whole install
recorded. Printed last are the bytes a job takes in the database. Goal: no page above 1.1 times.
"""

from __future__ import annotations

import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any, Final

ROOT = Path(__file__).resolve().parents[2]
TIMES: Final = 40
COPIES: Final = 20  # of the ten invented jobs, in every shop
STRIDE: Final = 10_000  # between the keys of two copies; above every key of the invented shop
#: Rows a shop holds once, not once a copy of its jobs.
OF_THE_SHOP: Final = {
    "shop", "part", "panelsheet", "controllersheet", "batterysheet", "invertersheet", "chargersheet",
}  # fmt: skip
#: Not copied: people, tablets, files, links, of which no page here asks.
LEFT_OUT: Final = {"membership", "device", "pin", "photo", "photoupload", "guestlink", "letter", "sumstable"}


def main() -> None:
    """Fill two databases, ask both for each page in turn, print the ratios."""
    sys.path.insert(0, str(ROOT))
    kind, shops = sys.argv[1], int(sys.argv[2])
    with two_databases(kind) as addresses, tempfile.TemporaryDirectory() as folder:
        asked = [begun(address, f"{folder}/{n}", count) for n, (address, count) in
                 enumerate(zip(addresses, (1, shops), strict=True))]  # fmt: skip
        told = [json.loads(read(child)) for child in asked]
        for name in told[0]["pages"]:
            print(f"{name:10s} {ratio(asked, name)}", flush=True)
        per_job = (told[1]["bytes"] - told[0]["bytes"]) / max(1, told[1]["jobs"] - told[0]["jobs"])
        print(f"{told[1]['jobs']} jobs, {told[1]['events']} events, {per_job / 1024:.1f} KiB a job in it")
        for child in asked:
            child.stdin.close()
            child.wait()


@contextlib.contextmanager
def two_databases(kind: str) -> Iterator[list[str]]:
    """Yield the addresses of two empty databases."""
    if kind == "sqlite":
        with tempfile.TemporaryDirectory() as folder:
            yield [f"sqlite:///{folder}/{name}.sqlite3" for name in ("alone", "among")]
        return
    from tests.soak.postgres import cluster

    with cluster() as address:
        import psycopg

        with psycopg.connect(address, autocommit=True) as link:
            link.execute("CREATE DATABASE among")
        yield [address, address.removesuffix("postgres") + "among"]


def begun(address: str, folder: str, shops: int) -> Any:
    """Start a process that fills its database and then answers names of pages with milliseconds."""
    env = os.environ | {"DATABASE_URL": address, "VAR_DIR": folder, "DEBUG": "0", "PYTHONPATH": str(ROOT)}
    env["DJANGO_SETTINGS_MODULE"] = "config.settings"
    command = [sys.executable, __file__, "--serve", str(shops)]
    return subprocess.Popen(command, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def read(child: Any) -> str:
    """Return the next answer of a process; lines that are none are printed by what it loads."""
    while line := child.stdout.readline():
        if line.startswith("= "):
            return str(line[2:])
    raise RuntimeError("the process ended")


def ratio(asked: list[Any], name: str) -> str:
    """Ask both for a page in turn, the first one changing; return both times and the median of the ratios."""
    pairs = []
    for turn in range(TIMES):
        times = {}
        for place in (0, 1) if turn % 2 else (1, 0):
            stdin: IO[str] = asked[place].stdin
            stdin.write(f"{name}\n")
            stdin.flush()
            times[place] = float(read(asked[place]))
        if turn > 3:
            pairs.append((times[0], times[1]))
    alone, among = (statistics.median(pair[place] for pair in pairs) for place in (0, 1))
    median = statistics.median(pair[1] / pair[0] for pair in pairs)
    return f"alone {alone:8.2f} ms   among {among:8.2f} ms   ratio {median:5.2f}"


def serve(shops: int) -> None:
    """Fill the database and answer for it."""
    from tests.bench.bench_pages import shop
    from tests.bench.bench_workspace import set_up

    set_up()
    from django.core.management import call_command
    from django.db import connection

    call_command("collectstatic", interactive=False, verbosity=0)
    checklist, client, _ = shop()
    filled_in(checklist)
    copied(shops)
    pages = paths(checklist.job)
    print("= " + json.dumps({"pages": list(pages), **counted(connection)}), flush=True)
    for line in sys.stdin:
        begun_at = time.perf_counter()
        answer = client.get(pages[line.strip()], headers={"host": "localhost"})
        spent = (time.perf_counter() - begun_at) * 1000
        assert answer.status_code == 200, (line, answer.status_code)
        print(f"= {spent:.3f}", flush=True)


def paths(job: Any) -> dict[str, str]:
    """Return the pages asked for."""
    return {
        "board": "/",
        "lane": "/?lane=work",
        "search": "/search/?q=2026-001",
        "name": f"/search/?q={job.vehicle.customer.name[:4]}",
        "customers": "/customers/",
        "job": f"/jobs/{job.pk}/",
        "log": f"/jobs/{job.pk}/log/",
        "papers": f"/jobs/{job.pk}/papers/",
        "quotes": f"/jobs/{job.pk}/quotes/",
        "install": f"/jobs/{job.pk}/install/",
        "design": f"/designs/{job.designs.first().pk}/",
        "parts": "/catalogue/",
        "vehicle": f"/vehicles/{job.vehicle_id}/",
    }


def filled_in(checklist: Any) -> None:
    """Give every invented job the log, moves, sums and quote of a job that has been worked on."""
    import datetime as dt

    from jobs.models import Job, JobMove, LogEntry, Quote, QuoteLine, SizingRun

    now = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
    for job in Job.objects.all():
        LogEntry.objects.bulk_create(
            LogEntry(
                shop=job.shop, job=job, actor_name="Ann", verb="changed the survey", detail="Loads", at=now
            )
            for _ in range(15)
        )
        JobMove.objects.bulk_create(
            JobMove(job=job, from_state="enquiry", to_state="surveyed", by_name="Ann", at=now)
            for _ in range(6)
        )
        for design in job.designs.all():
            if not design.runs.exists():
                run = SizingRun.objects.get(pk=checklist.run_id)
                run.pk, run._state.adding, run.design = None, True, design
                run.save()
            quote = Quote.objects.create(
                job=job, design=design, number=90 + design.number, state="superseded"
            )
            QuoteLine.objects.bulk_create(
                QuoteLine(quote=quote, kind="part", text=f"Line {n}", position=n) for n in range(12)
            )


def copied(shops: int) -> None:
    """Copy every row of the invented shop, key by key, ``COPIES`` times for each of the shops."""
    from django.apps import apps
    from django.db import connection

    from common.guard import door_opened

    models = [one for one in apps.get_models() if one._meta.app_label in {"jobs", "checklists"}]
    models = [one for one in models if one._meta.model_name not in LEFT_OUT]
    with door_opened(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = replica")
        else:
            cursor.execute("PRAGMA defer_foreign_keys = ON")
        for model in models:
            cursor.execute(statement(model, connection, shops))
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = DEFAULT")
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def statement(model: Any, connection: Any, shops: int) -> str:
    """Return the statement that copies one table."""
    fields = model._meta.concrete_fields
    once = model._meta.model_name in OF_THE_SHOP
    columns = ", ".join(f'"{field.column}"' for field in fields)
    values = ", ".join(value(field, once, connection.vendor) for field in fields)
    last = shops - 1 if once else shops * COPIES - 1
    table = model._meta.db_table
    return (  # names of our own tables and whole numbers only
        f"INSERT INTO {table} ({columns}) WITH RECURSIVE n(c) AS (SELECT 1 UNION ALL SELECT c + 1 FROM n"
        f" WHERE c < {last}) SELECT {values} FROM (SELECT * FROM {table}) t, n WHERE n.c <= {last}"
    )


def value(field: Any, once: bool, vendor: str) -> str:
    """Return what a column of a copy holds."""
    name = f't."{field.column}"'
    shop = "n.c" if once else f"(n.c / {COPIES})"
    target = field.related_model._meta.model_name if field.is_relation else field.model._meta.model_name
    if field.primary_key and field.get_internal_type() == "UUIDField":
        return "gen_random_uuid()" if vendor == "postgresql" else "lower(hex(randomblob(16)))"
    if field.primary_key or (
        field.is_relation and field.related_model._meta.app_label in {"jobs", "checklists"}
    ):
        if target in LEFT_OUT:
            return "NULL"
        return f"{name} + {STRIDE} * {shop if target in OF_THE_SHOP else 'n.c'}"
    changed = {"number": f"{name} || '-' || n.c", "plate": f"substr({name}, 1, 10) || n.c"}
    changed |= {"vin": f"substr({name}, 1, 10) || n.c", "name": f"{name} || ' ' || n.c"}
    if field.model._meta.model_name in {"job", "vehicle", "customer"} and field.column in changed:
        return changed[field.column]
    return name


def counted(connection: Any) -> dict[str, int]:
    """Return how many jobs and events there are, and the bytes of the database."""
    from checklists.models import StepEvent
    from jobs.models import Job

    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_database_size(current_database())")
        else:
            cursor.execute("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
        size = cursor.fetchone()[0]
    return {"bytes": size, "jobs": Job.objects.count(), "events": StepEvent.objects.count()}


if __name__ == "__main__":
    if sys.argv[1] == "--serve":
        serve(int(sys.argv[2]))
    else:
        main()
