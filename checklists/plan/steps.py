"""Turns the step templates into the steps of one job: scope, subjects, planned values.

The templates are data (``data/steps/<version>.json``). Everything a template says about the plan in words
("the panel's feet", "the coldest voltage of this controller") is turned into plain values here, once, when
the checklist is opened: later edits of the plan do not move what the technician was asked for.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from checklists.plan.roles import PhaseRole
from checklists.plan.templates import templates
from checklists.plan.traits import not_here_fields, safety_lines, traits_of

#: Group of subjects named by ``per`` → (word in the step's subject, group the planned values are read from).
SUBJECTS: Final[Mapping[str, tuple[str, str]]] = {
    "panel": ("panel", "panel"),
    "gland": ("gland", "gland"),
    "string": ("string", "string"),
    "controller": ("controller", "controller"),
    "battery": ("battery", "battery"),
    "joint": ("joint", "joint"),
    "dc_joint": ("joint", "joint"),
    "pv_joint": ("joint", "joint"),
    "source": ("source", "source"),
    "dc_dc": ("source", "source"),
    "run": ("circuit", "circuit"),
    "roof_run": ("circuit", "circuit"),
    "inside_run": ("circuit", "circuit"),
    "protected": ("circuit", "circuit"),
    "main_fuse": ("circuit", "circuit"),
    "inverter_run": ("circuit", "circuit"),
    "dc_dc_run": ("circuit", "circuit"),
}


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of the work."""

    letter: str
    role: PhaseRole
    title: str
    place: str
    planned_h: float
    safety: tuple[str, ...]

    @property
    def is_inside(self) -> bool:
        """Return whether the work is inside the vehicle, so that a locked roof does not stop it."""
        return self.place == "inside"


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step of one job, ready to be stored."""

    code: str
    subject: str
    title: str
    instruction: str
    fields: list[dict[str, Any]]
    card: list[dict[str, str]]
    is_hold: bool
    needs_lead: bool
    is_in_scope: bool
    can_be_overridden: bool

    @property
    def phase(self) -> str:
        """Return the letter of the phase."""
        return self.code[0]

    @property
    def re_runs(self) -> list[str]:
        """Return the as-built values this step changes."""
        return sorted({spec["feeds"] for spec in self.fields if spec.get("feeds")})


@functools.cache
def phases(version: str) -> Mapping[str, Phase]:
    """Return the phases of a version in their order, by letter."""
    data = templates(version)
    lines = data["safety"]
    return {
        row["letter"]: Phase(
            letter=row["letter"],
            role=PhaseRole(row["role"]),
            title=row["title"],
            place=row["place"],
            planned_h=row["planned_h"],
            safety=tuple(safety_lines(lines, row["safety"])),
        )
        for row in data["phases"]
    }


def planned_steps(facts: Mapping[str, Any], version: str) -> list[PlannedStep]:
    """Return the steps of a job as a version asks them; one out of scope stays as a row that says so."""
    scopes = set(facts["scopes"])
    steps: list[PlannedStep] = []
    placed: set[str] = set()
    rows = templates(version)["steps"]
    traits = traits_of(version, frozenset(scopes))
    for template in rows:
        found = list(_in_scope(template, facts, scopes, traits[template["code"]].na))
        steps += found
        placed |= {step.code for step in found}
    for template in rows:
        if template["code"] not in placed:
            steps.append(_step(template, facts, "", "", is_in_scope=False))
            placed.add(template["code"])
    steps.sort(key=_position)
    if templates(version).get("safety_ticks"):
        _add_safety(steps, version)
    return steps


def _in_scope(
    template: Mapping[str, Any], facts: Mapping[str, Any], scopes: set[str], reasons: tuple[str, ...]
) -> Iterator[PlannedStep]:
    if not scopes & set(template["scopes"]):
        return
    per = template.get("per")
    if per is None:
        yield _step(template, facts, "", "", is_in_scope=True, reasons=reasons)
        return
    for name in facts.get("subjects", {}).get(per, ()):
        yield _step(template, facts, per, str(name), is_in_scope=True, reasons=reasons)


def _step(
    template: Mapping[str, Any],
    facts: Mapping[str, Any],
    per: str,
    name: str,
    *,
    is_in_scope: bool,
    reasons: tuple[str, ...] = (),
) -> PlannedStep:
    word, group = SUBJECTS.get(per, ("", ""))
    own = facts.get(group, {}).get(name, {}) if per else {}
    title = template["title"]
    if own.get("title"):
        title = f"{title}: {own['title']}"
    return PlannedStep(
        code=template["code"],
        subject=f"{word}:{name}" if per else "",
        title=title[:160],
        instruction=template.get("instruction", ""),
        fields=[*_fields(template, facts, own, name), *not_here_fields(reasons)] if is_in_scope else [],
        card=list(_card(template, own)),
        is_hold=template.get("hold", False),
        needs_lead=template.get("needs_lead", False),
        is_in_scope=is_in_scope,
        can_be_overridden=template.get("waivable", True),
    )


def _card(template: Mapping[str, Any], own: Mapping[str, Any]) -> Iterator[dict[str, str]]:
    """Yield the lines of the reading card; one that says a planned value is left out where there is none."""
    for row in template.get("card", []):
        says = own.get(row["says_fact"]) if "says_fact" in row else row["says"]
        if says:
            yield {"when": row["when"], "says": says}


def _fields(
    template: Mapping[str, Any], facts: Mapping[str, Any], own: Mapping[str, Any], name: str
) -> list[dict[str, Any]]:
    scopes = set(facts["scopes"])
    return [
        _resolved(field, facts, own, name)
        for field in template["fields"]
        if (not field.get("scopes") or scopes & set(field["scopes"]))
        and facts.get(field.get("unless_fact")) is None
    ]


def _resolved(
    field: Mapping[str, Any], facts: Mapping[str, Any], own: Mapping[str, Any], name: str
) -> dict[str, Any]:
    """Return the field with every word about the plan replaced by the planned value."""
    out = {key: value for key, value in field.items() if key not in _WORDS}
    out |= {"expected": field["expected_is"]} if "expected_is" in field else {}

    def fact(path: str) -> Any:
        head, _, tail = path.rpartition(".")
        if not head:
            return facts.get(tail)
        return own.get(tail) if head in _GROUPS else facts.get(head, {}).get(tail)

    if "expected" in field:
        out["expected"] = fact(field["expected"])
        _tolerate(out, field)
    if "tick" in field:
        out["tick"] = own.get(field["tick"], facts.get(field["tick"]))
    for bound in ("low", "high"):
        if f"{bound}_fact" in field:
            out[bound] = fact(field[f"{bound}_fact"])
    if field.get("band_fact"):
        out["low"], out["high"] = own.get("low"), own.get("high")
    if field.get("scale_by_system_voltage"):
        _scale(out, facts["v_nominal_v"] / 12)
    if "accept_fact" in field:
        out["accept"] = fact(field["accept_fact"]) or []
    if "required_fact" in field:
        out["required"] = bool(fact(field["required_fact"]))
    if "required_scopes" in field:
        out["required"] = bool(set(field["required_scopes"]) & set(facts["scopes"]))
    if "choices_from" in field:
        out["choices"] = facts["choices"][field["choices_from"]]
    if "feeds" in field:
        out["feeds"] = field["feeds"].format(subject=name)
    return _known(out)


def _known(field: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is known of a field: where it has a limit, nothing is left for a lead to decide."""
    out = {key: value for key, value in field.items() if value is not None}
    if "undecided" in out and ("low" in out or "high" in out):
        out = {
            key: value for key, value in out.items() if key != "undecided" and not key.startswith("excused")
        }
    return out


