"""Knows the golden design and its roof, from which most tests of the design's pages begin."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.models import Design
from jobs.roof.read import roof_state
from jobs.workspace.state import layout_state


@pytest.fixture
def design(golden_job: Any) -> Design:
    """Return the golden design."""
    return golden_job.designs.get()


@pytest.fixture
def layout(design: Design) -> dict[str, Any]:
    """Return the layout of the design as the workspace sends it."""
    return layout_state(roof_state(design))
