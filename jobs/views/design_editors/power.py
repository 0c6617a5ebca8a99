"""The forms of bank, inverter and other chargers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jobs.design.power import power_change
from jobs.design.revision import Change
from jobs.forms.charging import SourceRowForm, charger_choices, refuse_unknown_links, source_key
from jobs.forms.design import BankForm, InverterForm
from jobs.models import ExistingItem, Part
from jobs.parts.power_inputs import CHARGING_KINDS
from jobs.views.design_editors.editor import Editor, initial_of, typed_rows


class PowerEditor(Editor):
    """Bank, inverter and the other chargers."""

    slug, title, noun = "power", "Power", "charger"
    reads = ("sources", "existing_items")

    def build(self) -> None:
        """Make the three forms."""
        bank, inverter = getattr(self.design, "bank", None), getattr(self.design, "inverter", None)
        units = self.shop.units
        self.bank = BankForm(
            self._bound(""),
            prefix="bank",
            units=units,
            parts=self._parts(Part.Kind.BATTERY, [bank.part if bank else None]),
            initial=initial_of(bank, "quantity", "in_series", "is_new", "depth_of_discharge_fraction"),
        )
        self.inverter = InverterForm(
            self._bound(""),
            prefix="inverter",
            units=units,
            parts=self._parts(Part.Kind.INVERTER, [inverter.part if inverter else None]),
            initial=initial_of(inverter, "hours_on_per_day", "is_new", "temp_comp_mv_per_c", "either_or"),
        )
        sources = list(self.design.sources.all())
        names = [name for name in SourceRowForm.base_fields if name not in {"id", "sure"}]
        initial = [
            {"id": one.pk, "what": source_key(one), **{name: getattr(one, name) for name in names}}
            for one in sources
        ]
        self.sources = self._rows(SourceRowForm, "sources", initial, chargers=self._chargers(sources))
        for row, one in zip(self.sources, sources, strict=False):
            row.row_name = str(one)

    def _chargers(self, sources: list[Any]) -> dict[str, tuple[str, Any]]:
        kept = [
            item
            for item in self.design.job.survey.existing_items.all()
            if item.fate == ExistingItem.Fate.KEEP and item.kind in CHARGING_KINDS
        ]
        parts = self._parts(Part.Kind.CHARGER)
        return charger_choices([part for _, part in parts.values()], kept, sources)

    def forms(self) -> Iterable[Any]:
        """Return all three."""
        return (self.bank, self.inverter, self.sources)

    def is_valid(self) -> bool:
        """Return whether everything typed can be taken, and whether what one charger feeds is there."""
        if not super().is_valid():
            return False
        gone = self.sources.deleted_forms
        rows = [row for row in self.sources if row not in gone and (row.stored_id or row.has_changed())]
        return refuse_unknown_links(rows, has_inverter_charger=self._charges_from_inverter())

    def _charges_from_inverter(self) -> bool:
        part = self.inverter.cleaned_data.get("part")
        sheet = getattr(part, "inverter_sheet", None)
        return sheet is not None and sheet.is_charger and sheet.charge_a is not None

    def save(self, change: Change) -> None:
        """Set bank, inverter and chargers."""
        power_change(
            design=self.design,
            bank=self.bank.row(),
            inverter=self.inverter.row(),
            sources=typed_rows(self.sources),
            change=change,
        )
