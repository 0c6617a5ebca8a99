"""Knows how the parts of a draft design are changed: panels, strings, power, circuits, basis.

Rows come from forms as plain dicts: ``id`` None makes a new row, ``DELETE`` takes one away, anything else
is a field of the record. Every change goes through ``design_change``: permission, log and sizing are there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import models

from jobs.design.revision import Change, DesignRefused, circuits_wanted, design_change, propose_circuits
from jobs.engine.stored import latest_run, result_of
from jobs.models import (
    Design,
    DesignBank,
    DesignCircuit,
    DesignController,
    DesignInverter,
    DesignPanel,
    DesignSource,
    DesignString,
    Part,
    SizingRun,
)

Row = Mapping[str, Any]
#: A device family that suits a circuit, where the proposal is taken as it stands; common practice.
_FAMILIES = {"C4": "class T", "C6": "class T", "C1": "gPV", "C16": "gPV"}
_LARGE_FAMILY, _SMALL_FAMILY, _SMALL_TO_A = "large bolt-down (SF51)", "small bolt-down (SF30)", 150.0


def panels_change(
    *, design: Design, rows: Sequence[Row], basis: Row | None = None, change: Change
) -> SizingRun | None:
    """Set the panels of the roof; ``basis`` may set is_glued and feet_on_rafter with them."""

    def apply(locked: Design) -> str:
        _set(locked, basis or {}, {"is_glued", "feet_on_rafter", "fastener_tested_n"})
        gone = {row["id"] for row in rows if row.get("DELETE")}
        numbers = set(locked.panels.exclude(pk__in=gone).values_list("number", flat=True))
        written = _write(locked, DesignPanel, rows, lambda panel: _number(panel, numbers))
        return f"{written} panels"

    return design_change(design, change, "panels changed", apply)


def panels_place_row(
    *,
    design: Design,
    part: Part,
    count: int,
    x_m: float,
    y_m: float,
    gap_m: float,
    is_turned: bool,
    is_along: bool,
    change: Change,
) -> SizingRun | None:
    """Add ``count`` equal panels in a row, forward from a corner or leftward across the roof."""
    sheet = getattr(part, "panel_sheet", None)
    if sheet is None:
        raise DesignRefused(f"“{part.name}” has no data sheet in the catalogue: its size is not known.")
    length, width = sheet.length_m, sheet.width_m
    if is_turned:
        length, width = width, length
    step = (length if is_along else width) + gap_m
    rows = [
        {
            "id": None,
            "part": part,
            "x_m": round(x_m + (step * place if is_along else 0.0), 4),
            "y_m": round(y_m + (0.0 if is_along else step * place), 4),
            "is_turned": is_turned,
            "feet": feet_needed(sheet.length_m, sheet.width_m),
        }
        for place in range(count)
    ]
    return panels_change(design=design, rows=rows, change=change)


def feet_needed(length_m: float, width_m: float) -> int:
    """Return the feet a panel starts with: 4, or 6 when longer than 1.6 m or larger than 1.8 m²."""
    return 6 if length_m > 1.6 or length_m * width_m > 1.8 else 4


def strings_change(
    *,
    design: Design,
    controllers: Sequence[Row],
    strings: Sequence[Row],
    plugs: Row | None = None,
    change: Change,
) -> SizingRun | None:
    """Set controllers and strings; a string row names its ``panels`` in order and a ``controller`` label."""

    def apply(locked: Design) -> str:
        before = circuits_wanted(locked)
        _set(locked, plugs or {}, {"has_branch_plugs", "branch_plug_rating_a"})
        keep = [row for row in controllers if not row.get("DELETE")]
        _write(locked, DesignController, keep)
        wire_panels(locked, [row for row in strings if not row.get("DELETE") and row["panels"]])
        _write(locked, DesignController, [row for row in controllers if row.get("DELETE")])
        propose_circuits(locked, before)
        return plan_words(locked)

    return design_change(design, change, "strings changed", apply)


def plan_take(*, design: Design, strings: Sequence[Row], change: Change) -> SizingRun | None:
    """Wire all panels by a plan; controllers stay as they are."""

    def apply(locked: Design) -> str:
        wire_panels(locked, strings)
        return plan_words(locked)

    return design_change(design, change, "strings changed", apply)


def string_rows(design: Design) -> list[dict[str, Any]]:
    """Return the strings of a design as rows: panel numbers in order, controller label, fuse."""
    members: dict[int, list[DesignPanel]] = {}
    for panel in design.panels.all():
        if panel.string_id is not None:
            members.setdefault(panel.string_id, []).append(panel)
    return [
        {
            "panels": [
                panel.number
                for panel in sorted(
                    members.get(string.pk, []), key=lambda one: (one.position_in_string, one.number)
                )
            ],
            "controller": string.controller.label,
            "fuse_a": string.fuse_a,
        }
        for string in design.strings.all()
    ]


def plan_words(design: Design) -> str:
    """Return the string plan in trade words: 2S2P on A."""
    by_controller: dict[str, list[int]] = {}
    for row in string_rows(design):
        by_controller.setdefault(row["controller"], []).append(len(row["panels"]))
    plans = []
    for label, lengths in sorted(by_controller.items()):
        words = f"{lengths[0]}S{len(lengths)}P" if len(set(lengths)) == 1 else "+".join(map(str, lengths))
        plans.append(f"{words} on {label}")
    return ", ".join(plans) or "no strings"


def power_change(
    *, design: Design, bank: Row | None, inverter: Row | None, sources: Sequence[Row], change: Change
) -> SizingRun | None:
    """Set bank, inverter and the other chargers; None takes bank or inverter away."""

    def apply(locked: Design) -> str:
        before = circuits_wanted(locked)
        _only(locked, DesignBank, bank)
        _only(locked, DesignInverter, inverter)
        written = _write(locked, DesignSource, sources)
        added = propose_circuits(locked, before)
        return f"{written} chargers; {added} circuits added" if added else f"{written} chargers"

    return design_change(design, change, "power changed", apply)


def circuits_change(*, design: Design, rows: Sequence[Row], change: Change) -> SizingRun | None:
    """Set the rows of the circuit schedule."""
    return design_change(
        design, change, "circuits changed", lambda locked: f"{_write(locked, DesignCircuit, rows)} circuits"
    )


def circuits_propose(*, design: Design, change: Change) -> SizingRun | None:
    """Add the circuits the chosen parts need and the schedule lacks."""
    return design_change(
        design, change, "circuits proposed", lambda locked: f"{propose_circuits(locked)} circuits added"
    )


def proposals_take(*, design: Design, change: Change) -> SizingRun | None:
    """Write the engine's proposed sizes and devices into the rows that were left blank."""

    def apply(locked: Design) -> str:
        run = latest_run(locked)
        if run is None:
            raise DesignRefused("There is no proposal yet: the design was not sized.")
        proposed = {row.id: row for row in result_of(run).circuits}
        taken = [
            _take(circuit, proposed[circuit.label])
            for circuit in locked.circuits.all()
            if circuit.label in proposed
        ]
        return f"{sum(taken)} circuits"

    return design_change(design, change, "proposals taken", apply)


