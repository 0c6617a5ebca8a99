"""Knows the same install records as the unit tests."""

from tests.unit.checklists.conftest import (
    checklist,
    entry,
    media,
    opened,
    record,
    second_list,
    two_panel_checklist,
)

__all__ = ["checklist", "entry", "media", "opened", "record", "second_list", "two_panel_checklist"]
