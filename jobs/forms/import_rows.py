"""How a row of a table becomes what a form was sent, and a record a row: by the words beside each field."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django import forms
from django.utils import translation
from django.utils.translation import gettext as _

from common import units as trade
from common.fields import QuantityField
from common.forms import SureBox
from jobs.shop.refusals import Refusal

YES: Final = {"yes", "y", "true", "x", "1", "on"}
NO: Final = {"no", "n", "false", "0", "", "off"}
OWN: Final = {"sure", "shown"}


#: Progress is told every so many rows.
TELL_ROWS: Final = 100
type Tell = Callable[[int, int], None]


def said_nothing(done: int, of: int) -> None:
    """Tell nobody how far a table is read."""


class ImportRefused(Refusal):
    """The table cannot be taken in at all; says why."""


@dataclass(frozen=True)
class Fault:
    """What is wrong with one cell: its row in the file, its heading, the reason."""

    line: int
    heading: str
    reason: str


@dataclass
class Found:
    """What a table holds: how many records are new, changed, as stored or passed over; what is wrong."""

    new: int = 0
    changed: int = 0
    same: int = 0
    passed: int = 0
    faults: list[Fault] = field(default_factory=list)
    questions: list[Fault] = field(default_factory=list)

    @property
    def has_news(self) -> bool:
        """Return whether anything would be written."""
        return bool(self.new or self.changed)


@dataclass(frozen=True)
class Column:
    """One column: its heading, and the field it fills; ``group`` tells forms apart."""

    heading: str
    group: str
    name: str

    @property
    def key(self) -> str:
        """Return the heading as it is compared."""
        return heading_key(self.heading)


def heading_key(heading: str) -> str:
    """Return a heading without its unit, case and double blanks."""
    return " ".join(re.sub(r"\([^()]*\)\s*$", "", heading).casefold().split())


def columns_of(form: Any, group: str, before: str = "") -> list[Column]:
    """Return the columns of a form, in English in every language: files are shared."""
    with translation.override("en"):
        return [Column(f"{before}{one.label}{_unit(one)}", group, name) for name, one in _fields(form)]


def _fields(form: Any) -> Iterator[tuple[str, forms.Field]]:
    return ((name, one) for name, one in form.fields.items() if name not in OWN)


def _unit(one: forms.Field) -> str:
    if not isinstance(one, QuantityField):
        return ""
    label = trade.kind_of(one.unit).display(one.units).label
    return f" ({label})" if label else ""


def cells_of(rows: Sequence[Sequence[str]], columns: Sequence[Column]) -> list[tuple[int, dict[Column, str]]]:
    """Return each row's number in the file and its cells by column; blank rows are passed over."""
    by_key = {column.key: column for column in columns}
    keys = [heading_key(cell) for cell in rows[0]]
    unknown = [cell for cell, key in zip(rows[0], keys, strict=True) if key and key not in by_key]
    if unknown:
        raise ImportRefused(
            _("Unknown heading: {headings}. The template shows the headings that are known.").format(
                headings=", ".join(f"“{one[:60]}”" for one in unknown[:5])
            )
        )
    twice = sorted({key for key in keys if key and keys.count(key) > 1})
    if twice:
        raise ImportRefused(_("Heading twice: {headings}.").format(headings=", ".join(twice)))
    return [
        (line, {by_key[key]: cell for key, cell in zip(keys, row, strict=False) if key})
        for line, row in enumerate(rows[1:], start=2)
        if any(row)
    ]


def stored_texts(form: Any) -> dict[str, str]:
    """Return what a record's form shows, as text for cells."""
    with translation.override("en"):
        return {name: _text(form, name, one) for name, one in _fields(form)}


def _text(form: Any, name: str, one: forms.Field) -> str:
    words = {str(key): str(label) for key, label in getattr(one, "choices", ())}
    return text_of(form, name, one, words)


def text_of(form: Any, name: str, one: forms.Field, words: Mapping[str, str]) -> str:
    """Return what a field of a form shows, as text for a cell; ``words`` are those of its choices."""
    value = form.get_initial_for_field(one, name)
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if words and not isinstance(one, forms.NullBooleanField):
        return words.get(str(value), str(value))
    return str(one.prepare_value(value))


@dataclass
class Bound:
    """A form filled from a row, what is wrong with it and what must be asked."""

    form: Any
    faults: list[tuple[str, str]]
    questions: list[str]

    @property
    def record(self) -> Any:
        """Return the record with the row's values, not stored yet."""
        return self.form.instance

    @property
    def is_changed(self) -> bool:
        """Return whether a stored record would change."""
        return bool([name for name in self.form.changed_data if name not in OWN])


def bind(make: Callable[..., Any], record: Any, cells: Mapping[str, str]) -> Bound:
    """Fill a form of a record from cells by field; a column that is not there leaves what is stored."""
    blank, faults = make(None, instance=copy.copy(record)), []
    data: dict[str, str] = {}
    stored = stored_texts(blank)
    for name, one in _fields(blank):
        text = cells.get(name)
        if text is None or (text == "" and record.pk is None):
            text = stored[name]
        try:
            sent = _sent(one, text)
        except ValueError:
            faults.append((name, _("“{text}” is neither yes nor no.").format(text=text[:40])))
            continue
        if sent is not None:
            data[blank.add_prefix(name)] = sent
    form = make(data, instance=copy.copy(record))
    form.is_valid()
    questions: list[str] = []
    box = form.fields["sure"].widget
    if isinstance(box, SureBox):
        questions = list(form.unusual.values())
        form = make(data | {form.add_prefix("sure"): box.key}, instance=copy.copy(record))
        form.is_valid()
    for name, words in form.errors.items():
        faults += [(name, str(reason)) for reason in words]
    return Bound(form, faults, questions)


def _sent(one: forms.Field, text: str) -> str | None:
    """Return what a page would have sent for a text; raise ValueError where it says neither yes nor no."""
    if isinstance(one, forms.BooleanField):
        said = text.casefold()
        if said not in YES | NO:
            raise ValueError(text)
        if isinstance(one, forms.NullBooleanField):
            return "unknown" if not text else "true" if said in YES else "false"
        return "on" if said in YES else None
    with translation.override("en"):
        for key, label in getattr(one, "choices", ()):
            if text.casefold() in {str(key).casefold(), str(label).casefold()}:
                return str(key)
    return text


def faults_of(bound: Bound, line: int, group: str, columns: Sequence[Column]) -> list[Fault]:
    """Return what is wrong with a filled form, by heading."""
    named = {column.name: column.heading for column in columns if column.group == group}
    return [Fault(line, named.get(name, _("Whole row")), reason) for name, reason in bound.faults]
