"""Reads the obstacles of a layout that a page sent, tries them in memory, writes them to the survey.

They belong to the vehicle, not to one design: the survey changes for every revision that is not frozen. What
was accepted and what was computed before stays as it was and is shown as older than the survey.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from django.contrib.auth.models import User

from common.told import in_english
from jobs.design.revision import DesignRefused
from jobs.design.survey_saved import survey_save
from jobs.models import Design, Obstacle
from jobs.roof.read import surveyed_roof
from jobs.roof.state import Place, RoofObstacle, SurveyedRoof
from jobs.shop.refusals import number_within
from jobs.survey.changes import PartChanges, RowChanges
from jobs.survey.rows import OBSTACLES

MOST_OBSTACLES: Final = 60
#: Name in the sent layout: column of the record. Limits and words are those of the field sheet.
LENGTHS: Final = {
    "x_mm": "x_m",
    "y_mm": "y_m",
    "length_mm": "length_m",
    "width_mm": "width_m",
    "height_mm": "height_m",
    "open_mm": "height_open_m",
    "keep_out_mm": "keep_out_m",
}
_TICKS: Final = {"round": "is_round", "removed": "will_be_removed", "guess": "is_guess"}
_MAY_BE_BLANK: Final = frozenset({"open_mm"})
_FACTS: Final = {fact.name: fact for fact in OBSTACLES.facts}
#: Where a gland may lie, as on the field sheet. [mm]
GLAND_LIMITS: Final = (30_000.0, 5_000.0)

SentObstacle = Mapping[str, Any]
Point = tuple[float, float]


class RoofRefused(DesignRefused):
    """A sent roof cannot be right; names obstacle, field, limit and unit."""


@dataclass(frozen=True, slots=True)
class RoofOfVehicle:
    """What of a sent layout belongs to the survey; None means it was not sent and stays."""

    obstacles: tuple[SentObstacle, ...] | None = None
    gland: Point | None = None
    has_gland: bool = False  # whether the gland was sent at all


NOT_SENT: Final = RoofOfVehicle()


# --- reading ------------------------------------------------------------------------------------------------


def read_obstacles(rows: Any) -> tuple[SentObstacle, ...]:
    """Return the obstacles of a sent layout; raise RoofRefused for anything that cannot be right."""
    if not isinstance(rows, list) or len(rows) > MOST_OBSTACLES:
        raise RoofRefused(f"Things on the roof: a list of at most {MOST_OBSTACLES}.")
    obstacles = tuple(_obstacle(row) for row in rows)
    if len({obstacle["key"] for obstacle in obstacles}) != len(obstacles):
        raise RoofRefused("Things on the roof: one is listed twice.")
    return obstacles


def _obstacle(row: Any) -> SentObstacle:
    if not isinstance(row, Mapping) or row.get("kind") not in Obstacle.Kind.values:
        raise RoofRefused("Things on the roof: one has an unknown kind.")
    label = str(row.get("label", "")).strip()
    name = label or str(Obstacle.Kind(row["kind"]).label)
    if len(label) > 60:
        raise RoofRefused(f"{name[:20]}…, own name: must be at most 60 letters.")
    if row.get("swing", "") not in Obstacle.Swing.values:
        raise RoofRefused(f"{name}, opens: no such side.")
    return {
        "key": str(_key(row.get("key"))),
        "kind": row["kind"],
        "label": label,
        "swing": row.get("swing", ""),
        **{word: bool(row.get(word)) for word in _TICKS},
        **{word: _length(row.get(word), word, name) for word in LENGTHS},
    }


def _key(value: Any) -> uuid.UUID:
    try:
        return uuid.UUID(str(value))
    except ValueError:
        raise RoofRefused("Things on the roof: one has no key.") from None


def _length(value: Any, word: str, name: str) -> float | None:
    if value is None and word in _MAY_BE_BLANK:
        return None
    fact = _FACTS[LENGTHS[word]]
    low, high = ((limit or 0.0) * 1000 for limit in fact.possible)
    return mm_within(value, f"{name}, {fact.label.lower()}", low, high)


def mm_within(value: Any, name: str, low: float, high: float, unit: str = "mm") -> float:
    """Return a sent length to the tenth of a millimeter (or of ``unit``); raise RoofRefused outside."""
    return round(number_within(value, name, low, high, unit, refused=RoofRefused), 1)


def read_gland(value: Any) -> Point | None:
    """Return where the gland was put [mm], None where there is none; raise RoofRefused."""
    if value is None:
        return None
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        raise RoofRefused("Gland: must be a place on the roof.")
    along, across = GLAND_LIMITS
    return (
        mm_within(value[0], "Gland, from rear", 0.0, along),
        mm_within(value[1], "Gland, from right", 0.0, across),
    )


# --- what the workspace shows -------------------------------------------------------------------------------


def obstacle_json(obstacle: RoofObstacle) -> dict[str, Any]:
    """Return an obstacle in the shape the workspace sends back."""
    return {
        "key": obstacle.key,
        "kind": obstacle.kind,
        "label": obstacle.label,
        "swing": obstacle.swing,
        **{word: getattr(obstacle, column) for word, column in _TICKS.items()},
        **{word: _mm(getattr(obstacle, column)) for word, column in LENGTHS.items()},
    }


def obstacles_json(surveyed: SurveyedRoof) -> list[dict[str, Any]]:
    """Return all obstacles of a survey, in the order of their keys, which every device agrees on."""
    return sorted((obstacle_json(obstacle) for obstacle in surveyed.obstacles), key=lambda one: one["key"])


def gland_state(surveyed: SurveyedRoof) -> list[float] | None:
    """Return where the gland lies [mm]."""
    return None if surveyed.gland is None else [round(one * 1000, 1) for one in surveyed.gland]


def _mm(value_m: float | None) -> float | None:
    return None if value_m is None else round(value_m * 1000, 1)


# --- trying and storing -------------------------------------------------------------------------------------


def try_roof(surveyed: SurveyedRoof, sent: RoofOfVehicle) -> SurveyedRoof:
    """Return a surveyed roof with the gland and the obstacles that were sent in place of its own."""
    if sent.has_gland:
        surveyed = replace(surveyed, gland=_in_metres(sent.gland))
    if sent.obstacles is None:
        return surveyed
    stored = {obstacle.key: obstacle for obstacle in surveyed.obstacles}
    return replace(surveyed, obstacles=tuple(_tried(one, stored.get(one["key"])) for one in sent.obstacles))


def _tried(sent: SentObstacle, stored: RoofObstacle | None) -> RoofObstacle:
    """Return a sent obstacle; as stored where it differs by less than what is sent can tell."""
    if stored is not None and obstacle_json(stored) == sent:
        return stored
    return RoofObstacle(pk=None if stored is None else stored.pk, key=sent["key"], **_columns(sent))


def _columns(obstacle: SentObstacle) -> dict[str, Any]:
    lengths = {
        column: None if obstacle[word] is None else round(obstacle[word] / 1000, 4)
        for word, column in LENGTHS.items()
    }
    ticks = {column: obstacle[word] for word, column in _TICKS.items()}
    return {
        "kind": obstacle["kind"],
        "label": obstacle["label"],
        "swing": obstacle["swing"],
        **lengths,
        **ticks,
    }


def _in_metres(point: Point | None) -> Place | None:
    return None if point is None else (round(point[0] / 1000, 4), round(point[1] / 1000, 4))


@in_english
def save_roof(*, design: Design, roof: RoofOfVehicle, actor: User, at: datetime) -> None:
    """Write to the survey what was changed of it, and nothing where nothing was."""
    changes = _changes(surveyed_roof(design.job.survey), roof)
    if changes is not None:
        survey_save(
            survey=design.job.survey,
            part_title="Roof by hand",
            changes=changes,
            actor=actor,
            at=at,
            made_in=design,
        )


def _changes(surveyed: SurveyedRoof, roof: RoofOfVehicle) -> PartChanges | None:
    facts: dict[str, Any] = {}
    sent = None if roof.gland is None else list(roof.gland)
    if roof.has_gland and sent != gland_state(surveyed):
        facts["gland_x_m"], facts["gland_y_m"] = _in_metres(roof.gland) or (None, None)
    rows = _row_changes(surveyed, roof.obstacles)
    if not facts and rows is None:
        return None
    return PartChanges(
        survey=facts,
        rows={} if rows is None else {"obstacles": rows},
        absent={"obstacle": False} if roof.obstacles else {},
        labels=("gland",) if facts else (),
    )


def _row_changes(surveyed: SurveyedRoof, obstacles: tuple[SentObstacle, ...] | None) -> RowChanges | None:
    """Return which obstacles to write and which to take away; None where all are as stored."""
    if obstacles is None:
        return None
    stored = {obstacle.key: obstacle for obstacle in surveyed.obstacles}
    gone = tuple(uuid.UUID(key) for key in stored.keys() - {obstacle["key"] for obstacle in obstacles})
    write = tuple(
        (uuid.UUID(obstacle["key"]), _changed(obstacle, stored.get(obstacle["key"])))
        for obstacle in obstacles
        if obstacle["key"] not in stored or obstacle_json(stored[obstacle["key"]]) != obstacle
    )
    return RowChanges(write=write, remove=gone) if write or gone else None


def _changed(obstacle: SentObstacle, stored: RoofObstacle | None) -> dict[str, Any]:
    """Return the columns that were changed; a length typed to a finer step than a tenth of a mm stays."""
    columns = _columns(obstacle)
    if stored is None:
        return columns
    before = _columns(obstacle_json(stored))
    return {name: value for name, value in columns.items() if before[name] != value}
