"""Reads a table people made in a spreadsheet, CSV or XLSX, as text; writes one that no spreadsheet runs."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any, Final

MOST_BYTES: Final = 2 * 1024 * 1024
MOST_ROWS: Final = 500
MOST_COLUMNS: Final = 150
MOST_TEXT: Final = 2000
#: An XLSX file is a packed folder: at most so much may come out of it.
MOST_UNPACKED: Final = 30 * 1024 * 1024
#: A spreadsheet takes text that begins so for a formula, and would run it.
_RUNS: Final = ("=", "+", "-", "@", "\t", "\r")
#: No XLSX file can hold these.
_ILLEGAL: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_NUMBER: Final = re.compile(r"[+-]?\d+(\.\d+)?")


class TableUnreadable(Exception):
    """The file is no table we can read; says why."""


def guarded(text: str) -> str:
    """Return text as it is written to a cell: what a spreadsheet would run gets an apostrophe before it."""
    is_risky = text.startswith(_RUNS) and not _NUMBER.fullmatch(text)
    return f"'{text}" if is_risky or _is_guarded(text) else text


def plain(text: str) -> str:
    """Return a cell's text without the apostrophe of ``guarded``."""
    return text[1:] if _is_guarded(text) else text


def _is_guarded(text: str) -> bool:
    bare = text.lstrip("'")
    return text.startswith("'") and bare.startswith(_RUNS)


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Return a CSV file of the rows, every cell plain text, marked as UTF-8 for spreadsheets."""
    out = io.StringIO()
    csv.writer(out).writerows([guarded(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


class TableTooLong(TableUnreadable):
    """The table has more rows than are taken in at once."""


def xlsx_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Return an XLSX file of the rows, every cell plain text that no spreadsheet works out."""
    import openpyxl  # takes a moment, and few requests need it

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Table")
    for row in rows:
        sheet.append([_ILLEGAL.sub("", guarded(cell)) or None for cell in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read_table(
    name: str, data: bytes, *, most_rows: int = MOST_ROWS, most_bytes: int = MOST_BYTES
) -> list[list[str]]:
    """Return the rows of a file as text, the headings first, blank rows kept so that numbers fit.

    Formulas are never worked out: a cell that holds one is its text. Raise TableUnreadable.
    """
    if len(data) > most_bytes:
        raise TableUnreadable(f"The file may have at most {most_bytes // 2**20} MB.")
    rows = (
        _from_xlsx(data, most_rows)
        if name.lower().endswith(".xlsx") or data[:2] == b"PK"
        else _from_csv(data)
    )
    while rows and not any(rows[-1]):
        rows.pop()
    if len(rows) < 2:
        raise TableUnreadable("The file needs one row of headings and at least one row below it.")
    if len(rows) > most_rows + 1:
        raise TableTooLong(f"At most {most_rows:,} rows at a time: please cut the file into parts.")
    if max(map(len, rows)) > MOST_COLUMNS:
        raise TableUnreadable(f"At most {MOST_COLUMNS} columns.")
    return rows


def _from_csv(data: bytes) -> list[list[str]]:
    if b"\0" in data:
        raise TableUnreadable("This is no CSV or XLSX file.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")  # as older spreadsheets on Windows write
    first = text.partition("\n")[0]
    mark = max(",;\t", key=first.count)
    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except csv.Error as problem:
        raise TableUnreadable(f"The CSV file cannot be read: {problem}.") from None
    return [[_cell(cell) for cell in line] for line in lines]


def _from_xlsx(data: bytes, most_rows: int) -> list[list[str]]:
    import openpyxl  # takes a moment, and few requests need it

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(one.file_size for one in packed.infolist()) > MOST_UNPACKED:
                raise TableUnreadable("The XLSX file is too large unpacked.")
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        lines = sheet.iter_rows(max_row=most_rows + 2, max_col=MOST_COLUMNS + 1, values_only=True)
        return _trimmed([[_cell(value) for value in line] for line in lines])
    except TableUnreadable:
        raise
    except Exception:  # a stranger's file: whatever stops the reader is the file's fault
        raise TableUnreadable("This XLSX file cannot be read. Save it again, or as CSV.") from None


def _trimmed(rows: list[list[str]]) -> list[list[str]]:
    """Return the rows without the blank columns a spreadsheet claims to have."""
    width = max((len(row) - _blank_end(row) for row in rows), default=0)
    return [row[:width] for row in rows]


def _blank_end(row: list[str]) -> int:
    return next((n for n, cell in enumerate(reversed(row)) if cell), len(row))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, dt.datetime):
        return value.date().isoformat()
    text = plain(str(value).strip())
    if len(text) > MOST_TEXT:
        raise TableUnreadable(f"A cell may have at most {MOST_TEXT} characters.")
    return text.replace("\0", "")
