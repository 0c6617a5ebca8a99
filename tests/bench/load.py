"""Sends a mix of requests at a set pace to the shipped gunicorn, whether earlier ones are answered or not.

``uv run --group dev python tests/bench/load.py [40 80 …]`` (requests a second, each for 20 s). Printed are
how many were answered, turned away with 503 or lost, and how long an answer took; after each pace, how long
it takes until all are answered again. Goal: 95 of 100 within 150 ms at 40 a second; at three times of what it
can do 503 with Retry-After for the rest, and recovered within 10 s. The machine's load is printed beside it.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
LASTS_S = 20
#: Of a hundred requests so many go to each page; the rest are small answers to scripts and style sheets.
MIX = {"board": 25, "job": 20, "step": 10, "install": 5, "design": 10, "static": 30}


def main() -> None:
    """Make the shop, serve it as shipped, send each pace and print what came back."""
    sys.path.insert(0, str(ROOT))
    paces = [int(each) for each in sys.argv[1:]] or [10, 20, 40, 80]
    from tests.bench.house import own_database, serving

    with own_database():
        paths, cookie = shop_pages()
        with serving() as port:
            asyncio.run(measured(port, paths, cookie, paces))


def shop_pages() -> tuple[dict[str, str], str]:
    """Return the mix's paths and a signed-in owner's cookie."""
    from tests.bench.bench_pages import shop
    from tests.bench.bench_workspace import set_up

    set_up()
    from django.core.management import call_command

    call_command("collectstatic", interactive=False, verbosity=0)
    checklist, client, _ = shop()
    from django.contrib.staticfiles.storage import staticfiles_storage

    from checklists.record.read import work_of

    step = work_of(checklist).install.in_scope[8].pk
    paths = {
        "board": "/",
        "job": f"/jobs/{checklist.job_id}/",
        "step": f"/steps/{step}/",
        "install": f"/jobs/{checklist.job_id}/install/",
        "design": f"/designs/{checklist.design_id}/",
        "static": staticfiles_storage.url("css/base.css"),
    }
    return paths, "; ".join(f"{name}={morsel.value}" for name, morsel in client.cookies.items())


async def measured(port: int, paths: dict[str, str], cookie: str, paces: list[int]) -> None:
    """Warm each page, send each pace, then watch how long the server needs until it answers all again."""
    for path in paths.values():
        for _ in range(60):
            if (await asked(port, path, cookie))[0] == 200:
                break
            await asyncio.sleep(0.5)
        await asked(port, path, cookie)
    for pace in paces:
        print(f"{pace:4d}/s  {told(await sent(port, paths, cookie, pace))}", flush=True)
        begun = time.monotonic()
        while any(status != 200 for status, _ in await sent(port, paths, cookie, 10, lasts_s=1)):
            pass
        print(f"        all answered again after {max(0.0, time.monotonic() - begun - 1):.1f} s at most")


async def sent(
    port: int, paths: dict[str, str], cookie: str, pace: int, lasts_s: float = LASTS_S
) -> list[tuple[int, float]]:
    """Send requests at a pace; return each answer's status (0: lost) and its time."""
    turns = [paths[name] for number in range(100) for name in [_name(number * 37 % 100)]]
    begun, tasks = time.monotonic(), []
    for number in range(int(pace * lasts_s)):
        await asyncio.sleep(max(0.0, begun + number / pace - time.monotonic()))
        tasks.append(asyncio.create_task(asked(port, turns[number % 100], cookie)))
    return await asyncio.gather(*tasks)


def _name(share: int) -> str:
    for name, part in MIX.items():
        if share < part:
            return name
        share -= part
    raise ValueError(share)


async def asked(port: int, path: str, cookie: str) -> tuple[int, float]:
    """Ask for a page on a line of its own; return status and seconds."""
    head = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\nAccept: text/html\r\n"
    begun, line = time.monotonic(), None
    try:
        async with asyncio.timeout(30):
            line = await asyncio.open_connection("127.0.0.1", port)
            line[1].write(f"{head}Accept-Encoding: gzip\r\nConnection: close\r\n\r\n".encode())
            got = await line[0].read(-1)
    except (OSError, TimeoutError):
        return 0, time.monotonic() - begun
    finally:
        if line is not None:
            line[1].close()
    status = int(got[9:12] or 0)
    if status == 503 and b"\r\nRetry-After:" not in got:
        status = -503
    return status, time.monotonic() - begun


def told(answers: list[tuple[int, float]]) -> str:
    """Return what came back in one line."""
    counts: Any = Counter(status for status, _ in answers)
    times = [seconds * 1000 for status, seconds in answers if status == 200]
    part = statistics.quantiles(times, n=20)
    words = f"{dict(counts)}  median {part[9]:5.0f} ms  95 of 100 {part[18]:5.0f} ms"
    return f"{words}  load {os.getloadavg()[0]:.1f}"


if __name__ == "__main__":
    main()
