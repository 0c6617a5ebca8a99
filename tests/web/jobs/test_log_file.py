"""The log as a file: every line of the shop's own, oldest first; nothing a spreadsheet would run."""

from __future__ import annotations

import csv
import io

import pytest
from django.urls import reverse

from jobs.models import LogEntry

pytestmark = pytest.mark.django_db


def test_every_line_of_the_shop_and_none_of_another(golden_job, alice, charlie, client_of, now):
    first = {"shop": golden_job.shop, "at": now, "actor_name": 'Erin, née "Test"'}
    LogEntry.objects.create(verb="customer added", detail="=HYPERLINK(1)", job=golden_job, **first)
    LogEntry.objects.create(verb="part changed", reason="two\nlines", **first)
    LogEntry.objects.create(shop=charlie.membership.shop, verb="secret of another", at=now)
    answer = client_of(alice).get(reverse("jobs:log_file"))
    text = answer.getvalue().decode("utf-8-sig")
    told = list(csv.reader(io.StringIO(text)))
    assert [row[2] for row in told[-2:]] == ["customer added", "part changed"]
    when = "2026-11-25 16:00:00"
    assert told[-2] == [when, 'Erin, née "Test"', "customer added", "2026-001", "'=HYPERLINK(1)", ""]
    assert told[-1][5] == "two\nlines"
    assert "secret" not in text


def test_only_the_owner(erin, ken, bob, client_of):
    for person in (erin, ken, bob):
        assert client_of(person).get(reverse("jobs:log_file")).status_code == 403


def test_the_page_leads_to_it(alice, client_of):
    assert reverse("jobs:log_file") in client_of(alice).get(reverse("jobs:shop_edit")).content.decode()
