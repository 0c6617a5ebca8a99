"""Knows batteries by chemistry: usable energy, cold capacity, current limits, when charging is allowed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Final

from sizing.checks import Check, Provenance, Term, Verdict
from sizing.currents import low_battery_v
from sizing.guesses import resting_on
from sizing.inputs import BankInput, Chemistry, InputOutOfRange, InverterInput, SystemInput
from sizing.judge import fact_check, limit_check, missing_check, show
from sizing.loads import bank_nominal_v, required_bank_wh
from sizing.results import BankResult, EnergyResult, Figure
from sizing.tables import Row, rows

HEAT_CAPACITY_J_PER_KG_K: Final = 1000.0  # of a lithium pack, common practice [J/(kg·K)]
HEAT_LOSS_FACTOR: Final = 1.5  # heat lost to the compartment while warming, common practice [-]
INSIDE_ABOVE_AIR_C: Final = 5.0  # an unheated compartment over outside air, shop default [°C]
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
    .. [2] A deep-cycle maker's guide (gel voltages); the rest as each range says, much of it from memory.
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


def coldest_cell_c(system: SystemInput) -> float | None:
    """Return the coldest temperature the cells meet [°C]: as given, else air outside or air + 5 inside."""
    bank = system.bank
    if bank is None:
        return None
    if bank.tmin_c is not None:
        return bank.tmin_c
    known = [value for value in (system.tmin_travel_c, system.tmin_storage_c) if value is not None]
    if not known:
        return None
    return min(known) + (INSIDE_ABOVE_AIR_C if bank.is_inside else 0.0)


def in_use_factor(system: SystemInput) -> float:
    """Return the share of capacity left in use [-]; an inside bank of unknown temperature counts as warm."""
    bank = system.bank
    if bank is None or (bank.tmin_c is None and bank.is_inside):
        return 1.0
    cell_c = bank.tmin_c if bank.tmin_c is not None else system.tmin_travel_c
    return 1.0 if cell_c is None or bank.is_heated else capacity_factor(bank.chemistry, cell_c)


def in_parallel(bank: BankInput) -> float:
    """Return how many batteries stand side by side [-]."""
    return bank.quantity / bank.in_series


def bank_ah(bank: BankInput) -> float:
    """Return the capacity of the whole bank [Ah]."""
    return bank.unit_capacity_ah * in_parallel(bank)


def bank_result(system: SystemInput, energy: EnergyResult) -> BankResult:
    """Return the bank asked for (F4) and the bank chosen."""
    bank = system.bank
    if bank is None:
        return BankResult(None, None, None, None, None, None)
    nominal_v = bank_nominal_v(bank.chemistry, system.v_nominal_v)
    required_wh = required_bank_wh(
        energy.e_day_wh,
        autonomy_days=system.autonomy_days,
        depth_of_discharge_fraction=usable_fraction(bank),
        k_temp=in_use_factor(system),
    )
    usable_wh = bank_ah(bank) * nominal_v * usable_fraction(bank) * in_use_factor(system)
    return BankResult(
        required_wh=required_wh,
        required_ah=required_wh / nominal_v,
        usable_wh=usable_wh,
        autonomy_days=usable_wh / energy.e_day_wh if energy.e_day_wh > 0 else None,
        capacity_ah=bank_ah(bank),
        mass_kg=bank.unit_mass_kg * bank.quantity,
    )


def bank_checks(system: SystemInput, energy: EnergyResult, result: BankResult) -> tuple[Check, ...]:
    """Return every judgement on the bank itself: wiring, days of use, discharge current."""
    if system.bank is None:
        return (
            missing_check(
                rule="F4",
                key="bank/autonomy",
                subject="bank",
                title="Days without charging",
                missing="the bank",
            ),
        )
    found = [_autonomy_check(system, energy, result), _series_check(system, system.bank)]
    if system.inverter is not None:
        found += inverter_draw_checks(system, system.bank, system.inverter)
    return tuple(found)


def inverter_input_a(
    inverter: InverterInput, bank: BankInput | None, v_nominal_v: float, power_w: float | None = None
) -> float:
    """Return what an inverter draws at the lowest battery voltage (F16).

    Parameters
    ----------
    inverter : InverterInput
        Power and efficiency. [W], [-]
    bank : BankInput or None
        Its chemistry sets the lowest voltage; ``None`` counts as lithium. [-]
    v_nominal_v : float
        12, 24, 36 or 48. [V]
    power_w : float or None
        Power at the outlet; ``None`` takes the rating. [W]

    Returns
    -------
    float
        ``P/(η·V_low)`` with V_low 11.5 V per 12 V of lithium, 10.5 V of lead. [A]

    Raises
    ------
    InputOutOfRange
        If efficiency or voltage is not above 0.

    References
    ----------
    .. [1] NFPA 70 (2017), 690.8(A)(4): rated power at the lowest input voltage.
    """
    low_v = low_battery_v(bank, v_nominal_v)
    if inverter.efficiency_fraction <= 0 or low_v <= 0:
        raise InputOutOfRange("inverter.efficiency_fraction", "efficiency and voltage must be above 0")
    return (inverter.power_w if power_w is None else power_w) / (inverter.efficiency_fraction * low_v)


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


def warm_up_wh(mass_kg: float, rise_c: float) -> float:
    """Return the energy that warms a lithium pack [Wh], half as much again for what the compartment loses."""
    return mass_kg * HEAT_CAPACITY_J_PER_KG_K * max(0.0, rise_c) / 3600.0 * HEAT_LOSS_FACTOR


def inverter_draw_checks(system: SystemInput, bank: BankInput, inverter: InverterInput) -> list[Check]:
    """Return whether the batteries can carry the inverter, steadily and for a surge."""
    steady_a = inverter_input_a(inverter, bank, system.v_nominal_v)
    found = [_discharge_check(system, bank, inverter, steady_a)]
    if inverter.surge_w is not None:
        found.append(_surge_check(system, bank, inverter, inverter.surge_w))
    return found


def _discharge_check(system: SystemInput, bank: BankInput, inverter: InverterInput, steady_a: float) -> Check:
    key, title = "bank/discharge", "Inverter current against the bank"
    if bank.max_discharge_a is None:
        return missing_check(
            rule="F16",
            key=key,
            subject="bank",
            title=title,
            missing="the battery's continuous discharge limit",
            unit="A",
        )
    limit_a = bank.max_discharge_a * in_parallel(bank)
    return limit_check(
        rule="F16",
        key=key,
        subject="bank",
        title=title,
        value=steady_a,
        limit=limit_a,
        unit="A",
        source="Battery maker's discharge limit × batteries in parallel; NFPA 70 (2017), 690.8(A)(4)",
        provenance=Provenance.MAKER,
        formula="P/(η·V_low) ≤ n_parallel·I_discharge",
        substituted=(
            f"{show(inverter.power_w)}/({show(inverter.efficiency_fraction)} ×"
            f" {show(low_battery_v(bank, system.v_nominal_v))}) = {show(steady_a, 'A')} against"
            f" {show(in_parallel(bank))} × {show(bank.max_discharge_a)} = {show(limit_a, 'A')}"
        ),
        terms=(
            Term("P", "inverter rating", inverter.power_w, "W"),
            Term("η", "inverter efficiency", inverter.efficiency_fraction),
            Term("n_parallel", "batteries in parallel", in_parallel(bank)),
            Term("I_discharge", "each battery's limit", bank.max_discharge_a, "A"),
        ),
        guesses=resting_on(system, ("bank", "inverter")),
    )


def _surge_check(system: SystemInput, bank: BankInput, inverter: InverterInput, surge_w: float) -> Check:
    each_a = inverter_input_a(inverter, bank, system.v_nominal_v, surge_w) / in_parallel(bank)
    if bank.max_peak_discharge_a is None:
        return missing_check(
            rule="F16",
            key="bank/surge",
            subject="bank",
            title=f"Inverter surge, {show(each_a, 'A', 0)} from each battery",
            missing="the battery's peak discharge limit",
            unit="A",
        )
    return limit_check(
        rule="F16",
        key="bank/surge",
        subject="bank",
        title="Inverter surge from each battery",
        value=each_a,
        limit=bank.max_peak_discharge_a,
        unit="A",
        source="Battery maker's peak discharge current",
        provenance=Provenance.MAKER,
        formula="P_surge/(η·V_low)/n_parallel ≤ I_peak",
        substituted=f"{show(surge_w, 'W')} → {show(each_a, 'A')} each",
        guesses=resting_on(system, ("bank", "inverter")),
    )


def _autonomy_check(system: SystemInput, energy: EnergyResult, result: BankResult) -> Check:
    assert system.bank is not None
    bank = system.bank
    nominal_v = bank_nominal_v(bank.chemistry, system.v_nominal_v)
    if energy.e_day_wh <= 0:
        return missing_check(
            rule="F4",
            key="bank/autonomy",
            subject="bank",
            title="Days without charging",
            missing="the daily use",
        )
    return limit_check(
        rule="F4",
        key="bank/autonomy",
        subject="bank",
        title="Days without charging",
        value=result.autonomy_days,
        limit=system.autonomy_days,
        at_least=True,
        beyond=Verdict.CAUTION,
        unit="d",
        sentence=(
            f"{show(result.usable_wh, 'Wh', 0)} usable carry {show(result.autonomy_days, 'days')} of"
            f" {show(energy.e_day_wh, 'Wh', 0)}; {show(system.autonomy_days, 'days')} were asked for."
        ),
        source="Energy balance; usable share by chemistry is a design convention",
        provenance=Provenance.COMMON_PRACTICE,
        formula="days = n·C·V_nom·DoD·k_temp/E_day",
        substituted=(
            f"{show(bank_ah(bank))} × {show(nominal_v)} × {show(usable_fraction(bank))} ×"
            f" {show(in_use_factor(system))}/{show(energy.e_day_wh)} = {show(result.autonomy_days, 'd')}"
        ),
        terms=(
            Term("n·C", "bank capacity", bank_ah(bank), "Ah"),
            Term("V_nom", "counted voltage", nominal_v, "V"),
            Term("DoD", "usable share", usable_fraction(bank)),
            Term("k_temp", "capacity left in the cold", in_use_factor(system)),
            Term("E_day", "daily use", energy.e_day_wh, "Wh", "loads" in system.guesses),
        ),
        guesses=resting_on(system, ("loads", "bank", "inverter")),
    )


def _series_check(system: SystemInput, bank: BankInput) -> Check:
    """Return whether the batteries in series make the system's voltage and the count is even."""
    series_v = bank.unit_nominal_v * bank.in_series
    low_v, high_v = system.v_nominal_v * 0.95, system.v_nominal_v * 1.1
    is_met = low_v <= series_v <= high_v and bank.quantity % bank.in_series == 0
    return fact_check(
        rule="F4",
        key="bank/series",
        subject="bank",
        title="Batteries in series against the system voltage",
        is_met=is_met,
        sentence=(
            f"{bank.quantity} batteries of {show(bank.unit_nominal_v, 'V')}, {bank.in_series} in series, make"
            f" {show(series_v, 'V')} for a {show(system.v_nominal_v, 'V')} system."
        ),
        source="Batteries in series add their volts; every row must be full",
        provenance=Provenance.COMPUTED,
        guesses=resting_on(system, ("bank",)),
    )


def bank_figures(system: SystemInput, result: BankResult) -> tuple[Figure, ...]:
    """Return the bank F4 asks for as a number that can be opened."""
    if system.bank is None:
        return ()
    nominal_v = bank_nominal_v(system.bank.chemistry, system.v_nominal_v)
    return (
        Figure(
            key="bank/required",
            title="Bank asked for, nominal",
            value=result.required_wh,
            unit="Wh",
            formula="C_req = E_day·days/(DoD·k_temp)",
            substituted=(
                f"{show(result.required_wh, 'Wh', 0)} = {show(result.required_ah, 'Ah', 0)}"
                f" at {show(nominal_v, 'V')}"
            ),
            source="Energy balance; usable share by chemistry is a design convention",
            guesses=resting_on(system, ("loads", "bank", "inverter")),
        ),
    )


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
