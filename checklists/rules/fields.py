"""What one field of a step asks for, as frozen when the checklist was opened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Final

TICK: Final = "tick"
NUMBER: Final = "number"
PHOTO: Final = "photo"
SERIAL: Final = "serial"
TEXT: Final = "text"
CHOICE: Final = "choice"
SIGNATURE: Final = "signature"
LINES: Final = "lines"
SEVERAL: Final = "several"
#: What stands for none of several.
NONE: Final = "none"
#: The fields by which a step says that it does not apply; the first holds the reason.
NOT_HERE: Final = "not_here"

#: What a field repeats for: once for each check of a circuit that is a caution or lacks data.
CAUTION: Final = "caution"

#: Longest text a field takes when it does not say otherwise. [characters]
TEXT_LENGTH: Final = 400
SERIAL_LENGTH: Final = 60


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field. ``low`` and ``high`` are the acceptance band, ``min`` and ``max`` what cannot be exceeded.

    ``on_fail`` says what a value outside the band does: ``hold`` keeps the phase's hold shut, ``caution``
    only tells, ``change_order`` tells and suggests one, ``hold_order`` holds and suggests one. ``feeds``
    names the as-built value it changes.
    ``signer`` says whose name a signature is offered with: ``customer`` or nobody's. ``lines`` are ticked one
    by one, from the top where ``ordered``. What is ``measured`` is never written as planned by one tap.
    A ``lead`` field counts only from a lead technician or the owner, and so does what is ``excused_by_lead``.
    ``undecided`` says that nobody knows a limit. ``confirms`` names the field with a person's name.
    """

    name: str
    kind: str
    label: str
    unit: str = ""
    required: bool = True
    count: int = 1
    count_from: str = ""
    min: float | None = None
    max: float | None = None
    low: float | None = None
    high: float | None = None
    exclusive_high: bool = False
    whole: bool = False
    expected: Any = None
    tick: float | None = None
    repeat: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    accept: tuple[str, ...] = ()
    format: str = ""
    not_past: bool = False
    max_length: int = TEXT_LENGTH
    matches: str = ""
    signer: str = ""
    lines: tuple[tuple[str, str], ...] = ()
    ordered: bool = False
    none_says: str = ""
    measured: bool = False
    excused_by: str = ""
    excused_by_lead: bool = False
    lead: bool = False
    undecided: str = ""
    confirms: str = ""
    required_if: Mapping[str, Any] | None = None
    low_from: Mapping[str, Any] | None = None
    high_from: Mapping[str, Any] | None = None
    around: Mapping[str, Any] | None = None
    judge: str = ""
    item: str = ""
    on_fail: str = "hold"
    fail_says: str = ""
    feeds: str = ""
    feeds_as: str = ""
    feeds_scale: float = 1.0
    feeds_map: Mapping[str, Any] | None = None

    @property
    def is_number(self) -> bool:
        """Return whether it takes a number."""
        return self.kind == NUMBER

    @property
    def is_photo(self) -> bool:
        """Return whether it takes pictures."""
        return self.kind == PHOTO

    def choice_label(self, value: Any) -> str:
        """Return the words of a choice, of several, or of the lines that are ticked."""
        if self.kind == SEVERAL and value == NONE:
            return self.none_says or "None"
        if self.kind in {LINES, SEVERAL}:
            words = dict(self.lines or self.choices)
            return ", ".join(words.get(key, key) for key in keys_of(value))
        return dict(self.choices).get(str(value), str(value))


def keys_of(value: Any) -> list[str]:
    """Return what is ticked in a list: its keys, as the value holds them."""
    return [] if value in (None, "") else str(value).split(",")


_NAMES: Final = frozenset(each.name for each in fields(FieldSpec))


def spec_from_json(data: Mapping[str, Any]) -> FieldSpec:
    """Return the field that was stored with a step."""
    known = {name: data[name] for name in _NAMES & data.keys()}
    for name in ("choices", "lines"):
        if name in known:
            known[name] = tuple((str(value), str(label)) for value, label in known[name])
    if "accept" in known:
        known["accept"] = tuple(str(value) for value in known["accept"])
    return FieldSpec(**known)


def specs_from_json(fields: Iterable[Mapping[str, Any]]) -> tuple[FieldSpec, ...]:
    """Return all fields that were stored with a step."""
    return tuple(spec_from_json(data) for data in fields)


def expanded(
    specs: tuple[FieldSpec, ...],
    *,
    feet: int | None,
    tick: float | None = None,
    cautions: Iterable[tuple[str, str]] = (),
) -> tuple[FieldSpec, ...]:
    """Return the fields with those that repeat per foot written out, and pictures counted per foot.

    ``tick`` is the count one tick stands for as built (screws in a foot), where it differs from the plan.
    ``cautions`` are the circuits that are no plain pass, each with a name and its words: one field each.
    """
    out: list[FieldSpec] = []
    for spec in specs:
        if spec.repeat == "feet":
            out += [
                replace(
                    spec,
                    name=f"{spec.name}_{number}",
                    label=spec.label.format(n=number),
                    repeat="",
                    tick=spec.tick if tick is None else tick,
                )
                for number in range(1, (feet or 0) + 1)
            ]
        elif spec.repeat == CAUTION:
            out += [
                replace(spec, name=f"{spec.name}_{key}", label=spec.label.replace("{n}", words), repeat="")
                for key, words in cautions
            ]
        elif spec.count_from == "feet":
            out.append(replace(spec, count=max(1, feet or 0)))
        else:
            out.append(spec)
    return tuple(out)
