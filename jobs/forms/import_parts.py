"""The catalog as a table: written out, and read back into parts with their data sheets."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from django.db import models
from django.utils import translation
from django.utils.translation import gettext as _

from jobs.forms.import_rows import (
    Column,
    Fault,
    Found,
    ImportRefused,
    bind,
    cells_of,
    columns_of,
    faults_of,
    stored_texts,
)
from jobs.forms.part import SHEET_FORMS, PartForm
from jobs.models import Part, Shop

_SHEETS: Final = tuple(f"{kind}_sheet" for kind in SHEET_FORMS)
_KIND: Final = Column("Kind", "kind", "kind")


@dataclass
class FoundParts(Found):
    """The parts to write, each with its data sheet where its kind has one."""

    rows: list[tuple[Part, models.Model | None]] = field(default_factory=list)


def part_columns(shop: Shop) -> list[Column]:
    """Return the columns of the catalog: the part, then the data sheet of each kind."""
    found = [_KIND, *columns_of(PartForm(shop=shop), "part")]
    for kind, form in SHEET_FORMS.items():
        found += columns_of(form(shop=shop), kind, f"{_kind_words(kind)}: ")
    return found


def _kind_words(kind: str) -> str:
    with translation.override("en"):
        return str(Part.Kind(kind).label)


def part_table(shop: Shop, *, has_rows: bool = True) -> list[list[str]]:
    """Return the shop's catalog as rows of text, its headings first; the headings alone are the template."""
    columns = part_columns(shop)
    rows = [[column.heading for column in columns]]
    parts = Part.objects.of_shop(shop).select_related(*_SHEETS).order_by("kind", "sku")
    for part in parts if has_rows else ():
        texts = {("kind", "kind"): _kind_words(part.kind)}
        texts |= {
            ("part", name): text for name, text in stored_texts(PartForm(shop=shop, instance=part)).items()
        }
        sheet = getattr(part, f"{part.kind}_sheet", None)
        if sheet is not None:
            form = SHEET_FORMS[part.kind](shop=shop, instance=sheet)
            texts |= {(part.kind, name): text for name, text in stored_texts(form).items()}
        rows.append([texts.get((column.group, column.name), "") for column in columns])
    return rows


def parts_found(shop: Shop, rows: list[list[str]]) -> FoundParts:
    """Read a table of parts against the catalog; a stock code that is known changes its part."""
    columns = part_columns(shop)
    read = _Reader(shop, columns)
    lines = cells_of(rows, columns)
    if lines and not {_KIND.key, "stock code"} <= {column.key for column in lines[0][1]}:
        raise ImportRefused(_("The columns “Kind” and “Stock code” must be there."))
    for line, cells in lines:
        read.row(line, {(column.group, column.name): text for column, text in cells.items()})
    return read.found


class _Reader:
    """Reads row after row and keeps what was found."""

    def __init__(self, shop: Shop, columns: list[Column]) -> None:
        self.shop, self.columns, self.found = shop, columns, FoundParts()
        parts = Part.objects.of_shop(shop).select_related("shop", *_SHEETS)
        self.known = {part.sku.casefold(): part for part in parts}
        self.lines: dict[str, int] = {}

    def row(self, line: int, cells: dict[tuple[str, str], str]) -> None:
        """Read one row."""
        kind, sku = _kind_of(cells.get(("kind", "kind"), "")), cells.get(("part", "sku"), "").strip()
        problem = self._problem(line, kind, sku)
        if problem is not None or kind is None:
            self.found.faults += [problem] if problem else []
            return
        part = self.known.get(sku.casefold()) or Part(shop=self.shop, kind=kind)
        bound = [(bind(partial(PartForm, shop=self.shop), part, _group(cells, "part")), "part")]
        if kind in SHEET_FORMS:
            form = SHEET_FORMS[kind]
            sheet: Any = getattr(part, f"{kind}_sheet", None) if part.pk else None
            sheet = sheet or form._meta.model()
            filled = bind(partial(form, shop=self.shop), sheet, _group(cells, kind))
            if filled.faults or not filled.form.is_idle:
                bound.append((filled, kind))
        for one, group in bound:
            self.found.faults += faults_of(one, line, group, self.columns)
            self.found.questions += [Fault(line, "", words) for words in one.questions]
        self._count(part, [one for one, _group in bound])

    def _problem(self, line: int, kind: str | None, sku: str) -> Fault | None:
        if kind is None:
            kinds = ", ".join(_kind_words(one) for one in Part.Kind.values)
            return Fault(line, _KIND.heading, _("Say one of: {kinds}.").format(kinds=kinds))
        if not sku:
            return Fault(line, "Stock code", _("Please give a stock code: parts are told apart by it."))
        first = self.lines.setdefault(sku.casefold(), line)
        if first != line:
            return Fault(
                line, "Stock code", _("{sku} stands in row {row} already.").format(sku=sku, row=first)
            )
        known = self.known.get(sku.casefold())
        if known is not None and known.kind != kind:
            words = _("{sku} is a part of another kind: a part keeps its kind.")
            return Fault(line, _KIND.heading, words.format(sku=sku))
        return None

    def _count(self, part: Part, bound: list[Any]) -> None:
        if part.pk is None:
            self.found.new += 1
        elif any(one.is_changed or one.record.pk is None for one in bound):
            self.found.changed += 1
        else:
            self.found.same += 1
            return
        self.found.rows.append((bound[0].record, bound[1].record if len(bound) > 1 else None))


def _kind_of(text: str) -> str | None:
    said = text.strip().casefold()
    return next((kind for kind in Part.Kind.values if said in {kind, _kind_words(kind).casefold()}), None)


def _group(cells: dict[tuple[str, str], str], group: str) -> dict[str, str]:
    return {name: text for (of, name), text in cells.items() if of == group}
