"""What a person may type in the survey's rows. Rows find each other by a key, never by their place."""

from __future__ import annotations

import functools
import itertools
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.core.exceptions import SuspiciousOperation
from django.db import models
from django.forms.utils import ErrorDict
from django.urls import reverse_lazy
from django.utils.translation import gettext_lazy as _

import sizing
from common import units as trade
from common.edit_conflicts import WatchedForm
from common.forms import ShopForm, choices_of
from jobs.forms.survey_fields import field_for
from jobs.models import Obstacle, Survey, WireLeg
from jobs.survey import RowSheet, defaults, places

MOST_ROWS = 200
#: Latitude and longitude of a place [°]; the longitude may be unknown.
type Spot = tuple[float, float | None]
#: Sizes of a thing on the roof that may be left blank where its kind has a usual one.
USUAL_SIZES = ("length_m", "width_m", "height_m", "height_open_m", "keep_out_m")


class SheetForm(ShopForm, forms.Form):
    """Facts of the sheet as a form. Odd values are collected; the page asks about all of them at once."""

    use_required_attribute = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["sure"]

    def _ask(self) -> None:
        """Leave the question to the page."""

    def show_without_judging(self) -> None:
        """Let the form be shown with what was typed and without errors: nothing is being saved."""
        self._errors = ErrorDict()
        self.cleaned_data = {}

    def questions(self) -> dict[str, str]:
        """Return the questions about values outside the usual range, by field."""
        return self.unusual if self.is_bound else {}


class RowForm(WatchedForm, SheetForm):
    """One row. ``row`` is the stored one, or None for a new row, or for one that was removed elsewhere."""

    def __init__(self, *args: Any, sheet: RowSheet, key: uuid.UUID, row: Any, **kwargs: Any) -> None:
        self.sheet, self.key, self.row = sheet, key, row
        initial = _values(sheet, row) if row is not None else _blank_values(sheet)
        super().__init__(*args, prefix=f"{sheet.prefix}-{key.hex}", initial=initial, **kwargs)
        self.fields["remove"] = forms.BooleanField(required=False, label=_("Remove this row"))

    def is_watched(self) -> bool:
        """Return whether the row is stored."""
        return self.row is not None

    @functools.cached_property
    def removed_elsewhere(self) -> bool | None:
        """Return, of a row that is stored no more, whether this page left it as it was; else None."""
        shown = self.page_showed() if self.is_bound and self.row is None else {}
        names = [fact.name for fact in self.sheet.facts if fact.name in shown]
        return all(self._typed(name) == shown[name] for name in names) if shown else None

    def clean(self) -> dict[str, Any]:
        """Ask once about a row that was changed here and removed elsewhere."""
        if self.removed_elsewhere is False:
            text = "Removed elsewhere since this page was opened. Save again to keep it."
            self.add_error(self.sheet.facts[0].name, text)
        return super().clean()

    @property
    def is_removed(self) -> bool:
        """Return whether the row is to go."""
        return self.is_bound and self.add_prefix("remove") in self.data

    @property
    def is_blank(self) -> bool:
        """Return whether this is a new row in which nothing was typed."""
        return self.row is None and not self.has_changed()

    @property
    def counts(self) -> bool:
        """Return whether the row is to be read at all."""
        return not self.is_removed and not self.is_blank

    def main_fields(self) -> list[forms.BoundField]:
        """Return the fields that always show."""
        return [self[fact.name] for fact in self.sheet.facts if fact.name not in self.sheet.details]

    def detail_fields(self) -> list[forms.BoundField]:
        """Return the fields under "More"."""
        return [self[name] for name in self.sheet.details]

    @property
    def remove_field(self) -> forms.BoundField:
        """Return the box that takes the row away."""
        return self["remove"]

    @property
    def kind_shown(self) -> str:
        """Return the kind the row has on the page, so that what does not belong to it can step back."""
        return str(self["kind"].value() or "") if "kind" in self.fields else ""

    @property
    def details_said(self) -> str:
        """Return which facts under "More" hold something, in words."""
        start = {
            name: self.fields[name].prepare_value(value) for name, value in _blank_values(self.sheet).items()
        }
        names = [
            name
            for name in self.sheet.details
            if self[name].value() not in (start.get(name), None, "", False)
        ]
        return ", ".join(str(self.fields[name].label) for name in names)

    @property
    def advice(self) -> str:
        """Return what to mind about this kind of thing."""
        if self.sheet.prefix != "obstacles":
            return ""
        return str(defaults.obstacle_usual(self.kind_shown).get("note", ""))

    @property
    def has_detail_errors(self) -> bool:
        """Return whether a field under "More" is wrong, so that it is shown open."""
        return any(name in self.errors for name in self.sheet.details)

    @property
    def called(self) -> str:
        """Return what to call the row in a question about it."""
        names = ("label", "name", "circuit", "kind", "place")
        name = next((name for name in names if self.cleaned_data.get(name)), "")
        text = str(self.cleaned_data.get(name) or self.sheet.noun.capitalize())
        return dict(choices_of(self, name))[text] if name == "kind" else text

    def values(self) -> dict[str, Any]:
        """Return the row's columns as typed."""
        return {fact.name: self.cleaned_data[fact.name] for fact in self.sheet.facts}


