"""How much of its data sheet a panel still gives that was on a roof before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from sizing.core.inputs import PanelSpec, PlacedPanel

LOSS_PER_YEAR: Final = 0.005  # median of nearly 2000 published rates, see used_fraction [-]
LEAST_SUN_W_M2: Final = 400.0  # a reading in less sun says too little; from memory [W/m²]
LOSS_SOURCE: Final = "Jordan and Kurtz (2013), Progress in Photovoltaics 21, 12-29: median loss 0.5% a year"


def measured_fraction(placed: PlacedPanel) -> float | None:
    """Return measured over nameplate short-circuit current at 1000 W/m²; ``None`` where not measured well."""
    if placed.measured_isc_a is None or placed.measured_at_w_m2 is None:
        return None
    if placed.measured_at_w_m2 < LEAST_SUN_W_M2:
        return None
    return placed.measured_isc_a * 1000.0 / placed.measured_at_w_m2 / placed.panel.isc_a


def used_fraction(placed: PlacedPanel) -> float:
    """Return the share of its data sheet a panel is counted with.

    Parameters
    ----------
    placed : PlacedPanel
        A panel on the roof; one that is not used counts in full. [A], [W/m²], [years]

    Returns
    -------
    float
        By its measured short-circuit current, else by its age, at most 1. [-]

    Raises
    ------
    Nothing
        A panel nobody measured nor dated counts in full; its check says that nothing is known.

    Notes
    -----
    ``Isc·(1000/G)/Isc,sheet``, else ``1 - 0.005·years``. Temperature moves Isc by 0.05 %/°C and is left out.

    References
    ----------
    .. [1] Jordan and Kurtz (2013), Progress in Photovoltaics 21, 12-29: median loss 0.5 % a year.
    """
    if not placed.is_used:
        return 1.0
    measured = measured_fraction(placed)
    if measured is None:
        measured = 1.0 - LOSS_PER_YEAR * (placed.age_years or 0.0)
    return min(1.0, measured)


def as_it_is(placed: PlacedPanel) -> PanelSpec:
    """Return a panel's sheet with the amps and watts it still gives; volts and limits stay the sheet's."""
    share = used_fraction(placed)
    if share == 1.0:
        return placed.panel
    spec = placed.panel
    return replace(spec, imp_a=spec.imp_a * share, pmp_w=spec.pmp_w * share)


def as_it_reads(panels: Sequence[PlacedPanel]) -> PanelSpec | None:
    """Return the panel a string is expected to read as when it is tested.

    Parameters
    ----------
    panels : sequence of PlacedPanel
        The panels of one string. [-]

    Returns
    -------
    PanelSpec or None
        The first panel's sheet; its short-circuit current as the strongest of them still gives it, for the
        bypass diodes carry it past a weaker one. ``None`` without panels. [A]

    Raises
    ------
    Nothing
        New panels read as their sheet says.

    References
    ----------
    .. [1] Series circuit with bypass diodes: the short-circuit current is that of the strongest panel.
    """
    if not panels:
        return None
    spec = panels[0].panel
    return replace(spec, isc_a=spec.isc_a * max(used_fraction(placed) for placed in panels))
