"""Knows two shops with work at every stage, and everybody who might call a service."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.checklists.conftest import media
from tests.unit.services.world import World, make_world

__all__ = ["media"]


@pytest.fixture(autouse=True)
def no_paper(monkeypatch: Any) -> None:
    """Print without the paper engine; the paper itself is tested with the sheet."""
    monkeypatch.setattr("checklists.sheet.issue.require_pdf_library", lambda: None)


@pytest.fixture
def world(
    golden_job: Any, alice: Any, erin: Any, lena: Any, bob: Any, ken: Any, charlie: Any, demo_records: Any
) -> World:
    """Return both shops: Alice's job as a draft design, the others as far as they ever come."""
    people = {
        "owner": alice, "estimator": erin, "lead": lena, "technician": bob, "bookkeeper": ken,
        "stranger": charlie, "alice": alice, "charlie": charlie,
    }  # fmt: skip
    return make_world(golden_job, people, demo_records)