def basis_change(*, design: Design, basis: Row, change: Change) -> SizingRun | None:
    """Set what the whole revision rests on: option, rule set, gear mass, note."""

    def apply(locked: Design) -> str:
        _set(locked, basis, {"option", "rule_set", "gear_mass_kg", "note"})
        return str(locked)

    return design_change(design, change, "design basis changed", apply)


def _take(circuit: DesignCircuit, row: Any) -> bool:
    """Fill what was blank in a circuit from its judged row; return whether anything was."""
    changed = False
    if row.is_proposed_size and row.size and not circuit.size:
        circuit.size, changed = row.size, True
    if row.is_proposed_fuse and row.fuse_a is not None and circuit.fuse_a is None:
        circuit.fuse_a, changed = row.fuse_a, True
        circuit.fuse_family = circuit.fuse_family or _family(circuit.kind, row.fuse_a)
        if circuit.kind == "C4" and circuit.fuse_distance_m is None:
            circuit.fuse_distance_m = circuit.run_len_m
    if changed:
        circuit.full_clean()
        circuit.save()
    return changed


def _family(kind: str, fuse_a: float) -> str:
    """Return a device family for a proposed fuse; none for the array device, whose volts decide."""
    if kind == "C2":
        return "gPV" if fuse_a <= 32 else ""
    if kind in {"C13", "C14"}:
        return ""
    return _FAMILIES.get(kind) or (_SMALL_FAMILY if fuse_a <= _SMALL_TO_A else _LARGE_FAMILY)


