"""One step of the job, as frozen when the checklist was opened. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from checklists.plan.roles import PhaseRole
from checklists.plan.traits import PLAIN, Traits
from checklists.rules.fields import FieldSpec


@dataclass(frozen=True, slots=True, eq=False)  # one object a step: told apart by identity
class StepInfo:
    """One step of the job, as frozen when the checklist was opened."""

    pk: int
    code: str
    role: str
    phase_role: PhaseRole
    subject: str
    title: str
    instruction: str
    specs: tuple[FieldSpec, ...]
    card: tuple[Mapping[str, str], ...] = ()
    is_hold: bool = False
    needs_lead: bool = False
    is_in_scope: bool = True
    can_be_overridden: bool = True
    position: int = 0
    since_design: int = 0  # what was recorded on an earlier revision does not count
    traits: Traits = PLAIN

    @property
    def phase(self) -> str:
        """Return the letter of the phase."""
        return self.code[0]

    @property
    def asks_anything(self) -> bool:
        """Return whether it can be left undone: a step that only tells how is none to count."""
        return self.is_hold or any(spec.required or spec.required_if for spec in self.specs)

    @property
    def subject_name(self) -> str:
        """Return what the step is about, without the word for its kind: ``C2`` of ``circuit:C2``."""
        return self.subject.partition(":")[2]

    @property
    def row_title(self) -> str:
        """Return the name of the thing, without that of the step."""
        words = self.title.partition(": ")[2] or self.subject.replace(":", " ") or self.title
        return words[:1].upper() + words[1:]
