"""Keeps a catalog panel with its data sheet as plain data, for sums that no record may change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from jobs.models import PanelSheet, Part


@dataclass(frozen=True, slots=True)
class PanelFacts:
    """A panel's data sheet; names and units are those of the record."""

    pmp_w: float
    vmp_v: float
    imp_a: float
    voc_v: float
    isc_a: float
    length_m: float
    width_m: float
    thickness_m: float
    beta_voc_percent_per_c: float | None
    gamma_pmp_percent_per_c: float | None
    alpha_isc_percent_per_c: float
    max_series_fuse_a: float | None
    cells_in_series: int | None
    cell_columns: int | None
    cell_rows: int | None
    bypass_diodes: int | None
    is_half_cut: bool
    is_flexible: bool
    connector: str
    curve: Mapping[str, Any] | None
    box_place: str


@dataclass(frozen=True, slots=True)
class PanelModel:
    """A panel of the catalog; ``panel_sheet`` is None where the sheet was never filled in."""

    part_id: int
    name: str
    sku: str
    mass_kg: float
    panel_sheet: PanelFacts | None

    @property
    def sheet(self) -> PanelFacts:
        """Return the data sheet of a panel that is known to have one."""
        assert self.panel_sheet is not None, f"{self.name} has no data sheet"
        return self.panel_sheet


def panel_model(part: Part) -> PanelModel:
    """Return a panel of the catalog as plain data."""
    sheet = getattr(part, "panel_sheet", None)
    return PanelModel(part.pk, part.name, part.sku, part.mass_kg, None if sheet is None else _facts(sheet))


def panel_models(parts: Iterable[Part]) -> dict[int, PanelModel]:
    """Return panels of the catalog as plain data, by the key of their part."""
    return {part.pk: panel_model(part) for part in parts}


def _facts(sheet: PanelSheet) -> PanelFacts:
    return PanelFacts(**{one.name: getattr(sheet, one.name) for one in fields(PanelFacts)})
