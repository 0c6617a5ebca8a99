"""Knows the survey's field sheet: every fact with its unit, range, usual value and when it is needed."""

from jobs.survey_sheet.facts import STAGES, Fact, Group, Part, RowSheet
from jobs.survey_sheet.parts import PARTS, PHOTOS
from jobs.survey_sheet.rows import CIRCUITS, DIFFICULTIES

__all__ = ["CIRCUITS", "DIFFICULTIES", "PARTS", "PHOTOS", "STAGES", "Fact", "Group", "Part", "RowSheet"]
