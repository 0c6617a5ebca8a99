"""How one design's parts are copied into the next revision."""

from __future__ import annotations

from typing import Any

from django.db import models

from jobs.engine.stored import design_in_full
from jobs.models import Design

_NOT_COPIED = {"id", "design", "job", "number", "state", "created_at", "created_by_name", "edit_count"}
_NOT_COPIED |= {"last_edit_key", "unsized_reason"}


def copy_parts(source: Design, target: Design) -> None:
    """Fill an unsaved revision with the facts and parts of another and save all of it."""
    source = design_in_full(source.pk)
    for name, value in _facts(source).items():
        setattr(target, name, value)
    target.save()
    controllers = {row.pk: _copied(row, target) for row in source.controllers.all()}
    strings = {
        row.pk: _copied(row, target, controller=controllers[row.controller_id], number=row.number)
        for row in source.strings.all()
    }
    for panel in source.panels.all():
        _copied(panel, target, string=strings.get(panel.string_id or 0), number=panel.number)
    for name in ("bank", "inverter"):
        only = getattr(source, name, None)
        if only is not None:
            _copied(only, target)
    sources = {row.pk: _copied(row, target).pk for row in source.sources.all()}
    for circuit in source.circuits.all():
        _copied(circuit, target, serves=_serves(circuit.serves, sources))


def _facts(row: models.Model) -> dict[str, Any]:
    """Return a row's own values, foreign keys by their id."""
    return {
        field.attname: getattr(row, field.attname)
        for field in row._meta.concrete_fields
        if field.name not in _NOT_COPIED
    }


def _copied(row: Any, target: Design, **changes: Any) -> Any:
    """Return a saved copy of a row that belongs to ``target``."""
    copy = type(row)(design=target, **_facts(row))
    for name, value in changes.items():
        setattr(copy, name, value)
    copy.save()
    return copy


def _serves(serves: str, sources: dict[int, int]) -> str:
    """Return what a copied circuit serves: a source has a new number in the copy."""
    kind, _, name = serves.partition(":")
    if kind == "source" and name.isdigit() and int(name) in sources:
        return f"source:{sources[int(name)]}"
    return serves
