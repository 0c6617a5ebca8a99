"""Knows how a roof that was moved about by hand is read, tried out in memory and stored as one change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db import transaction

from jobs.design.revision import Change, DesignRefused, circuits_wanted, design_change, propose_circuits
from jobs.design.string_plan import plan_words
from jobs.design.strings import wire_panels
from jobs.models import Design, DesignController, DesignPanel, DesignString, Job, Obstacle, Part, SizingRun
from jobs.roof.wires import take_drawn
from jobs.shop.refusals import number_within
from jobs.workspace import wire_path
from jobs.workspace.obstacles import NOT_SENT, RoofOfVehicle, read_things, save_roof, try_roof

MOST_PANELS: Final = 60
#: Name in the sent layout: field of the record, word, least, most, unit. Millimetres unless a count.
NUMBERS: Final = (
    ("x_mm", "From the rear", -1000.0, 16000.0, "mm"),
    ("y_mm", "From the right", -1000.0, 4000.0, "mm"),
    ("height_mm", "Above roof", 0.0, 600.0, "mm"),
    ("feet", "Feet", 0, 20, ""),
    ("fasteners", "Screws a foot", 0, 12, ""),
)


class LayoutRefused(DesignRefused):
    """A sent layout cannot be right; names panel, field, limit and unit."""


@dataclass(frozen=True, slots=True)
class PanelSpot:
    """One panel as the hand left it."""

    number: int
    part: Part
    x_m: float
    y_m: float
    is_turned: bool
    height_above_roof_m: float
    feet: int
    fasteners_per_foot: int
    box_is_far: bool = False

    @property
    def fields(self) -> dict[str, Any]:
        """Return the values by the name of the record's field."""
        names = (
            "part",
            "x_m",
            "y_m",
            "is_turned",
            "height_above_roof_m",
            "feet",
            "fasteners_per_foot",
            "box_is_far",
        )
        return {name: getattr(self, name) for name in names}


@dataclass(frozen=True, slots=True)
class RoofEdit:
    """All panels and strings of a revision as sent by the workspace.

    ``roof`` belongs to the survey, ``path`` is the wire; what was not sent stays as it is stored.
    """

    panels: tuple[PanelSpot, ...]
    strings: tuple[Mapping[str, Any], ...]
    roof: RoofOfVehicle = NOT_SENT
    path: wire_path.Path | None = None


def read_layout(data: Any, parts: Mapping[int, Part], controllers: Iterable[str]) -> RoofEdit:
    """Return a sent layout; raise LayoutRefused for anything that cannot be right."""
    if not isinstance(data, Mapping) or not isinstance(data.get("panels"), list):
        raise LayoutRefused("The layout cannot be read: it has no list of panels.")
    if len(data["panels"]) > MOST_PANELS:
        raise LayoutRefused(f"Panels: at most {MOST_PANELS} on one roof.")
    panels = tuple(_spot(row, parts) for row in data["panels"])
    numbers = [panel.number for panel in panels]
    if len(set(numbers)) != len(numbers):
        raise LayoutRefused("Panel number: each may occur once.")
    strings = data.get("strings", [])
    if not isinstance(strings, list):
        raise LayoutRefused("The layout cannot be read: its strings are no list.")
    labels = frozenset(controllers)
    things = read_things(data["obstacles"]) if "obstacles" in data else None
    path, gland = wire_path.read_path(data["path"], labels) if "path" in data else (None, None)
    roof = RoofOfVehicle(things, gland, has_gland=path is not None)
    return RoofEdit(panels, _strings(strings, frozenset(numbers), labels), roof, path)


