"""The field sheet (facts, rows, usual values, hints), how a survey is read and what it lacks."""

from jobs.survey.facts import STAGES, Fact, Group, Part, RowSheet
from jobs.survey.parts import PARTS, PHOTOS
from jobs.survey.rows import CIRCUITS, DIFFICULTIES

__all__ = ["CIRCUITS", "DIFFICULTIES", "PARTS", "PHOTOS", "STAGES", "Fact", "Group", "Part", "RowSheet"]
