"""The forms of the circuit schedule."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.design.circuits import circuits_change, circuits_propose, proposals_take
from jobs.design.revision import Change
from jobs.forms.design_circuits import FAMILIES, SIZES, CircuitRowForm
from jobs.parts.circuits import missing_circuits, schedule_order, serves_choices
from jobs.roof.read import roof_state
from jobs.roof.wires import drawn_runs, inside_runs
from jobs.views.design_editors.editor import Editor, typed_rows


class CircuitsEditor(Editor):
    """The circuit schedule."""

    slug, title, noun = "circuits", "Circuits", "circuit"
    reads = ("circuits", "controllers", "strings", "sources", "wire_legs", "panels")

    def build(self) -> None:
        """Make a form for each circuit; a length that is drawn on the roof is changed there."""
        drawn = {
            (run.kind, run.serves) for run in drawn_runs(roof_state(self.design), inside_runs(self.design))
        }
        circuits = sorted(self.design.circuits.all(), key=schedule_order)
        names = [name for name in CircuitRowForm.base_fields if name not in {"id", "sure"}]
        initial = [{"id": one.pk, **{name: getattr(one, name) for name in names}} for one in circuits]
        self.rows = self._rows(CircuitRowForm, "circuits", initial, serves=serves_choices(self.design))
        for row, circuit in zip(self.rows, circuits, strict=False):
            row.row_name = circuit.label
            self._show_proposal(row, circuit.label)
            if (circuit.kind, circuit.serves) in drawn:
                row.take_from_drawing()
        self.stays = self.act in {"propose", "take"}

    def _show_proposal(self, row: CircuitRowForm, label: str) -> None:
        """Print what the engine proposes inside the fields that were left blank."""
        judged = self.answer.result.circuits if self.answer else ()
        found = next((one for one in judged if one.id == label), None)
        if found is not None and found.is_proposed_size and found.size:
            row.fields["size"].widget.attrs["placeholder"] = f"{found.size} proposed"
        if found is not None and found.is_proposed_fuse and found.fuse_a is not None:
            row.fields["fuse_a"].widget.attrs["placeholder"] = f"{found.fuse_a:g} A proposed"

    def forms(self) -> Iterable[Any]:
        """Return the rows; proposals are buttons and need none."""
        return () if self.act in {"propose", "take"} else (self.rows,)

    def is_valid(self) -> bool:
        """Judge across rows: each label once."""
        if not super().is_valid():
            return False
        if self.act not in {"propose", "take"}:
            labels = [row["label"] for row in typed_rows(self.rows) if not row.get("DELETE")]
            twice = sorted({label for label in labels if labels.count(label) > 1})
            if twice:
                self.refusals.append(
                    f"Each label prints on one cable only: {', '.join(twice)} is used twice."
                )
        return not self.refusals

    def save(self, change: Change) -> None:
        """Propose circuits, take proposals, or set the rows."""
        if self.act == "propose":
            circuits_propose(design=self.design, change=change)
            self.done = "The missing circuits were added with the survey's lengths."
        elif self.act == "take":
            proposals_take(design=self.design, change=change)
            self.done = "The proposed sizes, fuses and breakers were filled into the blank fields."
        else:
            circuits_change(design=self.design, rows=typed_rows(self.rows), change=change)

    def context(self) -> dict[str, Any]:
        """Return lists for typing, and what the schedule lacks."""
        sizes = dict.fromkeys(size for each in SIZES.values() for size in each)
        return {
            "sizes": list(sizes),
            "families": FAMILIES,
            "lacking": [circuit.label for circuit in missing_circuits(self.design)],
        }
