"""Works out what a page of the survey shows beside its fields: roof sketch, a day's use, lengths of wire."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import sizing
from jobs.engine.system import energy_of
from jobs.models import ConfidenceChoice, DesignInverter, LoadItem, Obstacle, Survey, WireLeg
from jobs.parts.circuits import surveyed_run
from jobs.roof.plan import survey_plan_svg
from jobs.roof.read import obstacle_state, surveyed_roof
from jobs.survey import CIRCUITS, defaults

Rows = Mapping[str, list[dict[str, Any]]]


@dataclass(frozen=True)
class LoadShare:
    """One appliance in the order of what it uses."""

    name: str
    energy_wh: float
    fraction: float
    caution: str


@dataclass(frozen=True)
class WireTotal:
    """One circuit's way: as it was measured, and as the sums take it."""

    circuit: str
    run_len_m: float
    counted_m: float
    confidence: str

    @property
    def is_guess(self) -> bool:
        """Return whether a quarter was added."""
        return self.confidence == ConfidenceChoice.GUESS


def of_part(slug: str, survey: Survey, rows: Rows | None, *, units: str) -> dict[str, Any]:
    """Return what stands beside the fields: for stored rows, or for the rows typed so far."""
    if slug == "loads":
        loads = _typed(LoadItem, rows, "loads", survey)
        return {"energy": _energy(survey, loads), "shares": load_shares(loads)}
    if slug == "obstacles":
        return {"sketch": sketch(survey, _typed(Obstacle, rows, "obstacles", survey), units=units)}
    if slug == "wire":
        legs = _typed(WireLeg, rows, "wire_legs", survey)
        return {"wire_totals": wire_totals(legs, survey.job.vehicle.kind)}
    return {}


def choices(slug: str) -> dict[str, Any]:
    """Return what may be picked from a list and added as a row."""
    if slug == "loads":
        return {"choices": [(row["code"], row["name"]) for row in defaults.load_rows()]}
    if slug == "obstacles":
        return {"choices": Obstacle.Kind.choices}
    return {}


def _typed(model: type[Any], rows: Rows | None, prefix: str, survey: Survey) -> list[Any]:
    """Return the rows as typed, unsaved; the stored ones when nothing was typed."""
    if rows is None:
        return list(getattr(survey, prefix).all())
    return [model(**values) for values in rows[prefix]]


def _energy(survey: Survey, loads: list[LoadItem]) -> Any:
    """Return a day's use, with the inverter of the newest design where there is one; None without loads."""
    if not loads:
        return None
    inverter = (
        DesignInverter.objects.filter(design__job=survey.job_id, part__inverter_sheet__isnull=False)
        .select_related("part__inverter_sheet")
        .order_by("-design__number")
        .first()
    )
    return energy_of(loads, inverter)


def load_shares(loads: Iterable[LoadItem]) -> list[LoadShare]:
    """Return the appliances, the hungriest first, each with its share of the rows' sum."""
    rows = sorted(loads, key=lambda row: -row.energy_wh)
    total = sum(row.energy_wh for row in rows)
    return [
        LoadShare(
            row.name,
            row.energy_wh,
            row.energy_wh / total if total else 0.0,
            defaults.load_caution(row.name),
        )
        for row in rows
    ]


def wire_totals(legs: Iterable[WireLeg], vehicle_kind: str) -> list[WireTotal]:
    """Return the length of each circuit that has a leg, in the order of the schedule."""
    legs = list(legs)
    totals = []
    for circuit, _label in CIRCUITS:
        own = [leg for leg in legs if leg.circuit == circuit]
        if own:
            run_len_m, confidence = surveyed_run(circuit, own, vehicle_kind)
            is_guess = confidence == ConfidenceChoice.GUESS
            counted_m = run_len_m * (sizing.GUESS_LENGTH if is_guess else 1)
            totals.append(WireTotal(circuit, run_len_m, counted_m, confidence))
    return totals


def sketch(survey: Survey, obstacles: Iterable[Obstacle] | None = None, *, units: str) -> str:
    """Return the roof to scale with what stands on it, also with rows that are only typed so far."""
    roof = surveyed_roof(survey)
    if obstacles is not None:
        roof = replace(roof, obstacles=tuple(obstacle_state(one) for one in obstacles))
    return survey_plan_svg(roof, shop_units=units)
