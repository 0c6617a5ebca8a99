"""Knows, for each part of a design, which forms its page has and which service takes them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from django import forms
from django.forms import formset_factory
from django.http import QueryDict

from jobs.design.parts import (
    basis_change,
    circuits_change,
    circuits_propose,
    panels_change,
    panels_place_row,
    plan_take,
    power_change,
    proposals_take,
    string_rows,
    strings_change,
)
from jobs.design.revision import Change
from jobs.engine.stored import StoredAnswer
from jobs.engine.string_options import Option, Options, string_options
from jobs.forms.design import (
    BankForm,
    BasisForm,
    ControllerRowForm,
    InverterForm,
    PanelBasisForm,
    PanelRowForm,
    PlaceRowForm,
    PlugsForm,
    SourceRowForm,
    StringRowForm,
    charger_choices,
    part_choices,
    source_key,
)
from jobs.forms.design_circuits import FAMILIES, SIZES, CircuitRowForm
from jobs.models import Design, ExistingItem, Part, Shop
from jobs.parts.circuits import missing_circuits, schedule_order, serves_choices
from jobs.parts.power_inputs import CHARGING_KINDS
from jobs.roof.layout import design_layout
from jobs.roof.wires import drawn_runs

MOST_ROWS = 100
_SHEETS = {
    Part.Kind.PANEL: "panel_sheet",
    Part.Kind.CONTROLLER: "controller_sheet",
    Part.Kind.BATTERY: "battery_sheet",
    Part.Kind.INVERTER: "inverter_sheet",
    Part.Kind.CHARGER: "charger_sheet",
}


class Editor:
    """The forms of one part. ``act`` in the posted data chooses among several things the page can do."""

    slug: ClassVar[str]
    title: ClassVar[str]
    noun: ClassVar[str] = "row"
    reads: ClassVar[tuple[str, ...]] = ()
    shows_plan: ClassVar[bool] = False
    done = "Saved and sized."
    stays = False

    def __init__(
        self, design: Design, shop: Shop, data: QueryDict | None, answer: StoredAnswer | None
    ) -> None:
        self.design, self.shop, self.data, self.answer = design, shop, data, answer
        self.act = data.get("act", "") if data is not None else ""
        self.refusals: list[str] = []
        self.seen: int | None = None
        self.build()

    @property
    def template(self) -> str:
        """Return the partial that shows the forms."""
        return f"jobs/_design_edit_{self.slug}.html"

    def build(self) -> None:
        """Make the forms."""

    def forms(self) -> Iterable[Any]:
        """Return the forms and formsets that the chosen act reads."""
        return ()

    def save(self, change: Change) -> None:
        """Hand what was typed to the service."""

    def context(self) -> dict[str, Any]:
        """Return what the template needs beside the forms."""
        return {}

    def is_valid(self) -> bool:
        """Return whether everything typed can be taken."""
        return all([form.is_valid() for form in self.forms()])  # noqa: C419 - every form shows its errors

    def errors(self) -> list[tuple[str, str]]:
        """Return what is wrong: the field's id (may be empty) and the sentence."""
        found = [("", text) for text in self.refusals]
        for form in self._single_forms():
            found += [("", text) for text in form.non_field_errors()]
            for field in form:
                label = str(field.label or "")
                found += [
                    (
                        "" if field.is_hidden else field.id_for_label,
                        self._named(form, text if label in text else f"{label}: {text}"),
                    )
                    for text in field.errors
                ]
        return found

    def _single_forms(self) -> Iterable[Any]:
        for form in self.forms():
            if isinstance(form, forms.BaseFormSet):
                yield from (one for one in form if one not in form.deleted_forms) if form.is_bound else ()
            else:
                yield form

    def _named(self, form: Any, text: str) -> str:
        name = getattr(form, "row_name", "")
        return f"{name}: {text}" if name else text

    def _bound(self, *acts: str) -> QueryDict | None:
        """Return the posted data when one of these acts was chosen ("" is the page's own save)."""
        return self.data if self.data is not None and self.act in acts else None

    def _parts(self, kind: str, used: Iterable[Part | None] = ()) -> dict[str, tuple[str, Part]]:
        """Return the shop's parts of a kind that have a data sheet, and those the design has already."""
        sheet = _SHEETS[Part.Kind(kind)]
        active = Part.objects.of_shop(self.shop).filter(kind=kind, is_active=True).select_related(sheet)
        known = {part.pk: part for part in active if getattr(part, sheet, None) is not None}
        known |= {part.pk: part for part in used if part is not None}
        return part_choices(known.values())

    def _rows(
        self, form: type, prefix: str, initial: list[dict[str, Any]], extra: int = 1, **kwargs: Any
    ) -> Any:
        """Return a formset of rows; the blank ones at its end need no script to add a row."""
        factory: Any = formset_factory(
            form, extra=extra, can_delete=True, max_num=MOST_ROWS, absolute_max=MOST_ROWS + extra
        )
        made = factory(
            self._bound(""),
            prefix=prefix,
            initial=initial,
            form_kwargs={"units": self.shop.units, **kwargs},
        )
        for row in made.forms:
            if "DELETE" in row.fields:
                row.fields["DELETE"].label = "Take away"
        for row in made.forms[len(initial) :]:
            row.row_name = f"New {self.noun}"
        return made


