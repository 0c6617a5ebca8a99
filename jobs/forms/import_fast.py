"""Fills one form again and again from rows of a long table: making a form takes longer than reading a row."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.forms.models import model_to_dict
from django.utils import translation
from django.utils.translation import gettext as _

from common.forms import SureBox
from jobs.forms.import_rows import NO, OWN, YES, Column, Fault, text_of

_PLAIN: Final = forms.HiddenInput


@dataclass(frozen=True, slots=True)
class Filled:
    """A record with a row's values, not stored yet; what is wrong with it and what must be asked."""

    record: Any
    is_changed: bool
    is_idle: bool
    faults: list[tuple[str, str]]
    questions: list[str]

    def faults_at(self, line: int, named: Mapping[str, str]) -> list[Fault]:
        """Return what is wrong, by heading."""
        return [Fault(line, named.get(name, _("Whole row")), reason) for name, reason in self.faults]


class Filler:
    """One form of one kind of record. ``make`` makes the form, ``blank`` a record that is not stored.

    The database's own constraints are left to the writing: the reader knows what stands beside a row.
    """

    def __init__(self, make: Callable[..., Any], blank: Callable[[], Any]) -> None:
        self.form = make({}, instance=blank())
        self.form.validate_unique = self.form.validate_constraints = lambda: None
        self.fields = {name: one for name, one in self.form.fields.items() if name not in OWN}
        self._start = dict(self.form.initial)
        with translation.override("en"):
            self._said = {name: _choices(one) for name, one in self.fields.items()}
            self._words = {name: _labels(one) for name, one in self.fields.items()}
        self._turn_to(blank())
        self._blank = self._texts()

    def fill(self, record: Any, cells: Mapping[str, str]) -> Filled:
        """Fill the form from cells by field; a column that is not there leaves what is stored."""
        is_new = record.pk is None
        self._turn_to(copy.copy(record))
        stored = self._blank if is_new else self._texts()
        if not is_new and all(cells.get(name, text) == text for name, text in stored.items()):
            return Filled(record, False, False, [], [])
        data, faults = self._sent(cells, stored, is_new=is_new)
        questions = self._clean(data)
        for name, words in self.form.errors.items():
            faults += [(name, str(reason)) for reason in words]
        found = self.form.instance
        names = self.form._meta.fields
        is_changed = any(getattr(found, name) != getattr(record, name) for name in names)
        is_idle = is_new and not is_changed and getattr(self.form, "may_be_empty", False)
        return Filled(found, is_changed, is_idle, faults, questions)

    def texts(self, record: Any) -> dict[str, str]:
        """Return what a stored record's form shows, as text for cells."""
        self._turn_to(record)
        return self._texts()

    def _turn_to(self, record: Any) -> None:
        form = self.form
        form.instance = record
        form.initial = dict(self._start) if record.pk is None else self._initial(record)
        if hasattr(form, "meets"):
            form.meets(record)

    def _initial(self, record: Any) -> dict[str, Any]:
        return model_to_dict(record, self.form._meta.fields)

    def _texts(self) -> dict[str, str]:
        return {name: text_of(self.form, name, one, self._words[name]) for name, one in self.fields.items()}

    def _sent(
        self, cells: Mapping[str, str], stored: Mapping[str, str], *, is_new: bool
    ) -> tuple[dict[str, str], list[tuple[str, str]]]:
        """Return what a page would have sent, and the cells that say neither yes nor no."""
        data: dict[str, str] = {}
        faults: list[tuple[str, str]] = []
        for name, one in self.fields.items():
            text = cells.get(name)
            if text is None or (text == "" and is_new):
                text = stored[name]
            if not isinstance(one, forms.BooleanField):
                data[self.form.add_prefix(name)] = self._said[name].get(text.casefold(), text)
            elif text.casefold() not in YES | NO:
                faults.append((name, _("“{text}” is neither yes nor no.").format(text=text[:40])))
            elif text.casefold() in YES:
                data[self.form.add_prefix(name)] = "on"
        return data, faults

    def _clean(self, data: dict[str, str]) -> list[str]:
        """Judge the form; return what is unusual, which is then taken as said yes to."""
        self._judge(data)
        box = self.form.fields["sure"].widget
        if not isinstance(box, SureBox):
            return []
        questions = list(self.form.unusual.values())
        self._judge(data | {self.form.add_prefix("sure"): box.key})
        return questions

    def _judge(self, data: dict[str, str]) -> None:
        form = self.form
        form._bound_fields_cache.clear()
        form.fields["sure"].widget = _PLAIN()
        form.unusual, form.meanwhile, form.data = {}, {}, data
        form.full_clean()


def headings_of(columns: list[Column], group: str) -> dict[str, str]:
    """Return the headings of a group's columns by field."""
    return {column.name: column.heading for column in columns if column.group == group}


def _choices(one: forms.Field) -> dict[str, str]:
    """Return what a cell may say for each choice: its value or its words."""
    choices = [(str(key), str(label)) for key, label in getattr(one, "choices", ())]
    return {key.casefold(): key for key, _ in choices} | {label.casefold(): key for key, label in choices}


def _labels(one: forms.Field) -> dict[str, str]:
    return {str(key): str(label) for key, label in getattr(one, "choices", ())}
