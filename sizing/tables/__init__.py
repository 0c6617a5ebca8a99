"""How the printed tables beside this file are read: once, with source and provenance per row."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from sizing.core.checks import Provenance

TABLES_DIR: Final = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Row:
    """One printed row: its cells as text, where it was printed, and how well it is known."""

    table: str
    cells: MappingProxyType[str, str]
    source: str
    provenance: Provenance
    note: str = ""

    def text(self, column: str) -> str:
        """Return a cell as printed."""
        return self.cells[column]

    def number(self, column: str) -> float | None:
        """Return a cell as a number; an empty cell is ``None`` (not printed)."""
        cell = self.cells[column]
        return float(cell) if cell else None


@dataclass(frozen=True, slots=True)
class PrintedValue:
    """One number out of a printed table."""

    value: float
    source: str
    provenance: Provenance
    note: str = ""


@cache
def rows(table: str) -> tuple[Row, ...]:
    """Return every row of ``sizing/tables/<table>.csv``, in the order printed.

    ``same`` and ``as above`` in the source column mean the source of the row before.
    """
    found: list[Row] = []
    source = ""
    with (TABLES_DIR / f"{table}.csv").open(encoding="utf-8", newline="") as handle:
        for record in csv.DictReader(handle):
            printed = record["source"]
            source = source if printed in ("same", "as above") else printed
            found.append(
                Row(
                    table=table,
                    cells=MappingProxyType(record),
                    source=source,
                    provenance=Provenance(record["provenance"]),
                    note=record.get("note") or "",
                )
            )
    return tuple(found)


@cache
def by_size(table: str) -> MappingProxyType[str, Row]:
    """Return the rows of a table that is keyed by conductor size."""
    return MappingProxyType({row.text("size"): row for row in rows(table)})


def cell(row: Row, column: str) -> PrintedValue | None:
    """Return one number of a row with its source; ``None`` where nothing is printed."""
    value = row.number(column)
    if value is None:
        return None
    return PrintedValue(value, row.source, row.provenance, row.note)


def weakest(*provenances: Provenance) -> Provenance:
    """Return the least certain of several provenances."""
    return max(provenances, key=_CERTAINTY.index)


_CERTAINTY: Final = (
    Provenance.PRINTED,
    Provenance.COMPUTED,
    Provenance.MAKER,
    Provenance.QUOTED,
    Provenance.COMMON_PRACTICE,
    Provenance.SHOP_DEFAULT,
    Provenance.QUOTED_ONCE,
    Provenance.MEMORY,
)

#: Editions of the printed tables the engine reads, for the foot of every paper.
TABLE_EDITIONS: Final = (
    "NFPA 70 (2017): tables 310.15(B)(16), (B)(17), (B)(2)(a), (B)(3)(a), 690.31(A), 690.7(A), "
    "chapter 9 table 8; 240.4(D), 240.6(A)",
    "33 CFR 183.425 table 5; ABYC E-11 105 °C column, bundling and engine-space factors",
    "BS 7671 table 4E1A; IEC 60228 tables 2 and 3",
    "ISO 10133 annex A (from memory: never gives pass)",
)
