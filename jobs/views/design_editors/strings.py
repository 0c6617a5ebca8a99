"""The forms of controllers and strings."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.design.revision import Change
from jobs.design.string_plan import string_rows
from jobs.design.strings import plan_take, strings_change
from jobs.engine.string_options import Option, Options, string_options
from jobs.forms.design import (
    ControllerRowForm,
    PlugsForm,
    StringRowForm,
)
from jobs.models import Part
from jobs.views.design_editors.editor import Editor, initial_of, typed_rows


class StringsEditor(Editor):
    """Controllers and strings, by hand or by a plan."""

    chosen: Option | None = None

    slug, title, noun, shows_plan = "strings", "Strings", "controller", True
    reads = ("panels", "obstacles", "controllers", "strings")

    def build(self) -> None:
        """Make the rows of controllers and strings."""
        controllers = list(self.design.controllers.all())
        parts = self._parts(Part.Kind.CONTROLLER, [one.part for one in controllers])
        self.controllers = self._rows(
            ControllerRowForm,
            "controllers",
            [
                {
                    "id": one.pk,
                    "part": str(one.part_id),
                    "label": one.label,
                    "absorb_v": one.absorb_v,
                    "temp_comp_mv_per_c": one.temp_comp_mv_per_c,
                }
                for one in controllers
            ],
            parts=parts,
        )
        for row, one in zip(self.controllers, controllers, strict=False):
            row.row_name = f"Controller {one.label}"
        rows = string_rows(self.design)
        initial = [{**row, "panels": ", ".join(map(str, row["panels"]))} for row in rows]
        self.strings = self._rows(StringRowForm, "strings", initial, extra=2)
        for number, row in enumerate(self.strings, start=1):
            row.row_name = f"String {number}"
        self.plugs = PlugsForm(
            self._bound(""),
            prefix="plugs",
            units=self.shop.units,
            initial=initial_of(
                self.design, "has_branch_plugs", "branch_plug_rating_a", "string_fuse_voltage_v"
            ),
        )

    def forms(self) -> Iterable[Any]:
        """Return the tables; a plan is a button and needs none."""
        return () if self.act == "plan" else (self.controllers, self.strings, self.plugs)

    def is_valid(self) -> bool:
        """Judge across rows: letters once, strings on controllers that are there."""
        if self.act == "plan":
            return self._choose()
        if not super().is_valid():
            return False
        labels = [row["label"] for row in typed_rows(self.controllers) if not row.get("DELETE")]
        if len(set(labels)) != len(labels):
            self.refusals.append("Two controllers have the same letter: give each its own.")
        for number, row in enumerate(self._string_rows(), start=1):
            if row["panels"] and row["controller"] not in labels:
                self.refusals.append(f"String {number}: there is no controller {row['controller']}.")
        return not self.refusals

    def _options(self) -> Options:
        return string_options(self.answer.run if self.answer else None, self.design.unsized_reason)

    def _choose(self) -> bool:
        """Find the plan that was pressed among those that work now."""
        label = self.data.get("plan", "") if self.data is not None else ""
        self.chosen = self._options().labelled(label)
        if self.chosen is None:
            self.refusals.append(f"The plan “{label[:40]}” no longer works: choose one of those below.")
        return self.chosen is not None

    def _string_rows(self) -> list[dict[str, Any]]:
        gone = self.strings.deleted_forms
        return [
            form.cleaned_data for form in self.strings if form not in gone and form.cleaned_data.get("panels")
        ]

    def save(self, change: Change) -> None:
        """Take a plan, or what was typed."""
        if self.act == "plan":
            assert self.chosen is not None  # is_valid found it
            plan_take(design=self.design, strings=self.chosen.rows, change=change)
            self.done = f"Wired {self.chosen.plan.label}."
            return
        strings_change(
            design=self.design,
            controllers=typed_rows(self.controllers),
            strings=self._string_rows(),
            plugs=self.plugs.cleaned_data,
            change=change,
        )

    def context(self) -> dict[str, Any]:
        """Return the plans the sizing face proposes."""
        return {"options": self._options()}
