"""Knows how designs and their stored answers are read for a page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery

import sizing
from jobs import sizing_bridge
from jobs.models import (
    Design,
    DesignCircuit,
    DesignController,
    DesignPanel,
    DesignSource,
    DesignString,
    Job,
    SizingRun,
)
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
    return designs_for_plan(designs).prefetch_related(
        Prefetch("strings", DesignString.objects.select_related("controller")),
        "circuits",
        "job__survey__wire_legs",
    )


def designs_for_page(designs: QuerySet[Design]) -> QuerySet[Design]:
    """Return the designs as a page shows them; strings and circuits come from the stored answer."""
    return designs_for_plan(designs).prefetch_related(
        Prefetch("strings", DesignString.objects.none()), Prefetch("circuits", DesignCircuit.objects.none())
    )


def designs_for_plan(designs: QuerySet[Design]) -> QuerySet[Design]:
    """Return the designs with panels, power and survey."""
    return designs.select_related(*_RELATED).prefetch_related(
        Prefetch("panels", DesignPanel.objects.select_related("part__panel_sheet", "string__controller")),
        Prefetch("controllers", DesignController.objects.select_related("part__controller_sheet")),
        Prefetch("sources", DesignSource.objects.select_related("part__charger_sheet", "existing")),
        "job__survey__loads",
        "job__survey__stops",
        "job__survey__obstacles",
        "job__survey__existing_items",
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
    """Return whether a stored answer still fits survey, vehicle and catalogue, which may have moved on.

    The design's own parts cannot differ: every change of them is sized at once.
    """
    try:
        asked = sizing_bridge.input_to_json(sizing_bridge.system_input(design))
    except Refusal:
        return False
    return _outside(asked) == _outside(run.inputs)


def _outside(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what comes from outside the design's own rows."""
    own = {name: value for name, value in asked.items() if name not in {"strings", "circuits", "guesses"}}
    own["guesses"] = sorted(name for name in asked["guesses"] if not name.startswith("circuit:"))
    return own


def input_of(run: SizingRun) -> dict[str, Any]:
    """Return what was asked, in the shape ``python -m sizing check`` reads."""
    return run.inputs