def _spot(row: Any, parts: Mapping[int, Part]) -> PanelSpot:
    if not isinstance(row, Mapping):
        raise LayoutRefused("The layout cannot be read: a panel is no set of values.")
    number = _number(row.get("number"), "Panel number", 1, 999, "")
    name = f"Panel {number:.0f}"
    part = parts.get(row["part"]) if isinstance(row.get("part"), int) else None
    if part is None:
        raise LayoutRefused(f"{name}: its part is not in the catalogue, or has no data sheet.")
    got = {
        key: _number(row.get(key), f"{name}, {word}", low, high, unit)
        for key, word, low, high, unit in NUMBERS
    }
    return PanelSpot(
        number=int(number),
        part=part,
        x_m=round(got["x_mm"] / 1000, 4),
        y_m=round(got["y_mm"] / 1000, 4),
        is_turned=bool(row.get("turned")),
        height_above_roof_m=round(got["height_mm"] / 1000, 4),
        feet=int(got["feet"]),
        fasteners_per_foot=int(got["fasteners"]),
        box_is_far=bool(row.get("box_far")),
    )


def _number(value: Any, name: str, low: float, high: float, unit: str) -> float:
    return number_within(value, name, low, high, unit, refused=LayoutRefused, whole=not unit)


def _strings(
    rows: Sequence[Any], numbers: frozenset[int], controllers: frozenset[str]
) -> tuple[Mapping[str, Any], ...]:
    kept, wired = [], set()
    for place, row in enumerate(rows, start=1):
        if not isinstance(row, Mapping) or not isinstance(row.get("panels"), list):
            raise LayoutRefused(f"String {place}: it has no list of panels.")
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
            kept.append(
                {"controller": row["controller"], "panels": members, "fuse_a": fuse_a, "lead_bends_m": lead}
            )
    return tuple(kept)


@transaction.atomic
def layout_save(*, design: Design, edit: RoofEdit, change: Change) -> SizingRun | None:
    """Store the panels and strings of a revision as the hand left them; panels keep their numbers."""

    def apply(locked: Design) -> str:
        before, drawn = circuits_wanted(locked), wire_path.drawn_keys(locked)
        save_roof(design=locked, roof=edit.roof, actor=change.actor, at=change.at)
        stored = {panel.number: panel for panel in locked.panels.all()}
        for spot in edit.panels:
            panel = stored.pop(spot.number, None) or DesignPanel(design=locked, number=spot.number)
            for name, value in spot.fields.items():
                setattr(panel, name, value)
            panel.full_clean()
            panel.save()
        for panel in stored.values():
            panel.delete()
        wire_panels(locked, edit.strings)
        propose_circuits(locked, before)
        if edit.path is not None:
            wire_path.save_path(locked, edit.path)
        wire_path.schedule_follow(locked, drawn)
        return f"{len(edit.panels)} panels, {plan_words(locked)}"

    Job.objects.select_for_update().get(pk=design.job_id)  # before the design, as saving a survey does
    return design_change(design, change, "roof changed", apply)


def layout_try(design: Design, edit: RoofEdit) -> Design:
    """Put a layout on a design in memory only; nothing of it may be saved afterwards."""
    controllers: dict[str, DesignController] = {one.label: one for one in design.controllers.all()}
    strings, place_of = [], {}
    for number, row in enumerate(edit.strings, start=1):
        string = DesignString(
            pk=-number, design=design, number=number, fuse_a=row["fuse_a"],
            lead_bends_m=row["lead_bends_m"], controller=controllers[row["controller"]],
        )  # fmt: skip
        strings.append(string)
        place_of.update({panel: (string, place) for place, panel in enumerate(row["panels"], start=1)})
    panels = []
    for spot in edit.panels:
        string, place = place_of.get(spot.number, (None, 0))
        panel = DesignPanel(pk=-spot.number, design=design, number=spot.number, **spot.fields)
        panel.string, panel.position_in_string = string, place
        panels.append(panel)
    _keep(design, "panels", sorted(panels, key=lambda one: one.number), DesignPanel)
    _keep(design, "strings", strings, DesignString)
    things = try_roof(design, edit.roof)
    if things is not None:
        _keep(design.job.survey, "obstacles", list(things), Obstacle)
    if edit.path is not None:
        wire_path.put_path(design, edit.path, controllers.values())
    take_drawn(design)
    return design


def _keep(record: Any, name: str, rows: list[Any], model: type[Any]) -> None:
    """Let ``record.<name>.all()`` answer these rows, as if they had been read together."""
    answer = model.objects.all()
    answer._result_cache, answer._prefetch_done = rows, True
    record._prefetched_objects_cache[name] = answer
