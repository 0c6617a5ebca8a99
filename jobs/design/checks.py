"""What the office must still judge on a design beside the engine's own rules: layout and left-outs."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import sizing
from jobs.engine.system import served_subjects
from jobs.models import Design, ExistingItem
from jobs.parts import power_inputs
from jobs.parts.circuits import wanted_circuits
from jobs.roof.checks import layout_checks
from jobs.roof.layout import design_layout
from jobs.roof.state import RoofState
from sizing import CircuitKind


def extra_checks(design: Design, roof: RoofState) -> tuple[sizing.Check, ...]:
    """Return the layout's checks and those on things the schedule or the charge sum leaves out."""
    return (
        *layout_checks(design_layout(roof)),
        *_uncounted_chargers(design),
        *_unweighed_parts(design),
        *_unwired_panels(design),
        *_missing_circuits(design),
        *_stray_circuits(design, roof),
    )


def is_of_the_office(check: sizing.Check) -> bool:
    """Return whether a stored check is one of these, not the engine's."""
    return check.rule == "left_out" or check.rule.startswith("layout_")


def _left_out(
    key: str, subject: str, title: str, sentence: str, action: str, verdict: sizing.Verdict
) -> sizing.Check:
    """Return a finding; as what is left out is in no sum, each counts as dangerous."""
    return sizing.Check(
        rule="left_out",
        key=key,
        subject=subject,
        title=title,
        verdict=verdict,
        value=None,
        limit=None,
        unit="",
        margin=None,
        sentence=sentence,
        source="The design against the survey",
        provenance=sizing.Provenance.COMPUTED,
        action=action,
        danger=sizing.Danger.PEOPLE,
    )


def _uncounted_chargers(design: Design) -> Iterable[sizing.Check]:
    """Name each charger that stays on the vehicle but is in no sum."""
    counted = {source.existing_id for source in design.sources.all()}
    for item in design.job.survey.existing_items.all():
        if item.kind not in power_inputs.CHARGING_KINDS or item.fate != ExistingItem.Fate.KEEP:
            continue
        if item.kind == ExistingItem.Kind.GENERATOR and item.rating_a is None:
            continue  # it makes line voltage: its charger is what counts
        if item.pk not in counted:
            yield _left_out(
                f"source:existing-{item.pk}/counted",
                "bank",
                f"{item} in the charge sum",
                f"{item} stays on the vehicle but is not in this design, so its amps are not counted.",
                "Add it to the chargers of this design.",
                sizing.Verdict.NOT_ENOUGH_DATA,
            )
    sheet = getattr(getattr(getattr(design, "inverter", None), "part", None), "inverter_sheet", None)
    if sheet is not None and sheet.is_charger and sheet.charge_a is None:
        yield _left_out(
            "source:inverter/counted",
            "bank",
            "Inverter-charger in the charge sum",
            "The inverter charges too, but its charging amps are not in the catalog, so they are not"
            " counted.",
            "Enter its charging amps in the catalog.",
            sizing.Verdict.NOT_ENOUGH_DATA,
        )


def _unweighed_parts(design: Design) -> Iterable[sizing.Check]:
    """Name each new part without a weight in the catalog: what is not weighed is in no sum."""
    things: list[Any] = [*design.panels.all(), *design.controllers.all(), *design.sources.all()]
    things += [one for name in ("bank", "inverter") if (one := getattr(design, name, None)) and one.is_new]
    parts = {thing.part.pk: thing.part for thing in things if thing.part is not None}
    names = [part.name for part in parts.values() if not part.mass_kg]
    if names:
        yield _left_out(
            "vehicle/weighed",
            "vehicle",
            "Weight of every new part",
            f"No weight in the catalog: {', '.join(names)}. Parts without a weight are not counted.",
            "Enter the weight of each part in the catalog.",
            sizing.Verdict.NOT_ENOUGH_DATA,
        )


def _unwired_panels(design: Design) -> Iterable[sizing.Check]:
    loose = [str(panel.number) for panel in design.panels.all() if panel.string_id is None]
    if loose:
        yield _left_out(
            "roof/unwired",
            "roof",
            "Panels in strings",
            f"Not in a string yet: panel {', '.join(loose)}. Their power is counted, their volts are not.",
            "Put every panel in a string.",
            sizing.Verdict.NOT_ENOUGH_DATA,
        )


def _missing_circuits(design: Design) -> Iterable[sizing.Check]:
    """Name what the chosen parts need and the schedule lacks: an unlisted wire is an unjudged wire."""
    rows = list(design.circuits.all())
    have = {(row.kind, row.serves) for row in rows} | {(row.kind, "") for row in rows if not row.serves}
    lacking = [
        wanted.kind
        for wanted in wanted_circuits(design)
        if (wanted.kind, wanted.serves) not in have and (wanted.kind, "") not in have
    ]
    # Links and the negative lead have no device and follow the main cable: worth a caution only.
    hard = [
        kind
        for kind in lacking
        if kind
        not in {CircuitKind.BATTERY_LINKS, CircuitKind.SHUNT_TO_BATTERY, CircuitKind.STRINGS_TO_COMBINER}
    ]
    if lacking:
        yield _left_out(
            "circuits/complete",
            "circuits",
            "Circuit schedule complete",
            f"Not in the schedule: {', '.join(lacking)}. A wire that is not listed is not checked.",
            "Add these circuits to the schedule.",
            sizing.Verdict.NOT_ENOUGH_DATA if hard else sizing.Verdict.CAUTION,
        )


def _stray_circuits(design: Design, roof: RoofState) -> Iterable[sizing.Check]:
    """Name each circuit of something the design no longer has."""
    subjects = served_subjects(roof, (one.pk for one in design.sources.all()))
    for circuit in design.circuits.all():
        if circuit.serves not in subjects:
            yield _left_out(
                f"circuit:{circuit.label}/serves",
                f"circuit:{circuit.label}",
                f"{circuit.label} belongs to a part of this design",
                f"{circuit.label} belongs to {circuit.serves}, which this design does not have: "
                "remove the row or say what it belongs to.",
                "Remove the row or say what it belongs to.",
                sizing.Verdict.NOT_ENOUGH_DATA,
            )
