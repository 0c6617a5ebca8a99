"""Writes rows that came from forms as records of a design.

A row is a plain dict: ``id`` None makes a new record, ``DELETE`` takes one away, anything else is a field.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from jobs.design.revision import DesignRefused
from jobs.models import Design, DesignBank, DesignInverter

Row = Mapping[str, Any]


def set_fields(design: Design, values: Row, allowed: Iterable[str]) -> None:
    """Store those of the allowed fields that are among the values."""
    names = [name for name in allowed if name in values]
    for name in names:
        setattr(design, name, values[name])
    if names:
        design.full_clean()
        design.save(update_fields=names)


def write_only(design: Design, model: type[DesignBank | DesignInverter], row: Row | None) -> None:
    """Set, change or take away the one bank or inverter."""
    found = model.objects.filter(design=design).first()
    if row is None:
        if found is not None:
            found.delete()
        return
    record = found or model(design=design)
    _fill(record, row)


def write_rows(design: Design, model: type[Any], rows: Iterable[Row], prepare: Any = None) -> int:
    """Make, change and delete the rows of one kind; return how many there are afterwards.

    Raise DesignRefused for a row of another design.
    """
    existing = {record.pk: record for record in model.objects.filter(design=design)}
    for row in sorted(rows, key=lambda one: not one.get("DELETE")):
        record = existing.get(row.get("id"))
        if row.get("id") is not None and record is None:
            raise DesignRefused("One of the rows is no longer in this design: open the form again.")
        if row.get("DELETE"):
            if record is not None:
                record.delete()
            continue
        record = record or model(design=design)
        if prepare is not None:
            prepare(record)
        _fill(record, row)
    count: int = model.objects.filter(design=design).count()
    return count


def _fill(record: Any, row: Row) -> None:
    _refuse_foreign(record.design, row)
    names = {field.name for field in record._meta.fields} - {"id", "design"}
    for name in names & row.keys():
        setattr(record, name, row[name])
    record.full_clean()
    record.save()


def _refuse_foreign(design: Design, row: Row) -> None:
    """Raise DesignRefused for a part of another shop's catalog, or for what stays on another vehicle."""
    part, kept = row.get("part"), row.get("existing")
    if part is not None and part.shop_id != design.job.shop_id:
        raise DesignRefused("This part is not in the shop's catalog.")
    if kept is not None and kept.survey.job_id != design.job_id:
        raise DesignRefused("This was not surveyed on this vehicle.")
