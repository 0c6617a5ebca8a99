"""A supplier's price list as a table: new costs of parts, found by the supplier's number."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from common.currency import MOST_PLACES
from jobs.forms.amounts import AmountField
from jobs.forms.import_rows import (
    TELL_ROWS,
    Column,
    Fault,
    Found,
    ImportRefused,
    Tell,
    cells_of,
    said_nothing,
)
from jobs.models import Part, Shop

_SUPPLIER: Final = Column("Supplier", "price", "supplier")
_NUMBER: Final = Column("Supplier's number", "price", "number")
_COST: Final = Column("Cost to the shop", "price", "cost")
_COLUMNS: Final = [_SUPPLIER, _NUMBER, _COST]


@dataclass
class FoundPrices(Found):
    """The parts with their new costs."""

    parts: list[Part] = field(default_factory=list)


def price_table(shop: Shop, *, has_rows: bool = True) -> list[list[str]]:
    """Return supplier, number and cost of every part that has a number, the headings first."""
    parts = Part.objects.of_shop(shop).exclude(supplier_number="").select_related("supplier")
    found = parts.order_by("supplier__name", "supplier_number") if has_rows else ()
    rows = [[str(part.supplier), part.supplier_number, f"{part.cost:f}"] for part in found]
    return [[column.heading for column in _COLUMNS], *rows]


def prices_found(shop: Shop, rows: list[list[str]], tell: Tell = said_nothing) -> FoundPrices:
    """Read a price list; numbers the catalog does not have are passed over, for a list holds many more."""
    read = _Reader(shop)
    lines = cells_of(rows, _COLUMNS)
    if lines and not {_NUMBER, _COST} <= set(lines[0][1]):
        raise ImportRefused(_("The columns “Supplier's number” and “Cost to the shop” must be there."))
    for done, (line, cells) in enumerate(lines):
        if done % TELL_ROWS == 0:
            tell(done, len(lines))
        read.row(line, cells)
    return read.found


class _Reader:
    """Reads row after row and keeps what was found."""

    def __init__(self, shop: Shop) -> None:
        self.found = FoundPrices()
        self.cost = AmountField(label="Cost to the shop", unit=shop.currency, places=MOST_PLACES)
        self.by_number: dict[str, list[Part]] = {}
        self.suppliers: set[str] = set()
        self.lines: dict[int, int] = {}
        parts = Part.objects.of_shop(shop).exclude(supplier_number="").select_related("shop", "supplier")
        for part in parts:
            self.by_number.setdefault(part.supplier_number.casefold(), []).append(part)
        self.suppliers = {one.casefold() for one in shop.suppliers.values_list("name", flat=True)}

    def row(self, line: int, cells: dict[Column, str]) -> None:
        """Read one row."""
        number, supplier = cells[_NUMBER].strip(), cells.get(_SUPPLIER, "").strip()
        problem = self._problem(line, number, supplier)
        parts = self._parts(number, supplier)
        if problem is None and len(parts) > 1:
            words = _("Number {number} is that of two suppliers: fill in the column “Supplier”.")
            problem = Fault(line, _SUPPLIER.heading, words.format(number=number))
        if problem is not None:
            self.found.faults.append(problem)
        elif not parts:
            self.found.passed += 1
        else:
            self._price(line, parts[0], cells[_COST])

    def _problem(self, line: int, number: str, supplier: str) -> Fault | None:
        if not number:
            return Fault(line, _NUMBER.heading, _("Please give the supplier's number."))
        if supplier and supplier.casefold() not in self.suppliers:
            return Fault(line, _SUPPLIER.heading, _("No supplier of this name is in the price book."))
        return None

    def _parts(self, number: str, supplier: str) -> list[Part]:
        said = supplier.casefold()
        found = self.by_number.get(number.casefold(), [])
        return [part for part in found if not said or str(part.supplier).casefold() == said]

    def _price(self, line: int, part: Part, text: str) -> None:
        first = self.lines.setdefault(part.pk, line)
        if first != line:
            words = _("{number} stands in row {row} already.").format(number=part.supplier_number, row=first)
            self.found.faults.append(Fault(line, _NUMBER.heading, words))
            return
        try:
            cost: Decimal = self.cost.clean(text)
        except ValidationError as problem:
            self.found.faults += [Fault(line, _COST.heading, words) for words in problem.messages]
            return
        if cost == part.cost:
            self.found.same += 1
            return
        part.cost = cost
        self.found.changed += 1
        self.found.parts.append(part)
