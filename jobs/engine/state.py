"""Reads one whole revision as plain data: its roof, and what the engines are told beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from jobs.engine.scene import SunBasis, sun_basis
from jobs.engine.system import SystemBasis, system_basis
from jobs.models import Design
from jobs.roof.read import roof_state
from jobs.roof.state import RoofState
from jobs.roof.wires import InsideRun, inside_runs


@dataclass(frozen=True, slots=True)
class DesignState:
    """A revision as plain data; a layout is tried on it by putting another roof in its place."""

    roof: RoofState
    system: SystemBasis
    sun: SunBasis
    inside: Mapping[str, InsideRun]
    units: str  # the shop's, for words


def design_state(design: Design) -> DesignState:
    """Return a design that was read in full as plain data."""
    return DesignState(
        roof=roof_state(design),
        system=system_basis(design),
        sun=sun_basis(design),
        inside=inside_runs(design),
        units=design.job.shop.units,
    )
