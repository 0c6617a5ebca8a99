"""Reads designs and their stored answers for a page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Exists, OuterRef, Prefetch, QuerySet, Subquery

import sizing
from jobs.engine.system import input_to_json, result_from_json, system_basis, system_input
from jobs.models import (
    Design,
    DesignCircuit,
    DesignController,
    DesignPanel,
    DesignSource,
    DesignString,
    Job,
    NotedCheck,
    SizingRun,
)
from jobs.roof.layout import roof_json
from jobs.roof.read import roof_state
from jobs.shop.refusals import Refusal

_RELATED: Final = (
    "job__shop",
    "job__survey",
    "job__vehicle__customer",
    "bank__part__battery_sheet",
    "inverter__part__inverter_sheet",
)


def _rows_of_a_design() -> dict[str, str | Prefetch[Any]]:
    """Return how the rows of a design and of its survey are read, by their name."""
    panels = DesignPanel.objects.select_related("part__panel_sheet", "string__controller", "existing")
    sources = DesignSource.objects.select_related("part__charger_sheet", "existing")
    return {
        "panels": Prefetch("panels", panels),
        "controllers": Prefetch(
            "controllers", DesignController.objects.select_related("part__controller_sheet")
        ),
        "strings": Prefetch("strings", DesignString.objects.select_related("controller")),
        "sources": Prefetch("sources", sources),
        "circuits": "circuits",
        "loads": "job__survey__loads",
        "stops": "job__survey__stops",
        "obstacles": "job__survey__obstacles",
        "existing_items": "job__survey__existing_items",
        "wire_legs": "job__survey__wire_legs",
    }


def designs_with(designs: QuerySet[Design], *names: str) -> QuerySet[Design]:
    """Return the designs with job, survey, vehicle, bank and inverter, and the rows named, a query each."""
    rows = _rows_of_a_design()
    return designs.select_related(*_RELATED).prefetch_related(*(rows[name] for name in names))


def designs_in_full(designs: QuerySet[Design]) -> QuerySet[Design]:
    """Return the designs with everything the sizing face and the roof plan ask for."""
    return designs_with(designs, *_rows_of_a_design())


def designs_for_page(designs: QuerySet[Design]) -> QuerySet[Design]:
    """Return the designs as a page shows them; strings and circuits come from the stored answer.

    ``has_notes`` says whether anybody took note of a verdict: most pages need not ask for the notes.
    """
    names = ("panels", "controllers", "sources", "loads", "stops", "obstacles", "existing_items")
    notes = NotedCheck.objects.filter(design=OuterRef("pk"))
    found: QuerySet[Design] = designs_with(designs, *names).annotate(has_notes=Exists(notes))
    found = found.prefetch_related(Prefetch("strings", DesignString.objects.none()))
    return found.prefetch_related(Prefetch("circuits", DesignCircuit.objects.none()))


def design_in_full(pk: int) -> Design:
    """Return one design with everything the sizing face and the roof plan ask for."""
    return designs_in_full(Design.objects.filter(pk=pk)).get()


def designs_of_job(job: Job) -> QuerySet[Design]:
    """Return a job's revisions, newest first, each with ``latest_verdict`` as planned (None: never sized)."""
    latest = SizingRun.objects.filter(design=OuterRef("pk"), purpose=SizingRun.Purpose.PLANNED)
    found: QuerySet[Design] = Design.objects.filter(job=job).annotate(
        latest_verdict=Subquery(latest.values("verdict")[:1]), sized_at=Subquery(latest.values("at")[:1])
    )
    return found


def latest_run(design: Design, purpose: str = SizingRun.Purpose.PLANNED) -> SizingRun | None:
    """Return the newest stored answer for a design; None when it was never sized or cannot be sized now."""
    if purpose == SizingRun.Purpose.PLANNED and design.unsized_reason:
        return None
    return design.runs.filter(purpose=purpose).first()


def result_of(run: SizingRun) -> sizing.SystemResult:
    """Return the stored answer as the sizing face gave it."""
    return result_from_json(run.result)


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """A stored question with its answer read back."""

    run: SizingRun
    result: sizing.SystemResult


def stored_answer(design: Design) -> StoredAnswer | None:
    """Return the newest planned answer of a design; None when there is none."""
    run = latest_run(design)
    return None if run is None else StoredAnswer(run, result_of(run))


def is_current(design: Design, run: SizingRun) -> bool:
    """Return whether a stored answer still fits survey, vehicle and catalog, which may have moved on.

    The design's own parts cannot differ: every change of them is sized at once.
    """
    roof = roof_state(design)
    try:
        asked = input_to_json(system_input(roof, system_basis(design)))
    except Refusal:
        return False
    is_same_roof = not run.roof or run.roof == roof_json(roof.surveyed)
    return is_same_roof and _outside(asked) == _outside(run.inputs)


def _outside(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what comes from outside the design's own rows."""
    own = {name: value for name, value in asked.items() if name not in {"strings", "circuits", "guesses"}}
    own["guesses"] = sorted(name for name in asked.get("guesses", ()) if not name.startswith("circuit:"))
    return own
