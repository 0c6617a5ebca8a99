"""The forms of the panels on the roof."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.design.panels import panels_change, panels_place_row
from jobs.design.revision import Change
from jobs.forms.design import (
    PanelBasisForm,
    PanelRowForm,
    PlaceRowForm,
    used_panel_choices,
)
from jobs.models import Part
from jobs.roof.layout import design_layout
from jobs.roof.read import roof_state
from jobs.views.design_editors.editor import Editor, initial_of, typed_rows


class PanelsEditor(Editor):
    """Panels on the roof, one by one or a row at once."""

    slug, title, noun, shows_plan = "panels", "Panels", "panel", True
    reads = ("panels", "obstacles", "existing_items")

    def build(self) -> None:
        """Make the rows, the basis and the helper that places a row."""
        panels = list(self.design.panels.all())
        parts = self._parts(Part.Kind.PANEL, [panel.part for panel in panels])
        used = used_panel_choices(self.design.job.survey.existing_items.all())
        initial = [self.initial_of(panel) for panel in panels]
        self.rows = self._rows(PanelRowForm, "panels", initial, parts=parts, used=used)
        for row, panel in zip(self.rows, panels, strict=False):
            row.row_name = f"Panel {panel.number}"
        basis = initial_of(self.design, "is_glued", "feet_on_rafter", "fastener_tested_n")
        self.basis = PanelBasisForm(self._bound(""), prefix="basis", initial=basis, units=self.shop.units)
        self.place = PlaceRowForm(self._bound("place"), prefix="place", parts=parts, units=self.shop.units)
        self.stays = self.act == "place"

    @staticmethod
    def initial_of(panel: Any) -> dict[str, Any]:
        names = ("x_m", "y_m", "is_turned", "height_above_roof_m", "feet", "fasteners_per_foot")
        keys = {"part": str(panel.part_id), "existing": str(panel.existing_id or "")}
        return {"id": panel.pk, **keys, **{name: getattr(panel, name) for name in names}}

    def context(self) -> dict[str, Any]:
        """Return how many feet stand on rafters as drawn."""
        layout = design_layout(roof_state(self.design))
        if layout is None or not layout.panels or not layout.roof.rafters:
            return {}
        feet = sum(panel.feet_count for panel in layout.panels)
        return {"feet": feet, "feet_near_rafters": layout.feet_near_rafters}

    def forms(self) -> Iterable[Any]:
        """Return the helper's form, or the table's."""
        return (self.place,) if self.act == "place" else (self.rows, self.basis)

    def save(self, change: Change) -> None:
        """Place a row, or set all panels."""
        if self.act == "place":
            words = {
                name: self.place.cleaned_data[name] for name in self.place.cleaned_data if name != "sure"
            }
            panels_place_row(design=self.design, **words, change=change)
            self.done = f"{words['count']} panels placed."
            return
        panels_change(
            design=self.design, rows=typed_rows(self.rows), basis=self.basis.cleaned_data, change=change
        )
