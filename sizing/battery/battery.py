"""Batteries by chemistry: what the tables print, capacity in the cold, what a current does to lead."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

from sizing.core.checks import Provenance
from sizing.core.inputs import BankInput, Chemistry, InputOutOfRange
from sizing.tables import Row, rows

_TABLE_NAME: Final = {
    Chemistry.LFP: "LiFePO4 (LFP)",
    Chemistry.AGM: "AGM",
    Chemistry.GEL: "gel",
    Chemistry.FLOODED: "flooded lead-acid",
}
CELLS_PER_12V: Final = {Chemistry.LFP: 4, Chemistry.AGM: 6, Chemistry.GEL: 6, Chemistry.FLOODED: 6}


@dataclass(frozen=True, slots=True)
class Range:
    """A printed range; ``None`` where the table leaves it open. ``default`` is the engine's start."""

    low: float | None
    high: float | None
    default: float | None
    unit: str
    source: str
    provenance: Provenance
    note: str = ""


@dataclass(frozen=True, slots=True)
class ChemistryData:
    """What the tables say of one chemistry; voltages per 12 V of nominal, at 25 °C."""

    chemistry: Chemistry
    usable_fraction: Range
    round_trip_fraction: Range
    charge_rate_c: Range
    mass_kg_per_100ah_12v: Range
    absorb_v: Range
    float_v: Range
    equalise_v: Range
    temp_comp_v_per_c: Range
    charge_temp_c: Range
    peukert_k: Range


@cache
def chemistry_data(chemistry: Chemistry) -> ChemistryData:
    """Return everything the tables hold on one chemistry.

    Parameters
    ----------
    chemistry : Chemistry
        LFP, AGM, gel or flooded. [-]

    Returns
    -------
    ChemistryData
        Ranges with unit, source and provenance; voltages per 12 V of nominal. [V], [1/h], [°C]

    Raises
    ------
    KeyError
        Never for a member of ``Chemistry``.

    References
    ----------
    .. [1] Battery University BU-410, table 1 (charge temperatures).
    .. [2] A deep-cycle maker's guide (gel voltages); the rest as each range says.
    """
    cells = CELLS_PER_12V[chemistry]
    is_lead = chemistry is not Chemistry.LFP
    return ChemistryData(
        chemistry=chemistry,
        usable_fraction=_design(chemistry.value, "usable_fraction"),
        round_trip_fraction=_design(chemistry.value, "round_trip_fraction"),
        charge_rate_c=_design(chemistry.value, "charge_rate_c"),
        mass_kg_per_100ah_12v=_design(chemistry.value, "mass_kg_per_100ah_12v"),
        absorb_v=_printed(_TABLE_NAME[chemistry], "absorption", cells),
        float_v=_printed(_TABLE_NAME[chemistry], "float", cells),
        equalise_v=_printed(_TABLE_NAME[chemistry], "equalize", cells),
        temp_comp_v_per_c=_printed(
            "lead-acid (all)" if is_lead else _TABLE_NAME[chemistry], "temperature compensation", cells * 1e-3
        ),
        charge_temp_c=_printed("lead-acid (all)" if is_lead else "Li-ion incl. LFP", "charge temperature", 1),
        peukert_k=_printed(_TABLE_NAME[chemistry], "Peukert exponent", 1),
    )


@cache
def gentle_charge_c() -> Range:
    """Return the charge rate lithium takes from 0 to 5 °C [1/h]: the lower of the printed figures."""
    return _printed(_TABLE_NAME[Chemistry.LFP], "reduced charge 0 to 5 C", 1)


def capacity_factor(chemistry: Chemistry, cell_c: float) -> float:
    """Return the share of capacity left at a cell temperature [-], straight between 25, 0 and -20 °C."""
    name = "lfp" if chemistry is Chemistry.LFP else "lead"
    warm, mid, cold = (_design(name, f"capacity_at_{at}c").default or 0.0 for at in ("25", "0", "-20"))
    if cell_c >= 25.0:
        return warm
    if cell_c >= 0.0:
        return mid + (warm - mid) * cell_c / 25.0
    if cell_c >= -20.0:
        return cold + (mid - cold) * (cell_c + 20.0) / 20.0
    return max(0.1, cold + (mid - cold) * (cell_c + 20.0) / 20.0)


