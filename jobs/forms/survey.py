"""What a person may type on one page of the survey, and what of it changed."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

import sizing
from common import units as trade
from common.edit_conflicts import WatchedForm
from common.forms import choices_of
from common.told import Words, in_english, told_later
from jobs.forms.survey_fields import field_for
from jobs.forms.survey_rows import (
    RowForms,
    SheetForm,
    Spot,
    new_obstacle_values,
    typed_row,
    typed_texts,
)
from jobs.models import ExistingItem, Obstacle, Survey, Vehicle
from jobs.survey import Fact, Group, Part, RowSheet, defaults, hints, starters
from jobs.survey.changes import PartChanges, RowChanges
from jobs.survey.places import plain


@dataclass(frozen=True)
class FactLine:
    """One fact as it stands on the page."""

    field: forms.BoundField
    guess: forms.BoundField | None
    hint: str
    is_wide: bool
    flag: str


@dataclass(frozen=True)
class ListLines:
    """One list of rows as it stands on the page, with its marks."""

    sheet: RowSheet
    rows: RowForms
    guess: forms.BoundField | None
    none: forms.BoundField | None
    absent: forms.BoundField | None
    has_start: bool


class PartForm(WatchedForm, SheetForm):
    """The single facts of a page, each with its guess mark."""

    part: Part

    def __init__(self, *args: Any, survey: Survey, vehicle: Vehicle, **kwargs: Any) -> None:
        self.survey, self.vehicle = survey, vehicle
        super().__init__(*args, initial=self._initial(), **kwargs)

    def is_watched(self) -> bool:
        """Return True: the survey and the vehicle are stored before their pages are opened."""
        return True

    def _initial(self) -> dict[str, Any]:
        values = {fact.name: getattr(self._record(fact), fact.name) for fact in self.part.facts}
        marks = {f"guess_{fact.name}": fact.guess in self.survey.guessed_fields for fact in self.part.facts}
        for sheet in self.part.rows:
            marks[f"guess_{sheet.prefix}"] = sheet.guess in self.survey.guessed_fields
            marks[f"none_{sheet.prefix}"] = sheet.none_kind in self.survey.absent_kinds
        kinds = [kind for kind in self.survey.absent_kinds if kind in ExistingItem.Kind.values]
        return values | marks | {"absent_kinds": kinds}

    def _record(self, fact: Fact) -> Any:
        return self.vehicle if fact.on == "vehicle" else self.survey

    def groups(self) -> list[tuple[Group, list[FactLine]]]:
        """Return the page's facts under their headings."""
        shown = hints.of_part(self.part, self.survey, self.vehicle, self.units)
        return [(group, [self._line(fact, shown) for fact in group.facts]) for group in self.part.groups]

    def _line(self, fact: Fact, shown: dict[str, hints.Hint]) -> FactLine:
        mark = f"guess_{fact.name}"
        hint = shown.get(fact.name)
        return FactLine(
            field=self[fact.name],
            guess=self[mark] if mark in self.fields else None,
            hint=hint.text if hint else "",
            is_wide=fact.is_wide,
            flag=self.survey.flags.get(fact.name, ""),
        )

    def odd_values(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Return what to ask about a model year that lies after the one following the job's opening."""
        next_year = self.survey.job.created_at.year + 1
        if (cleaned.get("year") or 0) <= next_year:
            return {}
        return {"year": f"Model year {cleaned['year']} (usual: 1965 to {next_year})"}

    def clean(self) -> dict[str, Any]:
        """Refuse a coldest air above the hottest."""
        cleaned = super().clean()
        hottest_c = cleaned.get("tmax_c")
        for name in ("tmin_travel_c", "tmin_storage_c"):
            coldest_c = cleaned.get(name)
            if coldest_c is not None and hottest_c is not None and coldest_c > hottest_c:
                cold, hot = (trade.show(each, "°C", self.units) for each in (coldest_c, hottest_c))
                label, other = self.fields[name].label, self.fields["tmax_c"].label
                self.add_error(name, f"{label} must not be above “{other}” ({hot}); you typed {cold}.")
        return cleaned

    def changed_on(self, place: str) -> dict[str, Any]:
        """Return the changed columns of the survey or the vehicle."""
        facts = [fact for fact in self.part.facts if fact.on == place and fact.name in self.changed_data]
        return {fact.name: self.cleaned_data[fact.name] for fact in facts}

    def marks_changed(self) -> dict[str, bool]:
        """Return the guess marks that were set or taken away."""
        words = {f"guess_{fact.name}": fact.guess for fact in self.part.facts}
        words |= {f"guess_{sheet.prefix}": sheet.guess for sheet in self.part.rows}
        return {words[name]: self.cleaned_data[name] for name in self.changed_data if words.get(name)}

    def absent_changed(self) -> dict[str, bool]:
        """Return the kinds newly said to be there or not there."""
        out = {
            sheet.none_kind: self.cleaned_data[f"none_{sheet.prefix}"]
            for sheet in self.part.rows
            if f"none_{sheet.prefix}" in self.changed_data
        }
        if "absent_kinds" in self.changed_data:
            now = set(self.cleaned_data["absent_kinds"])
            out |= {kind: kind in now for kind, _ in choices_of(self, "absent_kinds")}
        return out


@functools.cache
def part_form_class(part: Part) -> type[PartForm]:
    """Return the form for the single facts of a page."""
    fields: dict[str, Any] = {"part": part}
    marked: set[str] = set()
    for fact in part.facts:
        fields[fact.name] = field_for(fact, Vehicle if fact.on == "vehicle" else Survey)
        if fact.guess and fact.guess not in marked:
            marked.add(fact.guess)
            fields[f"guess_{fact.name}"] = _tick(told_later(f"{fact.label} is a guess"))
    for sheet in part.rows:
        if sheet.guess:
            fields[f"guess_{sheet.prefix}"] = _tick(_("This list is a guess"))
        if sheet.none_kind:
            fields[f"none_{sheet.prefix}"] = _tick(told_later(sheet.none_label))
        if sheet.prefix == "existing_items":
            fields["absent_kinds"] = _absent_field()
    metaclass: Any = type(PartForm)
    made: type[PartForm] = metaclass(f"PartForm_{part.slug}", (PartForm,), fields)
    return made


def _tick(label: Words) -> forms.BooleanField:
    return forms.BooleanField(required=False, label=label)


def _absent_field() -> forms.MultipleChoiceField:
    kinds = [choice for choice in ExistingItem.Kind.choices if choice[0] != ExistingItem.Kind.OTHER]
    return forms.MultipleChoiceField(
        choices=kinds, required=False, label=_("Looked for, not there"), widget=forms.CheckboxSelectMultiple
    )


class SurveyPage:
    """One page as shown or as sent: the facts, the lists of rows, and the question about odd values."""

    def __init__(
        self,
        part: Part,
        survey: Survey,
        *,
        units: str,
        data: QueryDict | None = None,
        may_edit: bool = True,
        known_places: Mapping[str, Spot] | None = None,
        seed: str = "",
    ) -> None:
        self.part, self.survey, self.units, self.data = part, survey, units, data
        self.place_names = list(known_places or {})
        spots = {plain(name): spot for name, spot in (known_places or {}).items()}
        self.vehicle = survey.job.vehicle
        self.form = part_form_class(part)(data, survey=survey, vehicle=self.vehicle, units=units)
        self.lists = [
            RowForms(
                sheet,
                survey,
                units=units,
                data=data,
                with_blank=may_edit,
                known_places=spots,
                seed=seed,
            )
            for sheet in part.rows
        ]
        self.is_judged = False

    def groups(self) -> list[tuple[Group, list[FactLine]]]:
        """Return the facts under their headings."""
        return self.form.groups()

    def row_lists(self) -> list[ListLines]:
        """Return the lists of rows with their marks."""
        return [self._list_lines(rows) for rows in self.lists]

    def _list_lines(self, rows: RowForms) -> ListLines:
        form, sheet = self.form, rows.sheet

        def mark(name: str) -> forms.BoundField | None:
            return form[name] if name in form.fields else None

        return ListLines(
            sheet=sheet,
            rows=rows,
            guess=mark(f"guess_{sheet.prefix}"),
            none=mark(f"none_{sheet.prefix}"),
            absent=mark("absent_kinds") if sheet.prefix == "existing_items" else None,
            has_start=bool(starters.of_list(sheet.prefix, self.survey, self.vehicle)),
        )

    def typed_rows(self) -> dict[str, list[dict[str, Any]]] | None:
        """Return the rows that can be read so far, for a live preview; None when nothing was sent."""
        if self.data is None:
            return None
        lists = [RowForms(sheet, self.survey, units=self.units, data=self.data) for sheet in self.part.rows]
        return {rows.sheet.prefix: rows.values() for rows in lists}

    def is_valid(self) -> bool:
        """Return whether all is right and every odd value was confirmed."""
        self.is_judged = True
        for rows in self.lists:
            rows.leave_out_what_does_not_count()
        parts = [self.form.is_valid(), *[rows.is_valid() for rows in self.lists]]
        return all(parts) and not self.question

    @property
    def problems(self) -> list[tuple[str, str, str]]:
        """Return what is wrong: (id of the field, what to put before the sentence, the sentence)."""
        if not self.is_judged:
            return []
        found = _problems(self.form, "")
        for rows in self.lists:
            if rows.too_many:
                found.append(("", "", rows.too_many))
            for number, form in enumerate(rows.live, start=1):
                found += _problems(form, f"{rows.sheet.noun.capitalize()} {number}: ")
        return found

    @property
    def odd(self) -> dict[str, str]:
        """Return the questions about values outside the usual range, by flag name."""
        found = dict(self.form.questions())
        for rows in self.lists:
            for form in rows.live:
                asked = form.questions().items()
                found |= {_flag_name(rows.sheet, form.key, n): f"{form.called}: {text}" for n, text in asked}
        return found

    @property
    def asked(self) -> dict[str, str]:
        """Return the odd values that are new to this survey."""
        if not self.is_judged or self.data is None:
            return {}
        return {name: text for name, text in self.odd.items() if self.survey.flags.get(name) != text}

    @property
    def sure_key(self) -> str:
        """Return what the box sends back: it says yes to just these values."""
        return sure_key(self.asked)

    @property
    def is_sure(self) -> bool:
        """Return whether the person said yes to the odd values."""
        return bool(self.asked) and self.data is not None and self.data.get("sure") == self.sure_key

    @property
    def question(self) -> dict[str, str]:
        """Return the odd values nobody said yes to yet."""
        return {} if self.is_sure else self.asked

    @in_english  # the log names what changed
    def changes(self) -> PartChanges:
        """Return what is to be stored; the page is valid."""
        form, odd = self.form, self.odd
        names = [fact.name for fact in self.part.facts]
        rows = {rows.sheet.prefix: _row_changes(rows) for rows in self.lists}
        flags = {name: odd.get(name, "") for name in names if name in odd or name in self.survey.flags}
        flags |= {name: odd.get(name, "") for name in self._row_flags(odd)}
        return PartChanges(
            survey=form.changed_on("survey"),
            vehicle=form.changed_on("vehicle"),
            rows={prefix: change for prefix, change in rows.items() if change.write or change.remove},
            guesses=form.marks_changed(),
            absent=form.absent_changed(),
            flags=flags,
            labels=tuple(str(form.fields[name].label) for name in form.changed_data),
        )

    def _row_flags(self, odd: dict[str, str]) -> set[str]:
        starts = tuple(f"{rows.sheet.prefix}:" for rows in self.lists)
        return {name for name in {*odd, *self.survey.flags} if starts and name.startswith(starts)}

    def show_without_judging(self) -> None:
        """Show what was typed, without errors: nothing is being saved."""
        self.form.show_without_judging()
        for rows in self.lists:
            rows.show_without_judging()


def sure_key(asked: dict[str, str]) -> str:
    """Return a key of these values: a yes does not carry over to other odd values."""
    return hashlib.sha256("|".join(f"{k}={v}" for k, v in sorted(asked.items())).encode()).hexdigest()[:16]


def _flag_name(sheet: RowSheet, key: Any, name: str) -> str:
    return f"{sheet.prefix}:{key.hex}:{name}"


def _problems(form: SheetForm, before: str) -> list[tuple[str, str, str]]:
    found = []
    for name, texts in form.errors.items():
        bound = form[name] if name in form.fields else None
        anchor, label = (bound.auto_id, str(bound.label)) if bound else ("", "")
        found += [
            (anchor, before if label in text else f"{before}{label}: ", text) for text in map(str, texts)
        ]
    return found


def _row_changes(rows: RowForms) -> RowChanges:
    write = tuple((form.key, form.values()) for form in rows.live if form.row is None or form.has_changed())
    remove = tuple(form.key for form in rows.forms if form.is_removed and form.row is not None)
    return RowChanges(write=write, remove=remove)


# --- what the buttons beside "Save" do: they change what was typed and store nothing ------------------------

Typed = list[tuple[str, str]]


@functools.cache
def texts_to_add(part: Part, units: str) -> dict[str, Typed]:
    """Return, by code, the row that a pick from the list adds, as a browser sends it; its key is a sample."""
    out: dict[str, Typed] = {}
    for sheet in part.rows:
        for code, values in _pickable(sheet, units).items():
            out[f"{sheet.prefix}:{code}"] = typed_row(sheet, values, units)
    return out


def _pickable(sheet: RowSheet, units: str) -> dict[str, dict[str, Any]]:
    if sheet.prefix == "loads":
        return {
            row["code"]: _columns(sheet, row | {"name": sizing.in_units(row["name"], units)})
            for row in defaults.load_rows()
        }
    if sheet.prefix == "obstacles":
        return {kind: new_obstacle_values(kind, units) for kind in Obstacle.Kind.values}
    return {}


def starting_texts(part: Part, survey: Survey, units: str) -> dict[str, list[Typed]]:
    """Return the usual rows of this vehicle by list, as a browser sends them."""
    return {
        sheet.prefix: [
            typed_row(sheet, _columns(sheet, row), units)
            for row in starters.of_list(sheet.prefix, survey, survey.job.vehicle)
        ]
        for sheet in part.rows
    }


def usual_texts(part: Part, survey: Survey, units: str) -> dict[str, list[str]]:
    """Return what goes into blank fields, by field, in the shop's units."""
    vehicle = survey.job.vehicle
    form = part_form_class(part)(survey=survey, vehicle=vehicle, units=units)
    shown = hints.of_part(part, survey, vehicle, units)
    return {
        fact.name: list(typed_texts(form.fields[fact.name], shown[fact.name].value))
        for fact in part.facts
        if fact.name in shown and shown[fact.name].value is not None
    }


def with_added_row(data: QueryDict, part: Part, what: str, units: str) -> QueryDict:
    """Return what was typed with one more row: ``loads``, ``loads:kettle`` or ``obstacles:vent``."""
    prefix, _, code = what.partition(":")
    sheet = next((sheet for sheet in part.rows if sheet.prefix == prefix), None)
    if sheet is None:
        return data
    return _with_rows(data, [typed_row(sheet, _pickable(sheet, units).get(code, {}), units)])


def with_starting_rows(data: QueryDict, part: Part, survey: Survey, units: str) -> QueryDict:
    """Return what was typed with the usual rows of this vehicle, marked as a guess."""
    texts = starting_texts(part, survey, units)
    for sheet in part.rows:
        rows = texts[sheet.prefix]
        data = _with_rows(data, rows)
        if rows and sheet.guess:
            data[f"guess_{sheet.prefix}"] = "on"
    return data


def with_usual_values(data: QueryDict, part: Part, survey: Survey, units: str) -> QueryDict:
    """Return what was typed with blank fields filled with usual values, each marked as a guess."""
    out = data.copy()
    fields = part_form_class(part).base_fields
    for name, texts in usual_texts(part, survey, units).items():
        if out.get(name, "").strip() not in {"", "unknown"}:
            continue
        out.setlist(name, texts)
        if f"guess_{name}" in fields:
            out[f"guess_{name}"] = "on"
    return out


def _columns(sheet: RowSheet, row: dict[str, Any]) -> dict[str, Any]:
    names = {fact.name for fact in sheet.facts}
    return {name: value for name, value in row.items() if name in names}


def _with_rows(data: QueryDict, rows: list[Typed]) -> QueryDict:
    """Return the data with these rows after those that are there."""
    out = data.copy()
    for name, text in (pair for row in rows for pair in row):
        out.appendlist(name, text)
    return out
