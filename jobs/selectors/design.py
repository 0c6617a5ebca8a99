"""Knows how designs and their stored answers are read for a page."""

from __future__ import annotations

from typing import Any, Final

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery

import sizing
from jobs import sizing_bridge
from jobs.models import Design, DesignController, DesignPanel, DesignSource, DesignString, Job, SizingRun
from jobs.services.refusals import Refusal

_RELATED: Final = (
    "job__shop",
    "job__survey",
    "job__vehicle__customer",
    "bank__part__battery_sheet",
    "inverter__part__inverter_sheet",
)


def designs_in_full(designs: QuerySet[Design]) -> QuerySet[Design]:
    """Return the designs with everything the sizing face and the roof plan ask for, in few queries."""
    return designs.select_related(*_RELATED).prefetch_related(
        Prefetch("panels", DesignPanel.objects.select_related("part__panel_sheet", "string")),
        Prefetch("strings", DesignString.objects.select_related("controller")),
        Prefetch("controllers", DesignController.objects.select_related("part__controller_sheet")),
        Prefetch("sources", DesignSource.objects.select_related("part__charger_sheet", "existing")),
        "circuits",
        "job__survey__loads",
        "job__survey__stops",
        "job__survey__obstacles",
        "job__survey__existing_items",
        "job__survey__wire_legs",
    )


def design_in_full(pk: int) -> Design:
    """Return one design with everything the sizing face and the roof plan ask for."""
    return designs_in_full(Design.objects.filter(pk=pk)).get()


def designs_of_job(job: Job) -> QuerySet[Design]:
    """Return a job's revisions, newest first, each with ``latest_verdict`` as planned (None: never sized)."""
    latest = SizingRun.objects.filter(design=OuterRef("pk"), purpose=SizingRun.Purpose.PLANNED)
    return Design.objects.filter(job=job).annotate(
        latest_verdict=Subquery(latest.values("verdict")[:1]), sized_at=Subquery(latest.values("at")[:1])
    )


def latest_run(design: Design, purpose: str = SizingRun.Purpose.PLANNED) -> SizingRun | None:
    """Return the newest stored answer for a design; None when it was never sized or cannot be sized now."""
    if purpose == SizingRun.Purpose.PLANNED and design.unsized_reason:
        return None
    return design.runs.filter(purpose=purpose).first()


def result_of(run: SizingRun) -> sizing.SystemResult:
    """Return the stored answer as the sizing face gave it."""
    return sizing_bridge.result_from_json(run.result)


def is_current(design: Design, run: SizingRun) -> bool:
    """Return whether a stored answer still answers the design: survey and catalogue may have moved on."""
    try:
        asked = sizing_bridge.input_to_json(sizing_bridge.system_input(design))
    except Refusal:
        return False
    return asked == run.inputs


def input_of(run: SizingRun) -> dict[str, Any]:
    """Return what was asked, in the shape ``python -m sizing check`` reads."""
    return run.inputs
