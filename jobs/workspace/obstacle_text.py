"""Words the obstacles of a roof for the workspace: what may be chosen, and how two roofs differ in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from common import units as trade
from jobs.models import Obstacle, Survey
from jobs.survey import defaults
from jobs.survey.read import is_accepted, is_closed
from jobs.survey.rows import OBSTACLES
from jobs.workspace.obstacles import LENGTHS

#: Ticks of an obstacle, in words.
TICKS: Final = (
    ("round", "Round"),
    ("removed", "Removed in this job"),
    ("guess", "Size is a guess"),
)
_FACTS: Final = {fact.name: fact for fact in OBSTACLES.facts}


def obstacle_kinds(units: str) -> list[dict[str, Any]]:
    """Return every kind of obstacle with its usual size [mm] and what to mind; None where none is usual."""
    return [_kind(value, str(words), units) for value, words in Obstacle.Kind.choices]


def _kind(kind: str, words: str, units: str) -> dict[str, Any]:
    usual = defaults.obstacle_usual(kind, units)
    sizes = {word: usual.get(column) for word, column in LENGTHS.items() if word not in {"x_mm", "y_mm"}}
    return {
        "kind": kind,
        "name": words,
        "round": bool(usual.get("is_round", False)),
        "note": usual.get("note", ""),
        **{word: None if value is None else round(value * 1000, 1) for word, value in sizes.items()},
    }


def obstacle_limits() -> dict[str, list[Any]]:
    """Return for each length its least, most [mm], words, and whether it may be blank: the field sheet's."""
    return {
        word: [
            *((limit or 0.0) * 1000 for limit in _FACTS[column].possible),
            _FACTS[column].label,
            "length",
            word == "open_mm",
        ]
        for word, column in LENGTHS.items()
    }


def locked_words(survey: Survey) -> str:
    """Return why obstacles may not be changed any more; blank while they may."""
    if is_closed(survey):
        return (
            f"This job is “{survey.job.get_state_display()}”: its survey stays as it was, and so do"
            " the things on the roof."
        )
    return ""


def belong_words(survey: Survey) -> str:
    """Return whose the obstacles are and what changing them does."""
    locked = locked_words(survey)
    if locked:
        return locked
    words = (
        "These belong to the vehicle's survey: a change here holds for every revision of this job."
        " Drafts are sized again; frozen revisions, sent quotes and stored results stay as they"
        " were and are marked as older."
    )
    return (
        f"{words} A quote was accepted: the plan it was accepted with stays."
        if is_accepted(survey)
        else words
    )


def obstacle_differences(mine: Mapping[str, Any], theirs: Mapping[str, Any], units: str) -> list[str]:
    """Return in plain sentences where the obstacles on two roofs and their wire differ."""
    if "obstacles" not in mine:
        return []
    my = {row["key"]: row for row in mine["obstacles"]}
    sentences = []
    for row in theirs["obstacles"]:
        own = my.pop(row["key"], None)
        if own is None:
            sentences.append(f"{_name(row)} is on their roof, not on yours.")
        elif own != row:
            sentences.append(_how(own, row, units))
    return [*sentences, *(f"{_name(row)} is on your roof, not on theirs." for row in my.values())]


def _how(mine: Mapping[str, Any], theirs: Mapping[str, Any], units: str) -> str:
    places = [_place(row, units) for row in (theirs, mine)]
    if places[0] != places[1]:
        return f"{_name(theirs)}: theirs {places[0]}; yours {places[1]}."
    return f"{_name(theirs)} differs in its kind, size, height or clearance."


def _place(row: Mapping[str, Any], units: str) -> str:
    rear, right = (trade.show(row[axis] / 1000, "m", units) for axis in ("x_mm", "y_mm"))
    return f"{rear} from the rear, {right} from the right"


def _name(row: Mapping[str, Any]) -> str:
    return str(row["label"] or Obstacle.Kind(row["kind"]).label)
