"""No address answers a malformed body with a fault of ours; the long form sends 10,000 to each.

Names of fields are read off the page's own form, values are what breaks parsers: nothing, signs of other
scripts, numbers no column holds, halves of JSON, bytes that are no text.
"""

from __future__ import annotations

import json
import random
import re
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern

from checklists.models import Checklist
from checklists.urls import urlpatterns as checklist_paths
from jobs.urls import urlpatterns as job_paths
from tests.web.common.test_another_shops_address import addresses

pytestmark = pytest.mark.django_db

VALUES = (
    "", " ", "0", "-1", "1", "1e999", "NaN", "-Infinity", "9" * 40, "9" * 5000, "1/0", "1,5", "٣", "½",
    "\x00", "a\x00b",
    "\ud83d\ude00".encode("utf-16", "surrogatepass").decode("utf-16"), "\u202e", "x" * 10_000,
    "../../etc/passwd",
    "<script>", "{{7*7}}", "%s%n", "' OR 1=1 --", "[]", "{}", "null", "true", "2026-02-30", "0000-00-00",
    "9999-12-31T24:00",
    "12:99", "on", "\r\nSet-Cookie: a=b", "4' 99\"", "1e-320", "=1+1", "data:image/png;base64,AAAA",
    "<svg onload=x>",
)  # fmt: skip
BODIES: tuple[bytes, ...] = (
    b"", b"{", b"[]", b"{}", b"null", b"0", b'"a"', b"\xff\xfe\x00", b"[" * 20_000, b'{"a":' * 5000,
    b"1" * 5000,
    b'{"events": null}', b'{"events": [null, 1, "a", {}, []]}', b'{"events": {"a": 1}}',
    b'{"\\ud800": "\\udfff"}',
    b'{"events": [{"id": 1e400}]}', b"--x\r\nContent-Disposition: form-data", b"a=%ff%00&b=%", b"&&&===",
)  # fmt: skip
TYPES = (
    "application/json", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
    "multipart/form-data",
    "text/plain; charset=utf-7", "application/json; charset=nonsense",
)  # fmt: skip
KEYS = (
    "events",
    "id",
    "key",
    "value",
    "field",
    "panels",
    "x_m",
    "file",
    "token",
    "points",
    "name",
    "at",
    "device",
)


def bare(paths: list[URLPattern]) -> list[str]:
    """Return the addresses without a number."""
    return ["/" + str(each.pattern) for each in paths if "<" not in str(each.pattern)]


def entries(quote: Any, alice: Any) -> list[str]:
    """Return every address a shop's own person may send something to, and those for people not signed in."""
    job = quote.job
    numbers = {
        "jobs": job.pk, "vehicles": job.vehicle_id, "customers": job.vehicle.customer_id,
        "designs": quote.design_id, "quotes": quote.pk, "links": job.guest_links.first().pk,
        "steps": Checklist.objects.get(job=job).steps.first().pk, "people": alice.membership.pk,
        "catalogue": quote.design.panels.first().part_id,
    }  # fmt: skip
    paths = [*job_paths, *checklist_paths]
    outside = [
        "/first-run/",
        "/account/login/",
        "/account/password/reset/",
        f"/q/{quote.token}/",
        "/account/2fa/",
        "/metrics",
    ]
    return sorted({*addresses(numbers, paths), *bare(paths), *outside})


def hostile(luck: random.Random, names: list[str]) -> dict[str, str] | tuple[bytes, str]:
    """Return what a request is sent with: a form with the page's own names, or bytes with a type."""
    kind = luck.random()
    if kind < 0.6 and names:
        return {name: luck.choice(VALUES) for name in luck.sample(names, luck.randint(1, len(names)))}
    if kind < 0.8:
        odd = [*VALUES, None, 1e308, -1, [], {}, [{}], [[1]], True]
        return json.dumps(
            {luck.choice(KEYS): luck.choice(odd) for _ in range(4)}
        ).encode(), "application/json"
    return luck.choice(BODIES), luck.choice(TYPES)


def sent(client: Client, address: str, count: int, luck: random.Random) -> list[str]:
    """Send an address so many malformed requests; return what it answered with a fault."""
    faults = []
    page = client.get(address)
    text = b"" if page.streaming else page.content
    page.close()
    names = sorted(set(re.findall(r'name="([^"]+)"', text.decode(errors="ignore"))))
    for _ in range(count):
        told = hostile(luck, names)
        with transaction.atomic():
            is_form = isinstance(told, dict)
            answer = client.post(address, told) if is_form else client.generic("POST", address, *told)
            answer.close()
            transaction.set_rollback(True)
        if answer.status_code >= 500:
            faults.append(f"{answer.status_code} {address} {str(told)[:300]}")
    return faults


def faults_of(quote: Any, alice: Any, count: int) -> tuple[int, list[str]]:
    luck, faults, asked = random.Random(15), [], entries(quote, alice)
    for address in asked:
        client = Client(raise_request_exception=False)
        client.force_login(alice)
        faults += sent(client, address, count, luck)
    return len(asked), faults


def test_a_few_to_every_address(accepted_quote, alice):
    count, faults = faults_of(accepted_quote, alice, 3)
    assert count > 90
    assert faults == []


@pytest.mark.full
def test_ten_thousand_to_every_address(accepted_quote, alice):
    count, faults = faults_of(accepted_quote, alice, 10_000)
    print(f"{count} addresses, 10,000 malformed bodies each: {len(faults)} faults")
    assert faults == []