_WORDS: Final = frozenset(
    {
        "expected",
        "expected_is",
        "tolerance",
        "tolerance_fraction",
        "tick",
        "low_fact",
        "high_fact",
        "band_fact",
        "scale_by_system_voltage",
        "accept_fact",
        "required_fact",
        "required_scopes",
        "choices_from",
        "scopes",
        "feeds",
        "unless_fact",
    }
)
_GROUPS: Final = frozenset(group for _, group in SUBJECTS.values())


def _tolerate(out: dict[str, Any], field: Mapping[str, Any]) -> None:
    """Turn a planned value and its tolerance into an acceptance band."""
    planned = out["expected"]
    if not isinstance(planned, int | float) or isinstance(planned, bool):
        return
    width = field.get("tolerance")
    if width is None and "tolerance_fraction" in field:
        width = abs(planned) * field["tolerance_fraction"]
    if width is not None:
        out["low"], out["high"] = planned - width, planned + width


def _scale(out: dict[str, Any], factor: float) -> None:
    for bound in ("low", "high"):
        if bound in out:
            out[bound] = out[bound] * factor


def _add_safety(steps: list[PlannedStep], version: str) -> None:
    """Put the safety lines of a phase, to be ticked, at its first step in scope."""
    seen: set[str] = set()
    for step in steps:
        if not step.is_in_scope or step.phase in seen:
            continue
        seen.add(step.phase)
        if phases(version)[step.phase].safety:
            step.fields.insert(
                0, {"name": "safety", "kind": "tick", "label": "Safety lines above read and kept"}
            )


def _position(step: PlannedStep) -> tuple[str, int, str, bool]:
    """Return where a step stands: by its code; of one code, the hold comes last."""
    digits = "".join(letter for letter in step.code[1:] if letter.isdigit())
    return step.code[0], int(digits or 0), step.code, step.is_hold