def usable_fraction(bank: BankInput) -> float:
    """Return the share of the bank a design counts on [-]: the shop's figure, else by chemistry."""
    if bank.depth_of_discharge_fraction is not None:
        return bank.depth_of_discharge_fraction
    return chemistry_data(bank.chemistry).usable_fraction.default or 0.0


def peukert_hours_h(capacity_ah: float, current_a: float, *, k: float, rated_hours_h: float = 20.0) -> float:
    """Return how long a lead battery carries a current.

    Parameters
    ----------
    capacity_ah : float
        Capacity at the rated hours, above 0. [Ah]
    current_a : float
        Steady current, above 0. [A]
    k : float
        Peukert exponent, 1 or more. [-]
    rated_hours_h : float
        Hours the capacity is rated at, above 0. [h]

    Returns
    -------
    float
        ``t = H·(C/(I·H))^k``. [h]

    Raises
    ------
    InputOutOfRange
        If a value lies outside its range.

    Notes
    -----
    ``C/I^k`` with a 20-hour capacity is a known wrong form: it gives 14.5 h where the battery lasts 20 h.

    References
    ----------
    .. [1] Peukert (1897), in the form with rated hours; from memory.
    """
    for name, value, low in (
        ("capacity_ah", capacity_ah, 0.0),
        ("current_a", current_a, 0.0),
        ("rated_hours_h", rated_hours_h, 0.0),
    ):
        if not value > low:
            raise InputOutOfRange(name, f"must be above {low:g}, got {value}")
    if not k >= 1.0:
        raise InputOutOfRange("k", f"must be 1 or more, got {k}")
    return float(rated_hours_h * (capacity_ah / (current_a * rated_hours_h)) ** k)


def compensated_v(absorb_v: float, *, cells: int, v_per_cell_per_c: float, cell_c: float) -> float:
    """Return a lead charge voltage moved to a battery temperature.

    Parameters
    ----------
    absorb_v : float
        Voltage at 25 °C. [V]
    cells : int
        Cells in series, 6 per 12 V. [-]
    v_per_cell_per_c : float
        Compensation, -0.003 to -0.005. [V/°C per cell]
    cell_c : float
        Battery temperature. [°C]

    Returns
    -------
    float
        ``V + cells·k·(T - 25)``. [V]

    Raises
    ------
    Nothing
        Any number can be asked.

    References
    ----------
    .. [1] A deep-cycle maker's guide: 5 mV per cell and °C; Battery University BU-410: 3 mV.
    """
    return absorb_v + cells * v_per_cell_per_c * (cell_c - 25.0)


@cache
def _design_rows() -> MappingProxyType[tuple[str, str], Row]:
    return MappingProxyType(
        {(row.text("chemistry"), row.text("item")): row for row in rows("battery_design")}
    )


@cache
def _printed_rows() -> MappingProxyType[tuple[str, str], Row]:
    return MappingProxyType(
        {(row.text("chemistry"), row.text("item")): row for row in rows("battery_charging")}
    )


def _design(chemistry: str, item: str) -> Range:
    row = _design_rows()[chemistry, item]
    return Range(
        row.number("low"),
        row.number("high"),
        row.number("default"),
        row.text("unit"),
        row.source,
        row.provenance,
        row.note,
    )


def _printed(chemistry: str, item: str, scale: float) -> Range:
    """Return a row of the charging table, per cell values scaled to a 12 V battery."""
    row = _printed_rows().get((chemistry, item))
    if row is None:
        return Range(None, None, None, "", "not printed", Provenance.MEMORY)
    low, high = row.number("low"), row.number("high")
    return Range(
        None if low is None else low * scale,
        None if high is None else high * scale,
        None,
        row.text("unit"),
        row.source,
        row.provenance,
        row.note,
    )
