"""What people call the things that a judgment only numbers."""

from __future__ import annotations

from jobs.models import Design


def subject_names(design: Design) -> dict[str, str]:
    """Return the names of a design's chargers and of the things on its roof, by subject."""
    names = {f"source:{source.pk}": str(source) for source in design.sources.all()}
    return names | {f"obstacle:{thing.pk}": str(thing) for thing in design.job.survey.obstacles.all()}
