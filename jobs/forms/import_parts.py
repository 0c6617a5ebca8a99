"""The catalog as a table: written out, and read back into parts with their data sheets."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any, Final

from django.db import models
from django.utils import translation
from django.utils.translation import gettext as _

from jobs.forms.import_fast import Filled, Filler, headings_of
from jobs.forms.import_rows import (
    TELL_ROWS,
    Column,
    Fault,
    Found,
    ImportRefused,
    Tell,
    cells_of,
    columns_of,
    said_nothing,
)
from jobs.forms.part import SHEET_FORMS, Beside, PartForm
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
    fillers = Fillers(shop, Beside.of_shop(shop, ()))
    for part in parts if has_rows else ():
        texts = {("kind", "kind"): _kind_words(part.kind)}
        texts |= {("part", name): text for name, text in fillers.of("part").texts(part).items()}
        sheet = getattr(part, f"{part.kind}_sheet", None)
        if sheet is not None:
            found = fillers.of(part.kind).texts(sheet)
            texts |= {(part.kind, name): text for name, text in found.items()}
        rows.append([texts.get((column.group, column.name), "") for column in columns])
    return rows


class Fillers:
    """A form for parts and one for each kind of data sheet, made when first asked for."""

    def __init__(self, shop: Shop, beside: Beside) -> None:
        self.shop, self.beside = shop, beside
        self._made: dict[str, Filler] = {}

    def of(self, group: str) -> Filler:
        """Return the form of a group of columns."""
        if group not in self._made:
            self._made[group] = self._make(group)
        return self._made[group]

    def _make(self, group: str) -> Filler:
        if group == "part":
            make = partial(PartForm, shop=self.shop, beside=self.beside)
            return Filler(make, partial(Part, shop=self.shop))
        form = SHEET_FORMS[group]
        return Filler(partial(form, shop=self.shop), form._meta.model)


def parts_found(shop: Shop, rows: list[list[str]], tell: Tell = said_nothing) -> FoundParts:
    """Read a table of parts against the catalog; a stock code that is known changes its part.

    ``tell`` is told the share that is read, from time to time.
    """
    columns = part_columns(shop)
    read = _Reader(shop, columns)
    lines = cells_of(rows, columns)
    if lines and not {_KIND.key, "stock code"} <= {column.key for column in lines[0][1]}:
        raise ImportRefused(_("The columns “Kind” and “Stock code” must be there."))
    for done, (line, cells) in enumerate(lines):
        if done % TELL_ROWS == 0:
            tell(done, len(lines))
        read.row(line, {(column.group, column.name): text for column, text in cells.items()})
    return read.found


class _Reader:
    """Reads row after row and keeps what was found."""

    def __init__(self, shop: Shop, columns: list[Column]) -> None:
        self.shop, self.columns, self.found = shop, columns, FoundParts()
        parts = list(Part.objects.of_shop(shop).select_related("shop", *_SHEETS))
        self.beside = Beside.of_shop(shop, parts)
        self.known = dict(self.beside.skus)
        self.lines: dict[str, int] = {}
        self.fillers = Fillers(shop, self.beside)
        self.headings = {group: headings_of(columns, group) for group in ("part", *SHEET_FORMS)}

    def row(self, line: int, cells: dict[tuple[str, str], str]) -> None:
        """Read one row."""
        kind, sku = _kind_of(cells.get(("kind", "kind"), "")), cells.get(("part", "sku"), "").strip()
        problem = self._problem(line, kind, sku)
        if problem is not None or kind is None:
            self.found.faults += [problem] if problem else []
            return
        part = self.known.get(sku.casefold()) or Part(shop=self.shop, kind=kind)
        filled = [self._filled("part", part, cells)]
        if kind in SHEET_FORMS:
            sheet = getattr(part, f"{kind}_sheet", None) if part.pk else None
            sheet_filled = self._filled(kind, sheet or SHEET_FORMS[kind]._meta.model(), cells)
            filled += [] if sheet_filled.is_idle and not sheet_filled.faults else [sheet_filled]
        for one, group in zip(filled, ("part", kind), strict=False):
            self.found.faults += one.faults_at(line, self.headings[group])
            self.found.questions += [Fault(line, "", words) for words in one.questions]
        self._count(part, filled)
        self._number_once(line, filled[0].record)

    def _filled(self, group: str, record: Any, cells: dict[tuple[str, str], str]) -> Filled:
        return self.fillers.of(group).fill(record, _group(cells, group))

    def _number_once(self, line: int, part: Part) -> None:
        """Tell of a supplier's number that two rows carry."""
        if not part.supplier_number or part.supplier_id is None:
            return
        key = f"{part.supplier_id}/{part.supplier_number}"
        first = self.lines.setdefault(key, line)
        if first != line:
            words = _("{number} stands in row {row} already.")
            heading = self.headings["part"]["supplier_number"]
            self.found.faults.append(
                Fault(line, heading, words.format(number=part.supplier_number, row=first))
            )

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

    def _count(self, part: Part, filled: list[Filled]) -> None:
        if part.pk is None:
            self.found.new += 1
        elif any(one.is_changed or one.record.pk is None for one in filled):
            self.found.changed += 1
        else:
            self.found.same += 1
            return
        self.found.rows.append((filled[0].record, filled[1].record if len(filled) > 1 else None))


def _kind_of(text: str) -> str | None:
    return _kinds().get(text.strip().casefold())


@cache
def _kinds() -> dict[str, str]:
    """Return the kinds by what a cell may say of them."""
    kinds = Part.Kind.values
    return {kind: kind for kind in kinds} | {_kind_words(kind).casefold(): kind for kind in kinds}


def _group(cells: dict[tuple[str, str], str], group: str) -> dict[str, str]:
    return {name: text for (of, name), text in cells.items() if of == group}
