"""Knows the records of the soak tests; their long form is run by hand: ``pytest -n 0 -m full tests/soak``."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.checklists.conftest import entry, media, record, second_list

__all__ = ["entry", "media", "record", "second_list"]


@pytest.fixture
def checklist(second_list: Any) -> Any:
    """Return the install record of the golden job with the newest list of steps."""
    return second_list


@pytest.fixture
def sessions(client_of: Any, bob: Any, lena: Any) -> list[str]:
    """Return the session cookies of two technicians."""
    return [client_of(person).cookies["sessionid"].value for person in (bob, lena)]