class ObstacleForm(RowForm):
    """A thing on the roof: a blank size takes the usual one; reaching over the roof's edge is asked about."""

    roof: tuple[float | None, float | None] = (None, None)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in USUAL_SIZES:
            self.fields[name].required = False

    def clean(self) -> dict[str, Any]:
        """Fill in usual sizes, then ask about odd ones."""
        cleaned = self.cleaned_data
        usual = defaults.obstacle_usual(cleaned.get("kind", ""), self.units)
        for name in USUAL_SIZES:
            if name not in self.errors and cleaned.get(name) is None and usual.get(name) is not None:
                cleaned[name] = usual[name]
                cleaned["is_guess"] = cleaned.get("is_guess") or name != "keep_out_m"
        for name in ("length_m", "width_m", "height_m"):
            if name not in self.errors and cleaned.get(name) is None:
                label = self.fields[name].label
                self.add_error(name, f"{label} is needed: this kind has no usual size.")
        if cleaned.get("keep_out_m") is None:
            cleaned["keep_out_m"] = trade.tidy(0.1, "m", self.units)
        cleaned["is_round"] = cleaned.get("is_round") or (self.row is None and usual.get("is_round", False))
        return super().clean()

    def odd_values(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Return what to ask about a thing that reaches over the roof's edge."""
        found = {}
        for start, size, roof_size, edge in (
            ("x_m", "length_m", self.roof[0], "front"),
            ("y_m", "width_m", self.roof[1], "left"),
        ):
            if roof_size is None or cleaned.get(start) is None or cleaned.get(size) is None:
                continue
            over = cleaned[start] + cleaned[size] - roof_size
            if over > 0.005:
                text = trade.show(over, "m", self.units)
                found[start] = f"reaches {text} over the {edge} edge of the flat roof"
        return found


class StopForm(RowForm):
    """A place: latitude and longitude come from the towns and the shop's own places where they are blank."""

    known: Mapping[str, Spot] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["latitude_deg"].required = False
        self.fields["place"].widget.attrs |= {
            "list": "known-places",
            "autocomplete": "off",
            "hx-get": str(reverse_lazy("jobs:place_search")),
            "hx-trigger": "input changed delay:250ms",
            "hx-target": "#known-places",
        }

    def clean(self) -> dict[str, Any]:
        """Find the town, then ask about odd values."""
        cleaned = self.cleaned_data
        lacks_latitude = cleaned.get("latitude_deg") is None and "latitude_deg" not in self.errors
        if lacks_latitude and cleaned.get("place"):
            self._find(cleaned)
        elif lacks_latitude:
            self.add_error("latitude_deg", _("Latitude is needed: give it, or a town of the list."))
        return super().clean()

    def _find(self, cleaned: dict[str, Any]) -> None:
        own = self.known.get(places.plain(cleaned["place"]))
        found = places.towns_named(cleaned["place"])
        if own is not None:
            cleaned["latitude_deg"], cleaned["longitude_deg"] = own
        elif len(found) == 1:
            town = found[0]
            cleaned["place"] = str(town)
            cleaned["latitude_deg"], cleaned["longitude_deg"] = town.latitude_deg, town.longitude_deg
        elif found:
            names = "; ".join(str(town) for town in found[:8])
            self.add_error("place", f"There are several: {names}. Add the state, or give the latitude.")
        else:
            self.add_error(
                "place", _("This town is not in the list: give its latitude and longitude under “More”.")
            )


_KINDS: Mapping[str, type[RowForm]] = {"obstacles": ObstacleForm, "stops": StopForm}


class RowForms:
    """The rows of one list: stored ones, typed ones, and one blank row that stands ready."""

    def __init__(
        self,
        sheet: RowSheet,
        survey: Survey,
        *,
        units: str,
        data: Any = None,
        with_blank: bool = True,
        known_places: Mapping[str, Spot] | None = None,
        seed: str = "",
    ) -> None:
        self.sheet, self.data, self.units = sheet, data, units
        self.known_places = known_places or {}
        rows = sorted(getattr(survey, sheet.prefix).all(), key=_order)
        self.stored = {row.key: row for row in rows}
        self.roof = (survey.roof_length_m, survey.roof_width_m)
        keys = list(self.stored) if data is None else self._posted_keys()
        if data is None and with_blank:
            keys.append(self._blank_key(f"{seed}:{survey.pk}:{sheet.prefix}"))
        self.forms = [form for form in map(self._form, keys) if not form.removed_elsewhere]

    def _posted_keys(self) -> list[uuid.UUID]:
        texts = self.data.getlist(f"{self.sheet.prefix}-key")
        try:
            return list(dict.fromkeys(uuid.UUID(text) for text in texts))
        except ValueError:
            raise SuspiciousOperation("a row's key was not one that this page made") from None

    def _blank_key(self, seed: str) -> uuid.UUID:
        """Return the key of the blank row: the same on a second load, so that kept text finds it."""
        numbers = itertools.count(len(self.stored))
        keys = (uuid.uuid5(uuid.NAMESPACE_OID, f"{seed}:{number}") for number in numbers)
        return next(key for key in keys if key not in self.stored)

    @property
    def template_form(self) -> RowForm:
        """Return a blank row from which script makes new ones; its key is all zeros."""
        return row_form_class(self.sheet)(units=self.units, sheet=self.sheet, key=uuid.UUID(int=0), row=None)

    def _form(self, key: uuid.UUID) -> RowForm:
        form = row_form_class(self.sheet)(
            self.data, units=self.units, sheet=self.sheet, key=key, row=self.stored.get(key)
        )
        if isinstance(form, ObstacleForm):
            form.roof = self.roof
        if isinstance(form, StopForm):
            form.known = self.known_places
        return form

    @property
    def live(self) -> list[RowForm]:
        """Return the rows that are to be read."""
        return [form for form in self.forms if form.counts]

    @property
    def too_many(self) -> str:
        """Return what to say when there are more rows than a survey can have."""
        count = len(self.forms)
        return f"{self.sheet.title}: at most {MOST_ROWS} rows, got {count}." if count > MOST_ROWS else ""

    def is_valid(self) -> bool:
        """Return whether every row that counts is right."""
        answers = [form.is_valid() for form in self.live]  # every row is judged, not only the first wrong one
        return not self.too_many and all(answers)

    def leave_out_what_does_not_count(self) -> None:
        """Show blank and removed rows as they are: nobody asks what is wrong with them."""
        for form in self.forms:
            if not form.counts:
                form.show_without_judging()

    def values(self) -> list[dict[str, Any]]:
        """Return the rows that are right, in order; for a preview while others are still being typed."""
        return [form.values() for form in self.live if form.is_valid()]

    def show_without_judging(self) -> None:
        """Show what was typed, without errors."""
        for form in self.forms:
            form.show_without_judging()


def _order(row: Any) -> int:
    """Return where a row stands: wire legs by the number of their circuit, the rest as stored."""
    return int(row.circuit.removeprefix("C")) if isinstance(row, WireLeg) else 0


@functools.cache
def row_form_class(sheet: RowSheet) -> type[RowForm]:
    """Return the form for one row of a list."""
    model = _model_of(sheet)
    fields = {fact.name: field_for(fact, model) for fact in sheet.facts}
    base = _KINDS.get(sheet.prefix, RowForm)
    metaclass: Any = type(base)
    made: type[RowForm] = metaclass(f"{base.__name__}_{sheet.prefix}", (base,), fields)
    return made


def _model_of(sheet: RowSheet) -> type[models.Model]:
    found = Survey._meta.get_field(sheet.prefix).related_model
    if not isinstance(found, type):
        raise TypeError(f"{sheet.prefix} are no rows of a survey")
    return found


def _values(sheet: RowSheet, row: Any) -> dict[str, Any]:
    return {fact.name: getattr(row, fact.name) for fact in sheet.facts}


@functools.cache
def _blank_row(sheet: RowSheet) -> Any:
    return _model_of(sheet)()


def _blank_values(sheet: RowSheet) -> dict[str, Any]:
    """Return what a new row starts with: the columns' own defaults; nothing for what must be typed."""
    values = _values(sheet, _blank_row(sheet))
    if sheet.prefix == "obstacles":
        values["keep_out_m"] = None  # by kind
    if sheet.prefix == "wire_legs":
        values["circuit"] = sizing.CircuitKind.HOME_RUN.value
    return {name: value for name, value in values.items() if value not in ("", None)}


def typed_row(sheet: RowSheet, values: Mapping[str, Any], units: str) -> list[tuple[str, str]]:
    """Return a new row as a browser would send it: name and text of every field, key included."""
    key = uuid.uuid4()
    form = row_form_class(sheet)(units=units, sheet=sheet, key=key, row=None)
    out = [(f"{sheet.prefix}-key", key.hex)]
    for name, value in ({**form.initial, **values}).items():
        if name in form.fields:
            out.extend((form.add_prefix(name), text) for text in typed_texts(form.fields[name], value))
    return out


def typed_texts(field: forms.Field, value: Any) -> Iterable[str]:
    """Return what a browser sends for a value: nothing for an empty box, several for a list."""
    if isinstance(field, forms.MultipleChoiceField):
        return [str(item) for item in value or ()]
    if isinstance(field, forms.NullBooleanField):
        return ["unknown" if value is None else str(bool(value)).lower()]
    if isinstance(field, forms.BooleanField):
        return ["on"] if value else []
    shown = field.prepare_value(value)
    return [] if shown is None else [str(shown)]


def new_obstacle_values(kind: str, units: str) -> dict[str, Any]:
    """Return the usual size of a thing on the roof as a new row, marked as a guess."""
    usual = defaults.obstacle_usual(kind, units)
    columns = {field.name for field in Obstacle._meta.get_fields()}
    values = {name: value for name, value in usual.items() if name in columns and value is not None}
    return {"kind": kind, "is_guess": usual.get("length_m") is not None} | values
