"""The weight page of the job sheet: the ledger, what the label says, and each axle with its limit."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string

from checklists.sheet.draft import sheet_draft
from checklists.sheet.summary import label_words
from sizing import WeightInput


@pytest.mark.parametrize(
    ("label_type", "undated", "words"),
    [
        ("occc", False, "still to be taken off"),
        ("ccc", False, "already taken off"),
        ("ccc", True, "no date"),
    ],
)
def test_the_label_is_said_as_it_was_counted(label_type, undated, words):
    assert words in label_words(WeightInput(label_type=label_type, is_label_undated=undated))


def test_each_axle_stands_with_its_limit(checklist, shop):
    """385 + 2,640 kg weighed, 57.1 kg net: 3,082.1 kg (6,795 lb) of 3,450 kg (7,606 lb)."""
    page = sheet_draft(checklist).content["weight"]
    assert [row["title"] for row in page["scales"]] == [
        "Whole weight against the GVWR",
        "Hitch with the job's weight",
        "Axles with the job's weight",
        "Share of the trailer's weight on the tongue",
    ]
    text = render_to_string("checklists/sheet/_weight.html", {"content": {"weight": page}, "shop": shop})
    assert "6,795 lb" in text
    assert "7,606 lb" in text
    assert "water and people still to be taken off" in text


def test_a_sheet_stored_earlier_still_says_its_label(shop):
    page = {"label_type": "ccc", "label_kg": 500.0, "added": [], "removed": []}
    text = render_to_string("checklists/sheet/_weight.html", {"content": {"weight": page}, "shop": shop})
    assert "older kind" in text
    assert "On the road" not in text
