"""Every text that stands in a template of an install's pages can be translated."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.bare_texts import bare_texts


@pytest.fixture
def pages(second_list):
    """Return the addresses of an install: its lists, and steps of each sort, singly and as a table."""
    first = {step.code: step for step in second_list.steps.order_by("-pk")}
    sorts = [
        *(step for step in first.values() if step.is_hold),
        *(first[code] for code in ("A1", "D4", "K2")),
    ]
    of_job = (
        "checklist_detail",
        "checklist_plan",
        "plan_change",
        "hours",
        "hours_by_hand",
        "load",
        "photo_list",
    )
    return [
        *(
            reverse(f"checklists:{name}", args=[second_list.job_id])
            for name in (*of_job, "photo_list", "sign_off")
        ),
        *(reverse("checklists:step_detail", args=[step.pk]) for step in sorts[-6:]),
        reverse("checklists:table_detail", args=[first["D4"].pk]),
        reverse("checklists:text_list"),
        reverse("checklists:device_list"),
        reverse("jobs:job_detail", args=[second_list.job_id]),
    ]


def test_no_text_of_a_template_is_left_bare(pages, alice, client_of, monkeypatch):
    assert bare_texts(client_of(alice), alice, pages, monkeypatch) == {}
