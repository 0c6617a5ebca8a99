"""Tells which recorded choices contradict the survey or each other: each is a deviation to be decided. Pure.

Roof material against the survey, and sealant or tape against the roof it is put on. What suits what is the
trade's common practice for roofs of vehicles, no standard; the label of the tube and the maker of the roof
win, and the owner may let a choice stand with a reason. ``static/js/tablet/rules/choices.js`` says the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from checklists.plan.roles import Role
from checklists.rules.fields import FieldSpec
from checklists.rules.install import Install, StepInfo

#: How the names of these deviations begin; the sums know nothing of them.
CHOICE_KEY: Final = "choice/"
_MATERIAL: Final = "roof.material"
#: Sealants and tapes under a foot, by the roof below it; common practice, no source.
UNDER: Final[Mapping[str, tuple[str, ...]]] = {
    "epdm": ("butyl", "lap"),
    "tpo": ("butyl",),
    "pvc": ("butyl", "polyurethane", "ms_polymer"),
    "fibreglass": ("butyl", "polyurethane", "ms_polymer"),
    "aluminium": ("butyl", "polyurethane"),
    "steel": ("polyurethane", "ms_polymer", "butyl", "tape"),
}
#: Sealants over a foot, by the roof below it; common practice, no source.
OVER: Final[Mapping[str, tuple[str, ...]]] = {
    "epdm": ("lap",),
    "tpo": ("lap",),
    "pvc": ("lap",),
    "fibreglass": ("lap", "polyurethane", "ms_polymer"),
    "aluminium": ("lap", "polyurethane", "ms_polymer"),
    "steel": ("polyurethane", "ms_polymer"),
}
#: The tables as a tablet takes them along, by the field they judge.
SUITED: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {"under_family": UNDER, "over_family": OVER}


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One choice that contradicts the survey or the roof: where, and in words."""

    key: str
    step: int
    title: str
    sentence: str
    options: tuple[str, ...]


def contradictions(install: Install) -> tuple[Contradiction, ...]:
    """Return every choice that stands and contradicts what was surveyed or what it is put on."""
    found = next(_materials(install), None)
    if found is None:
        return ()
    step, spec = found
    recorded = install.state(step)[spec.name].value
    out = list(_material(step, spec, recorded))
    roof = recorded or spec.expected
    for sealant in install.of_role(Role.SEALANT):
        out += _sealants(install, sealant, str(roof or ""), spec)
    return tuple(out)


def _materials(install: Install) -> Iterator[tuple[StepInfo, FieldSpec]]:
    return ((step, spec) for step in install.in_scope for spec in step.specs if spec.feeds == _MATERIAL)


def _material(step: StepInfo, spec: FieldSpec, recorded: object) -> Iterator[Contradiction]:
    if recorded in (None, "") or spec.expected in (None, "") or recorded == spec.expected:
        return
    built, planned = spec.choice_label(recorded), spec.choice_label(spec.expected)
    yield Contradiction(
        key=f"{CHOICE_KEY}material/{recorded}",
        step=step.pk,
        title=f"Roof material: {built}, surveyed {planned}",
        sentence=(
            f"Roof material: {built} recorded, {planned} surveyed."
            " Sealant, primer and fasteners follow from it: decide before anything is put on the roof."
        ),
        options=("Prove the material again at a vent edge.", "Change the plan to the material found."),
    )


def _sealants(install: Install, step: StepInfo, roof: str, of_roof: FieldSpec) -> Iterator[Contradiction]:
    for spec in step.specs:
        suited = SUITED.get(spec.name, {}).get(roof)
        value = install.state(step)[spec.name].value
        if suited is None or value in (None, "") or value in suited:
            continue
        taken, below = spec.choice_label(value), of_roof.choice_label(roof)
        labels = dict(spec.choices)
        fits = " or ".join(labels[name] for name in suited if name in labels)
        yield Contradiction(
            key=f"{CHOICE_KEY}{spec.name}/{value}/{roof}",
            step=step.pk,
            title=f"{spec.label}: {taken} on {below}",
            sentence=(
                f"{spec.label}: {taken} does not suit {below}; usual is {fits}, rated for it."
                " The label of the tube and the maker of the roof win."
            ),
            options=(f"Take {fits}, rated for {below}.", "Show the label of the tube to the owner."),
        )