def _typed_rows(formset: Any) -> list[dict[str, Any]]:
    """Return the rows a service takes: blank new rows left out, rows to take away marked."""
    gone = formset.deleted_forms
    rows: list[dict[str, Any]] = [{"id": form.stored_id, "DELETE": True} for form in gone if form.stored_id]
    for form in formset:
        if form in gone or (form.stored_id is None and not form.has_changed()):
            continue
        rows.append({**form.cleaned_data, "id": form.stored_id})
    return rows


class PanelsEditor(Editor):
    """Panels on the roof, one by one or a row at once."""

    slug, title, noun, shows_plan = "panels", "Panels", "panel", True
    reads = ("panels", "obstacles")

    def build(self) -> None:
        """Make the rows, the basis and the helper that places a row."""
        panels = list(self.design.panels.all())
        parts = self._parts(Part.Kind.PANEL, [panel.part for panel in panels])
        self.rows = self._rows(
            PanelRowForm, "panels", [self._initial(panel) for panel in panels], parts=parts
        )
        for row, panel in zip(self.rows, panels, strict=False):
            row.row_name = f"Panel {panel.number}"
        basis = _initial(self.design, "is_glued", "feet_on_rafter", "fastener_tested_n")
        self.basis = PanelBasisForm(self._bound(""), prefix="basis", initial=basis, units=self.shop.units)
        self.place = PlaceRowForm(self._bound("place"), prefix="place", parts=parts, units=self.shop.units)
        self.stays = self.act == "place"

    @staticmethod
    def _initial(panel: Any) -> dict[str, Any]:
        names = ("x_m", "y_m", "is_turned", "height_above_roof_m", "feet", "fasteners_per_foot")
        return {"id": panel.pk, "part": str(panel.part_id), **{name: getattr(panel, name) for name in names}}

    def context(self) -> dict[str, Any]:
        """Return how many feet stand on rafters as drawn."""
        layout = design_layout(self.design)
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
            design=self.design, rows=_typed_rows(self.rows), basis=self.basis.cleaned_data, change=change
        )


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
                {"id": one.pk, "part": str(one.part_id), "label": one.label, "absorb_v": one.absorb_v}
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
            initial={
                "has_branch_plugs": self.design.has_branch_plugs,
                "branch_plug_rating_a": self.design.branch_plug_rating_a,
            },
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
        labels = [row["label"] for row in _typed_rows(self.controllers) if not row.get("DELETE")]
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
            self.refusals.append(
                f"The plan “{label[:40]}” does not work any more: choose one of those below."
            )
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
            controllers=_typed_rows(self.controllers),
            strings=self._string_rows(),
            plugs=self.plugs.cleaned_data,
            change=change,
        )

    def context(self) -> dict[str, Any]:
        """Return the plans the sizing face proposes."""
        return {"options": self._options()}


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
            initial=_initial(bank, "quantity", "in_series", "is_new"),
        )
        self.inverter = InverterForm(
            self._bound(""),
            prefix="inverter",
            units=units,
            parts=self._parts(Part.Kind.INVERTER, [inverter.part if inverter else None]),
            initial=_initial(inverter, "hours_on_per_day", "is_new"),
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

    def save(self, change: Change) -> None:
        """Set bank, inverter and chargers."""
        power_change(
            design=self.design,
            bank=self.bank.row(),
            inverter=self.inverter.row(),
            sources=_typed_rows(self.sources),
            change=change,
        )


class CircuitsEditor(Editor):
    """The circuit schedule."""

    slug, title, noun = "circuits", "Circuits", "circuit"
    reads = ("circuits", "controllers", "strings", "sources", "wire_legs", "panels")

    def build(self) -> None:
        """Make a form for each circuit; a length that is drawn on the roof is changed there."""
        drawn = {(run.kind, run.serves) for run in drawn_runs(self.design)}
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
            labels = [row["label"] for row in _typed_rows(self.rows) if not row.get("DELETE")]
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
            self.done = "The proposed sizes and devices were written into the blank fields."
        else:
            circuits_change(design=self.design, rows=_typed_rows(self.rows), change=change)

    def context(self) -> dict[str, Any]:
        """Return lists for typing, and what the schedule lacks."""
        sizes = dict.fromkeys(size for each in SIZES.values() for size in each)
        return {
            "sizes": list(sizes),
            "families": FAMILIES,
            "lacking": [circuit.label for circuit in missing_circuits(self.design)],
        }


class BasisEditor(Editor):
    """What the whole revision rests on."""

    slug, title = "basis", "Basis"

    def build(self) -> None:
        """Make the form."""
        initial = _initial(self.design, "option", "rule_set", "gear_mass_kg", "note")
        self.basis = BasisForm(self._bound(""), prefix="basis", units=self.shop.units, initial=initial)

    def forms(self) -> Iterable[Any]:
        """Return the one form."""
        return (self.basis,)

    def save(self, change: Change) -> None:
        """Set the basis."""
        basis_change(design=self.design, basis=self.basis.cleaned_data, change=change)


def _initial(record: Any, *names: str) -> dict[str, Any]:
    """Return a record's values as a form shows them; nothing for no record."""
    if record is None:
        return {}
    found = {name: getattr(record, name) for name in names}
    if hasattr(record, "part_id"):
        found["part"] = str(record.part_id)
    return found


EDITORS: dict[str, type[Editor]] = {
    one.slug: one for one in (PanelsEditor, StringsEditor, PowerEditor, CircuitsEditor, BasisEditor)
}
