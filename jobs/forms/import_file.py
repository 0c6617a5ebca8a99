"""What is sent to an import: a file first, then the same rows again with a yes."""

from __future__ import annotations

import json
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.sheet_files import (
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_TEXT,
    TableTooLong,
    TableUnreadable,
    read_table,
)
from jobs.forms.import_rows import ImportRefused

#: A larger file may hold more rows than a person wants to wait for.
SHORT_BYTES: Final = 100 * 1024


class ImportFileForm(forms.Form):
    """A CSV or XLSX file of at most ``MOST_ROWS`` rows."""

    file = forms.FileField(
        label=_("CSV or XLSX file"),
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,text/csv"}),
    )

    def is_long(self) -> bool:
        """Return whether the file of a valid form is read in the background at once."""
        return bool(self.cleaned_data["file"].size > SHORT_BYTES)

    def rows(self) -> list[list[str]]:
        """Return the rows of a valid form's file; raise ImportRefused."""
        upload = self.cleaned_data["file"]
        if upload.size > MOST_BYTES:
            raise ImportRefused(f"The file may have at most {MOST_BYTES // 2**20} MB.")
        try:
            return read_table(upload.name, upload.read())
        except TableTooLong:
            raise
        except TableUnreadable as problem:
            raise ImportRefused(str(problem)) from None


def rows_sent(text: str) -> list[list[str]]:
    """Return the rows a preview sent back; raise ImportRefused for what no preview sends."""
    try:
        rows: Any = json.loads(text)
    except ValueError:
        rows = None
    if not isinstance(rows, list) or not 2 <= len(rows) <= MOST_ROWS + 1 or not all(map(_is_row, rows)):
        raise ImportRefused("Please choose the file again.")
    return rows


def _is_row(row: Any) -> bool:
    is_list = isinstance(row, list) and len(row) <= MOST_COLUMNS
    return is_list and all(isinstance(cell, str) and len(cell) <= MOST_TEXT for cell in row)
