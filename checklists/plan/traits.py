"""What the templates say of a step beyond what is asked there: what it opens, who it counts from, its safety.

These are not stored with a job: they are read from the version it was opened with, by the code of the step.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from checklists.plan.templates import templates

#: Why a step may not apply, with the words people read.
REASONS: Final[Mapping[str, str]] = {
    "none_aboard": "none aboard",
    "not_in_work": "not in this work",
    "maker_forbids": "the maker forbids it",
    "no_sun": "no sun today, visit booked",
    "no_shore": "no shore power here",
    "other": "another reason",
}


#: What a reason asks for beside itself: name, kind and label of the field, with more of its form.
_PROOFS: Final[Mapping[str, Mapping[str, Any]]] = {
    "other": {"name": "why", "kind": "text", "label": "Why it does not apply", "max_length": 200},
    "maker_forbids": {"name": "photo", "kind": "photo", "label": "What the maker says", "count": 1},
    "no_sun": {"name": "visit", "kind": "text", "label": "Visit booked for", "format": "date"},
}


@dataclass(frozen=True, slots=True)
class Traits:
    """What one code of a version is, in the scope of one job."""

    opens: tuple[str, ...] = ()  # roles of phases and steps that stay locked until this step is through
    is_live: bool = False  # locked until every hold before the first switching on has passed
    is_licensed: bool = False  # counts only from the licensed person
    safety: tuple[str, ...] = ()  # the lines that stand on the step: those of its phase, then its own
    na: tuple[str, ...] = ()  # the reasons for which it may not apply
    na_needs_lead: bool = False


PLAIN: Final = Traits()
_GO: Final = "go"


@functools.lru_cache(maxsize=256)
def traits_of(version: str, scopes: frozenset[str]) -> Mapping[str, Traits]:
    """Return the traits of every code of a version, for a job with these switches on."""
    data = templates(version)
    lines = {row["letter"]: row["safety"] for row in data["phases"]}
    rows: dict[str, list[Mapping[str, Any]]] = {}
    for row in data["steps"]:
        rows.setdefault(row["code"], []).append(row)
    found = {}
    for code, own in rows.items():
        here = [row for row in own if scopes & set(row["scopes"])]
        found[code] = _traits(here or own, lines[code[0]], data, scopes)
        if own[0]["role"] == _GO:  # what is switched on next: said again before it is
            live = [row for row in data["steps"] if row.get("live") and scopes & set(row["scopes"])]
            kinds = dict.fromkeys(kind for row in live for kind in lines[row["code"][0]])
            again = safety_lines(data["safety"], kinds)
            found[code] = replace(found[code], safety=tuple(dict.fromkeys((*found[code].safety, *again))))
    return found


def reasons() -> tuple[str, ...]:
    """Return every reason for which a step may not apply."""
    return tuple(REASONS)


def not_here_fields(reasons: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return the fields by which a step may say that it does not apply; none where it always does."""
    if not reasons:
        return []
    choices = [[reason, REASONS[reason]] for reason in reasons]
    first = {"name": "not_here", "kind": "choice", "label": "Does not apply", "choices": choices}
    proofs = [
        {**_PROOFS[reason], "name": f"not_here_{_PROOFS[reason]['name']}"}
        | {"required_if": {"field": "not_here", "is": reason}}
        for reason in reasons
        if reason in _PROOFS
    ]
    return [row | {"required": False} for row in (first, *proofs)]


def _traits(
    rows: list[Mapping[str, Any]], of_phase: list[str], data: Mapping[str, Any], scopes: frozenset[str]
) -> Traits:
    own = [kind for row in rows for kind in row.get("safety", ())]
    return Traits(
        opens=tuple(dict.fromkeys(role for row in rows for role in row.get("opens", ()))),
        is_live=any(_is_on(row.get("live"), scopes) for row in rows),
        is_licensed=any(_is_on(row.get("licensed"), scopes) for row in rows),
        safety=tuple(safety_lines(data["safety"], dict.fromkeys((*of_phase, *own)))),
        na=tuple(_reasons(rows, data)),
        na_needs_lead=any(_leaves_by_lead(row, scopes) for row in rows),
    )


def _leaves_by_lead(row: Mapping[str, Any], scopes: frozenset[str]) -> bool:
    """Return whether only a lead may say that a step does not apply: live, strict or opening other work."""
    is_strict = row.get("waivable") is False
    return is_strict or bool(row.get("opens")) or _is_on(row.get("live"), scopes) or bool(row.get("na_lead"))


def _is_on(value: bool | list[str] | None, scopes: frozenset[str]) -> bool:
    """Return whether a trait holds: always, or for a job with one of the switches named."""
    return bool(scopes & set(value)) if isinstance(value, list) else bool(value)


def safety_lines(texts: Mapping[str, str | list[str]], kinds: Iterable[str]) -> Iterator[str]:
    """Yield safety lines; the first version keeps a list under each name, later ones a text."""
    for kind in kinds:
        text = texts[kind]
        yield from [text] if isinstance(text, str) else text


def _reasons(rows: list[Mapping[str, Any]], data: Mapping[str, Any]) -> Iterator[str]:
    """Yield the reasons for which a step may not apply: no hold, and nobody lets a strict step pass."""
    if not data.get("may_not_apply") or any(row.get("hold") for row in rows):
        return
    is_strict = any(row.get("waivable") is False for row in rows)
    for row in rows:
        if "na" in row:
            yield from row["na"]
            return
    yield from ("none_aboard",) if is_strict else REASONS
