"""Reads a layout that a page sent, tries it in memory and stores it as one change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any, Final

from django.db import transaction

from common.told import in_english
from jobs.design.panel_places import panel_places, refuse_beside
from jobs.design.revision import Change, DesignRefused, circuits_wanted, design_change, propose_circuits
from jobs.design.string_plan import plan_words, string_rows
from jobs.design.strings import wire_panels
from jobs.engine.state import DesignState
from jobs.models import Design, DesignPanel, Job, SizingRun
from jobs.parts.panel_model import PanelModel
from jobs.roof.bounds import MOST_PANELS, REAR_MM, RIGHT_MM
from jobs.roof.state import Place, RoofPanel, RoofString
from jobs.roof.wires import drawn_runs, off_the_drawing
from jobs.shop.refusals import number_within
from jobs.workspace import wire_path
from jobs.workspace.obstacles import NOT_SENT, RoofOfVehicle, read_obstacles, save_roof, try_roof

#: Name in the sent layout, word, least, most, unit. Millimeters unless a count.
NUMBERS: Final = (
    ("x_mm", "From the rear", *REAR_MM, "mm"),
    ("y_mm", "From the right", *RIGHT_MM, "mm"),
    ("height_mm", "Above roof", 0.0, 600.0, "mm"),
    ("feet", "Feet", 0, 20, ""),
    ("fasteners", "Screws per foot", 0, 12, ""),
)


#: Where each of these numbers is stored, and how many of them are one of its unit.
_STORED: Final = {
    "x_mm": ("x_m", 1000.0),
    "y_mm": ("y_m", 1000.0),
    "height_mm": ("height_above_roof_m", 1000.0),
    "feet": ("feet", 1.0),
    "fasteners": ("fasteners_per_foot", 1.0),
}
#: Columns of a panel's record that a layout sets, beside its part.
_COLUMNS: Final = (
    "x_m",
    "y_m",
    "is_turned",
    "box_is_far",
    "height_above_roof_m",
    "feet",
    "fasteners_per_foot",
)


class LayoutRefused(DesignRefused):
    """A sent layout cannot be right; names panel, field, limit and unit."""


@dataclass(frozen=True, slots=True)
class SentString:
    """Panels in series as sent, by their numbers in the order they are wired."""

    controller: str
    panels: tuple[int, ...]
    fuse_a: float | None = None
    lead_bends_m: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class RoofEdit:
    """All panels and strings of a revision as sent by the workspace.

    ``roof`` belongs to the survey, ``path`` is the wire; what was not sent stays as it is stored.
    """

    panels: tuple[RoofPanel, ...]  # in no string yet
    strings: tuple[SentString, ...]
    roof: RoofOfVehicle = NOT_SENT
    path: wire_path.Path | None = None


def read_layout(
    data: Any,
    models: Mapping[int, PanelModel],
    controllers: Iterable[str],
    stored: Iterable[RoofPanel | DesignPanel] = (),
) -> RoofEdit:
    """Return a sent layout; raise LayoutRefused for anything that cannot be right.

    What came back as it is ``stored`` is taken, whatever it is: older data can be opened and mended.
    """
    known = {panel.number: panel for panel in stored}
    if not isinstance(data, Mapping) or not isinstance(data.get("panels"), list):
        raise LayoutRefused(
            "The roof could not be saved: its panels are missing. Reload the page and try again."
        )
    if len(data["panels"]) > max(MOST_PANELS, len(known)):
        raise LayoutRefused(f"Panels: at most {MOST_PANELS} on one roof.")
    panels = tuple(_panel(row, models, known) for row in data["panels"])
    numbers = [panel.number for panel in panels]
    if len(set(numbers)) != len(numbers):
        raise LayoutRefused("Panel number: each number can be used only once.")
    strings = data.get("strings", [])
    if not isinstance(strings, list):
        raise LayoutRefused(
            "The roof could not be saved: its strings are missing. Reload the page and try again."
        )
    labels = frozenset(controllers)
    obstacles = read_obstacles(data["obstacles"]) if "obstacles" in data else None
    path, gland = wire_path.read_path(data["path"], labels) if "path" in data else (None, None)
    roof = RoofOfVehicle(obstacles, gland, has_gland=path is not None)
    return RoofEdit(panels, _strings(strings, frozenset(numbers), labels), roof, path)


def _panel(
    row: Any, models: Mapping[int, PanelModel], known: Mapping[int, RoofPanel | DesignPanel]
) -> RoofPanel:
    if not isinstance(row, Mapping):
        raise LayoutRefused(
            "The roof could not be saved: a panel's values are missing. Reload the page and try again."
        )
    number = _number(row.get("number"), "Panel number", 1, 999, "")
    name = f"Panel {number:.0f}"
    model = models.get(row["part"]) if isinstance(row.get("part"), int) else None
    if model is None:
        raise LayoutRefused(f"{name}: its part is not in the catalog, or has no data sheet.")
    got = {
        key: _number(row.get(key), f"{name}, {word}", low, high, unit)
        if (kept := _as_stored(row.get(key), known.get(int(number)), key)) is None
        else kept
        for key, word, low, high, unit in NUMBERS
    }
    return RoofPanel(
        number=int(number),
        model=model,
        x_m=round(got["x_mm"] / 1000, 4),
        y_m=round(got["y_mm"] / 1000, 4),
        is_turned=bool(row.get("turned")),
        height_above_roof_m=round(got["height_mm"] / 1000, 4),
        feet=int(got["feet"]),
        fasteners_per_foot=int(got["fasteners"]),
        box_is_far=bool(row.get("box_far")),
    )


def _as_stored(value: Any, panel: RoofPanel | DesignPanel | None, key: str) -> float | None:
    """Return a number that came back as it is stored; None for one that somebody changed."""
    column, per_unit = _STORED[key]
    if panel is None or isinstance(value, bool) or not isinstance(value, int | float):
        return None
    kept = float(getattr(panel, column)) * per_unit
    return kept if abs(value - kept) <= 0.05 else None


def _number(value: Any, name: str, low: float, high: float, unit: str) -> float:
    return number_within(value, name, low, high, unit, refused=LayoutRefused, whole=not unit)


def _strings(
    rows: Sequence[Any], numbers: frozenset[int], controllers: frozenset[str]
) -> tuple[SentString, ...]:
    kept: list[SentString] = []
    wired: set[int] = set()
    for place, row in enumerate(rows, start=1):
        if not isinstance(row, Mapping) or not isinstance(row.get("panels"), list):
            raise LayoutRefused(f"String {place}: its panels are missing.")
        members = row["panels"]
        if row.get("controller") not in controllers:
            raise LayoutRefused(f"String {place}: there is no controller {row.get('controller')}.")
        if any(not isinstance(one, int) or one not in numbers or one in wired for one in members):
            raise LayoutRefused(f"String {place}: a panel is not on the roof or is wired twice.")
        if len(set(members)) != len(members):
            raise LayoutRefused(f"String {place}: a panel is wired twice.")
        wired.update(members)
        fuse_a = row.get("fuse_a")
        if fuse_a is not None:
            fuse_a = _number(fuse_a, f"String {place}, fuse", 0.0, 1000.0, "A")
        bends = wire_path.read_bends(row.get("lead"), f"String {place}, leads")
        if members:
            lead = wire_path.bends_in_metres(bends)
            kept.append(SentString(row["controller"], tuple(members), fuse_a, lead))
    return tuple(kept)


@in_english
@transaction.atomic
def layout_save(*, design: Design, edit: RoofEdit, change: Change) -> SizingRun | None:
    """Store the panels and strings of a revision as they were laid; panels keep their numbers.

    Raise DesignRefused where one would lie wholly beside the roof.
    """

    def apply(locked: Design) -> str:
        places = panel_places(locked)
        before, drawn = circuits_wanted(locked), wire_path.drawn_keys(locked)
        save_roof(design=locked, roof=edit.roof, actor=change.actor, at=change.at)
        stored = {panel.number: panel for panel in locked.panels.all()}
        for spot in edit.panels:
            panel = stored.pop(spot.number, None) or DesignPanel(design=locked, number=spot.number)
            if panel.part_id != spot.model.part_id:
                panel.part_id, panel.existing = spot.model.part_id, None
            for name in _COLUMNS:
                setattr(panel, name, getattr(spot, name))
            panel.full_clean()
            panel.save()
        for panel in stored.values():
            panel.delete()
        refuse_beside(locked, places)
        wire_panels(locked, [_row(string) for string in edit.strings])
        propose_circuits(locked, before)
        if edit.path is not None:
            wire_path.save_path(locked, edit.path)
        wire_path.schedule_follow(locked, drawn)
        return f"{len(edit.panels)} panels, {plan_words(string_rows(locked))}"

    Job.objects.select_for_update().get(pk=design.job_id)  # before the design, as saving a survey does
    return design_change(design, change, "roof changed", apply)


def _row(string: SentString) -> dict[str, Any]:
    """Return a string as the rows of the string plan are written, lists for tuples as JSON has them."""
    return {**asdict(string), "lead_bends_m": [list(place) for place in string.lead_bends_m]}


def layout_try(design: DesignState, edit: RoofEdit) -> DesignState:
    """Return a design with a sent layout on its roof; circuits that are drawn get their new lengths."""
    strings = tuple(
        RoofString(number, one.controller, one.fuse_a, one.lead_bends_m)
        for number, one in enumerate(edit.strings, start=1)
    )
    roof = replace(
        design.roof,
        surveyed=try_roof(design.roof.surveyed, edit.roof),
        panels=tuple(sorted(_wired(edit, design.roof.panels), key=lambda one: one.number)),
        strings=strings,
    )
    if edit.path is not None:
        roof = wire_path.with_path(roof, edit.path)
    return _with_drawn_lengths(replace(design, roof=roof))


def _wired(edit: RoofEdit, stored: Iterable[RoofPanel]) -> Iterable[RoofPanel]:
    """Yield the sent panels in their strings; what the survey knows of a used one stays with its number."""
    used = {(one.number, one.model.part_id): one.used for one in stored}
    wired = {
        panel: (number, string.controller, place)
        for number, string in enumerate(edit.strings, start=1)
        for place, panel in enumerate(string.panels, start=1)
    }
    for panel in edit.panels:
        string, controller, place = wired.get(panel.number, (None, "", 0))
        known = used.get((panel.number, panel.model.part_id))
        yield replace(panel, string=string, controller=controller, place=place, used=known)


def _with_drawn_lengths(design: DesignState) -> DesignState:
    runs = drawn_runs(design.roof, design.inside)
    known = {one.label: run for one, run in off_the_drawing(design.system.circuits, runs)}
    if not known:
        return design
    circuits = tuple(
        replace(one, run_len_m=known[one.label].run_len_m, confidence=known[one.label].confidence)
        if one.label in known
        else one
        for one in design.system.circuits
    )
    return replace(design, system=replace(design.system, circuits=circuits))