def _set(design: Design, values: Row, allowed: Iterable[str]) -> None:
    names = [name for name in allowed if name in values]
    for name in names:
        setattr(design, name, values[name])
    if names:
        design.full_clean()
        design.save(update_fields=names)


def _only(design: Design, model: type[models.Model], row: Row | None) -> None:
    """Set, change or take away the one bank or inverter."""
    found = model.objects.filter(design=design).first()  # type: ignore[attr-defined]
    if row is None:
        if found is not None:
            found.delete()
        return
    record = found or model(design=design)
    _fill(record, row)


def _write(design: Design, model: type[Any], rows: Iterable[Row], prepare: Any = None) -> int:
    """Make, change and delete the rows of one kind; return how many there are afterwards.

    Raise DesignRefused for a row of another design.
    """
    existing = {record.pk: record for record in model.objects.filter(design=design)}
    for row in sorted(rows, key=lambda one: not one.get("DELETE")):
        record = existing.get(row.get("id"))
        if row.get("id") is not None and record is None:
            raise DesignRefused("One of the rows is no longer in this design: open the form again.")
        if row.get("DELETE"):
            if record is not None:
                record.delete()
            continue
        record = record or model(design=design)
        if prepare is not None:
            prepare(record)
        _fill(record, row)
    return model.objects.filter(design=design).count()


def _fill(record: Any, row: Row) -> None:
    names = {field.name for field in record._meta.fields} - {"id", "design"}
    for name in names & row.keys():
        setattr(record, name, row[name])
    record.full_clean()
    record.save()


def _number(panel: DesignPanel, taken: set[int]) -> None:
    """Give a new panel the lowest free number."""
    if panel.pk is None:
        panel.number = next(number for number in range(1, len(taken) + 2) if number not in taken)
        taken.add(panel.number)


def wire_panels(design: Design, rows: Sequence[Row]) -> None:
    """Rewire all panels; strings are numbered from 1 in the order of the rows.

    A row without ``lead_bends_m`` keeps the bends its panels had as a string.
    """
    bends = _bends_by_panels(design)
    controllers = {one.label: one for one in design.controllers.all()}
    panels = {panel.number: panel for panel in design.panels.all()}
    strings = {string.number: string for string in design.strings.all()}
    design.panels.update(string=None, position_in_string=0)
    for number, row in enumerate(rows, start=1):
        if row["controller"] not in controllers:
            raise DesignRefused(f"String {number}: there is no controller {row['controller']}.")
        string = strings.pop(number, None) or DesignString(design=design, number=number)
        string.controller, string.fuse_a = controllers[row["controller"]], row.get("fuse_a")
        string.lead_bends_m = row.get("lead_bends_m", bends.get(frozenset(row["panels"]), []))
        string.full_clean()
        string.save()
        for position, panel_number in enumerate(row["panels"], start=1):
            if panel_number not in panels:
                raise DesignRefused(f"String {number}: panel {panel_number} is not there or is wired twice.")
            panel = panels.pop(panel_number)
            panel.string, panel.position_in_string = string, position
            panel.save(update_fields=["string", "position_in_string"])
    for string in strings.values():
        string.delete()


def _bends_by_panels(design: Design) -> dict[frozenset[int], list[Any]]:
    """Return the bends of each string's leads by the numbers of its panels."""
    members: dict[int, set[int]] = {}
    for panel in design.panels.all():
        if panel.string_id is not None:
            members.setdefault(panel.string_id, set()).add(panel.number)
    return {frozenset(members.get(one.pk, ())): one.lead_bends_m for one in design.strings.all()}
