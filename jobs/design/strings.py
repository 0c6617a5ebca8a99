"""Changes the controllers and strings of a draft design."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from common.told import in_english
from jobs.design.revision import Change, DesignRefused, circuits_wanted, design_change, propose_circuits
from jobs.design.rows import Row, set_fields, write_rows
from jobs.design.string_plan import plan_words, string_rows
from jobs.models import (
    Design,
    DesignController,
    DesignString,
    SizingRun,
)


@in_english
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
        set_fields(locked, plugs or {}, {"has_branch_plugs", "branch_plug_rating_a", "string_fuse_voltage_v"})
        keep = [row for row in controllers if not row.get("DELETE")]
        write_rows(locked, DesignController, keep)
        wire_panels(locked, [row for row in strings if not row.get("DELETE") and row["panels"]])
        write_rows(locked, DesignController, [row for row in controllers if row.get("DELETE")])
        propose_circuits(locked, before)
        return plan_words(string_rows(locked))

    return design_change(design, change, "strings changed", apply)


@in_english
def plan_take(*, design: Design, strings: Sequence[Row], change: Change) -> SizingRun | None:
    """Wire all panels by a plan; controllers stay as they are."""

    def apply(locked: Design) -> str:
        wire_panels(locked, strings)
        return plan_words(string_rows(locked))

    return design_change(design, change, "strings changed", apply)


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
