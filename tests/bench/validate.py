"""Walks every page of an invented shop and has the Nu validator read it, by hand: it needs Java.

``uv run --group dev python tests/bench/validate.py vnu.jar`` (``npm install vnu-jar`` in a folder of your
own). Two pages of each view that a signed-in owner reaches by links, those of a guest, and the tablet's
shell. Goal: no error. The attributes ``hx-…`` of htmx, which the standard does not know, are left out.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
MOST_OF_A_VIEW = 2


def main() -> None:
    """Gather the pages, validate them, print what was found."""
    sys.path.insert(0, str(ROOT))
    from tests.bench.house import own_database

    with own_database() as folder:
        pages = folder / "pages"
        pages.mkdir()
        gathered(pages)
        command = ["java", "-jar", sys.argv[1], "--format", "json", "--skip-non-html", str(pages)]
        found = subprocess.run(command, capture_output=True, text=True, check=False)
        print_found(json.loads(found.stderr or found.stdout)["messages"])


def gathered(folder: Path) -> None:
    """Write each page that links lead to into a folder."""
    from tests.bench.bench_pages import shop
    from tests.bench.bench_workspace import set_up

    set_up()
    from django.core.management import call_command
    from django.test import Client

    call_command("collectstatic", interactive=False, verbosity=0)
    _, owner, _ = shop()
    walk(owner, ["/", "/tablet/"], folder)
    stranger = Client(headers={"accept": "text/html"})
    walk(stranger, ["/account/login/", "/account/password/reset/", *guests()], folder)


def guests() -> list[str]:
    """Return the address of a customer's quote by its link."""
    import datetime as dt

    from django.urls import reverse

    from jobs.models import Quote
    from jobs.quote.guest_link import link_create

    now = dt.datetime.now(dt.UTC)
    quote = Quote.objects.exclude(snapshot={}).filter(sent_at__isnull=False).first()
    if quote is None:
        print("no quote was sent here: a guest's page is not looked at")
        return []
    _, token = link_create(job=quote.job, at=now, expires_at=now + dt.timedelta(days=1), quote=quote)
    return [reverse("jobs:guest_quote", args=[token])]


def walk(client: Any, starts: list[str], folder: Path) -> None:
    """Follow links from some pages, and write what is HTML."""
    from django.urls import Resolver404, resolve

    seen, waiting, views = set(starts), list(starts), Counter[str]()
    while waiting:
        path = waiting.pop(0)
        try:
            view = resolve(path.partition("?")[0]).view_name
        except Resolver404:
            continue
        if views[view] >= MOST_OF_A_VIEW or "logout" in path:
            continue
        views[view] += 1
        answer = client.get(path, headers={"host": "localhost"}, follow=True)
        if "html" not in answer.headers.get("Content-Type", ""):
            continue
        text = b"".join(answer) if answer.streaming else answer.content
        name = re.sub(r"\W+", "_", f"{view} {views[view]}")
        (folder / f"{name}_{answer.status_code}.html").write_bytes(text)
        for link in re.findall(r'href="(/[^"#]*)"', text.decode()):
            address = link.replace("&amp;", "&")
            if address not in seen and not address.startswith("/static/"):
                seen.add(address)
                waiting.append(address)
    print(f"{sum(views.values())} pages of {len(views)} views")


def print_found(messages: list[dict[str, Any]]) -> None:
    """Print each kind of message once, with how often and where first."""
    found = [each for each in messages if each["type"] == "error" and "Attribute “hx-" not in each["message"]]
    kinds: dict[str, list[dict[str, Any]]] = {}
    for each in found:
        kinds.setdefault(re.sub(r"“[^”]*\d[^”]*”", "“…”", each["message"]), []).append(each)
    for words, own in sorted(kinds.items(), key=lambda kind: -len(kind[1])):
        names = sorted({Path(each["url"]).stem for each in own})
        print(f"{len(own):4d} × {words}\n       {', '.join(names[:4])}\n       {own[0].get('extract', '')!r}")
    print(f"{len(found)} errors")


if __name__ == "__main__":
    main()
