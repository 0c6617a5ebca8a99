"""Brings a database of an earlier release to this one and prints what its pages say; run by a test."""

from __future__ import annotations

import json
import sys
from typing import Any

import django


def pages() -> dict[str, list[Any]]:
    """Return status and text of every page of a job, signed in as the owner."""
    from django.test import Client
    from django.urls import reverse

    from checklists.models import JobSheet
    from jobs.models import Customer, Design, Job, Membership, Quote

    client = Client()
    client.force_login(Membership.objects.get(role="owner").user)
    names: list[tuple[str, Any]] = [
        ("jobs:job_detail", Job), ("jobs:quote_detail", Quote), ("jobs:design_detail", Design),
        ("jobs:customer_detail", Customer), ("checklists:sheet_detail", JobSheet),
    ]  # fmt: skip
    found = {}
    for name, model in names:
        for row in model.objects.all():
            answer = client.get(reverse(name, args=[row.pk]), follow=True)
            found[f"{name} {row.pk}"] = [answer.status_code, answer.content.decode()]
    return found


if __name__ == "__main__":
    django.setup()
    from django.conf import settings
    from django.core.management import call_command

    settings.ALLOWED_HOSTS = ["testserver"]
    call_command("start", "--no-serve") if "--start" in sys.argv else call_command("migrate", verbosity=0)
    print(json.dumps(pages()))
