"""The forms of one part of a design: built, judged, and handed to a service."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from django import forms
from django.forms import formset_factory
from django.http import QueryDict

from jobs.design.revision import Change
from jobs.engine.stored import StoredAnswer
from jobs.forms.design import (
    part_choices,
)
from jobs.models import Design, Part, Shop

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
                row.fields["DELETE"].label = "Remove"
        for row in made.forms[len(initial) :]:
            row.row_name = f"New {self.noun}"
        return made


def typed_rows(formset: Any) -> list[dict[str, Any]]:
    """Return the rows a service takes: blank new rows left out, rows to take away marked."""
    gone = formset.deleted_forms
    rows: list[dict[str, Any]] = [{"id": form.stored_id, "DELETE": True} for form in gone if form.stored_id]
    for form in formset:
        if form in gone or (form.stored_id is None and not form.has_changed()):
            continue
        rows.append({**form.cleaned_data, "id": form.stored_id})
    return rows


def initial_of(record: Any, *names: str) -> dict[str, Any]:
    """Return a record's values as a form shows them; nothing for no record."""
    if record is None:
        return {}
    found = {name: getattr(record, name) for name in names}
    if hasattr(record, "part_id"):
        found["part"] = str(record.part_id)
    return found
