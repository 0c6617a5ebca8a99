"""The house bank of a design: what it holds, how long it lasts, what current it may give (F4, F16)."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sizing.battery.battery import capacity_factor, chemistry_data, peukert_hours_h, usable_fraction
from sizing.cable.currents import inverter_input_a, low_battery_v
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import BankInput, Bus, Chemistry, InverterInput, SystemInput
from sizing.core.judge import fact_check, limit_check, missing_check, show, show_count
from sizing.core.results import BankResult, EnergyResult, Figure
from sizing.energy.loads import bank_nominal_v, required_bank_wh

#: What cells inside the living space are taken to meet while somebody heats it, shop default. [°C]
INSIDE_HEATED_C: Final = 5.0
#: How far a bank inside an unheated vehicle stays above the coldest air of its storage, shop default. [K]
STORED_LAG_K: Final = 2.0


def coldest_cell_c(system: SystemInput) -> float | None:
    """Return the coldest temperature the cells meet [°C]; None where a minimum of the air is missing.

    As measured; a guess counts only where it is colder than what follows. Outside: the air's own minimum.
    Inside: 5 °C or the air, whichever is warmer, while the vehicle is lived in; the storage minimum and two
    kelvin of lag while it stands, unless somebody says it is kept warm there (not asked: it is not).
    """
    bank = system.bank
    if bank is None:
        return None
    return _met_c(system, bank, is_heated=True)


def unheated_cell_c(system: SystemInput) -> float | None:
    """Return what the cells would meet without the vehicle's heating [°C]: the same as above if measured."""
    bank = system.bank
    if bank is None:
        return None
    return _met_c(system, bank, is_heated=False)


def _met_c(system: SystemInput, bank: BankInput, *, is_heated: bool) -> float | None:
    if bank.tmin_c is not None and "bank.tmin" not in system.guesses:
        return bank.tmin_c
    worked_out_c = _cells_c(system, bank, is_heated=is_heated)
    if bank.tmin_c is None or worked_out_c is None:
        return worked_out_c
    return min(bank.tmin_c, worked_out_c)


def _cells_c(system: SystemInput, bank: BankInput, *, is_heated: bool) -> float | None:
    is_warm_in_use = is_heated and bank.is_inside
    is_warm_stored = is_warm_in_use and bank.is_kept_warm is True
    met = (
        _place_c(system.tmin_travel_c, bank, is_warm=is_warm_in_use),
        _place_c(system.tmin_storage_c, bank, is_warm=is_warm_stored),
    )
    known = [temp_c for temp_c in met if temp_c is not None]
    return min(known) if len(known) == len(met) else None


def _place_c(air_c: float | None, bank: BankInput, *, is_warm: bool) -> float | None:
    """Return what the cells meet in air this cold; a heated space needs no minimum of the air."""
    if is_warm:
        return INSIDE_HEATED_C if air_c is None else max(INSIDE_HEATED_C, air_c)
    if air_c is None:
        return None
    return air_c + (STORED_LAG_K if bank.is_inside else 0.0)


def in_use_factor(system: SystemInput) -> float:
    """Return the share of capacity left in use [-]: a bank inside or heated counts as warm while used."""
    bank = system.bank
    if bank is None or bank.is_inside or bank.is_heated:
        return 1.0
    cell_c = bank.tmin_c if bank.tmin_c is not None else system.tmin_travel_c
    return 1.0 if cell_c is None else capacity_factor(bank.chemistry, cell_c)


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
    """Return every judgment on the bank itself: wiring, days of use, discharge current."""
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
    found += _high_voltage_checks(system)
    if system.inverter is not None:
        found += inverter_draw_checks(system, system.bank, system.inverter)
    return tuple(found)


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
    surging = replace(inverter, power_w=surge_w)
    each_a = inverter_input_a(surging, bank, system.v_nominal_v) / in_parallel(bank)
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
        at_limit=Verdict.PASS,  # the days asked for are a wish, met when reached
        unit="d",
        sentence=(
            f"{show(result.usable_wh, 'Wh', 0)} usable last {show(result.autonomy_days, 'days')} at"
            f" {show(energy.e_day_wh, 'Wh', 0)} a day; {show(system.autonomy_days, 'days')} were asked for."
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
            f"{show_count(bank.quantity, 'battery', 'batteries')} of {show(bank.unit_nominal_v, 'V')},"
            f" {bank.in_series} in series, {'makes' if bank.quantity == 1 else 'make'}"
            f" {show(series_v, 'V')} for a {show(system.v_nominal_v, 'V')} system."
        ),
        source="Batteries in series add their volts; every row must be full",
        provenance=Provenance.COMPUTED,
        guesses=resting_on(system, ("bank",)),
    )


def _high_voltage_checks(system: SystemInput) -> list[Check]:
    """Return what a bank above 12 V asks for: touch care at 48 V, a step-down for 12 V appliances."""
    if system.v_nominal_v <= 12.0:
        return []
    found = []
    if system.v_nominal_v >= 48.0:
        found.append(
            fact_check(
                rule="high_bank",
                key="bank/touch_voltage",
                subject="bank",
                title="Touch voltage of the bank",
                is_met=False,
                unmet=Verdict.CAUTION,
                sentence="A 48 V bank reaches 57 to 59 V when charged, flooded more when equalized: covers,"
                " gloves, and a license where asked.",
                source="50 V (ISO 16315) and 60 V (UN R100), quoted; charging voltage of the chemistry",
                provenance=Provenance.QUOTED,
            )
        )
    if any(row.bus is Bus.DC for row in system.loads):
        found.append(
            fact_check(
                rule="high_bank",
                key="bank/step_down",
                subject="bank",
                title="12 V appliances on a higher bank",
                is_met=False,
                unmet=Verdict.CAUTION,
                sentence=(
                    f"12 V appliances need a step-down from {show(system.v_nominal_v, 'V')}, 60 A or a small"
                    " 12 V buffer battery where slides or jacks hang on it."
                ),
                source="Common practice, no source",
                provenance=Provenance.COMMON_PRACTICE,
            )
        )
    return found


def inverter_hours_h(system: SystemInput) -> float | None:
    """Return how long a full bank carries the inverter's rating [h], lead by Peukert."""
    bank, inverter = system.bank, system.inverter
    if bank is None or inverter is None:
        return None
    current_a = inverter_input_a(inverter, bank, system.v_nominal_v)
    hours = peukert_hours_h(
        bank_ah(bank), current_a, k=peukert_exponent(bank), rated_hours_h=bank.rated_hours_h
    )
    return hours * usable_fraction(bank) * in_use_factor(system)


def peukert_exponent(bank: BankInput) -> float:
    """Return the Peukert exponent [-]: as given, 1 for lithium, else the middle of the printed range."""
    if bank.peukert_k is not None:
        return bank.peukert_k
    if bank.chemistry is Chemistry.LFP:
        return 1.0
    found = chemistry_data(bank.chemistry).peukert_k
    return ((found.low or 1.0) + (found.high or 1.0)) / 2.0


def _inverter_hours_figure(system: SystemInput, bank: BankInput, hours: float) -> Figure:
    return Figure(
        key="bank/inverter_hours",
        title="A full bank carries the inverter's rating for",
        value=hours,
        unit="h",
        formula="t = H·(C/(I·H))^k·DoD·k_temp",
        substituted=(
            f"k = {show(peukert_exponent(bank))}, C = {show(bank_ah(bank), 'Ah')} at"
            f" {show(bank.rated_hours_h, 'h')} → {show(hours, 'h')}"
        ),
        source="Peukert with rated hours; exponent as printed for the chemistry",
        guesses=resting_on(system, ("bank", "inverter")),
    )


def bank_figures(system: SystemInput, result: BankResult) -> tuple[Figure, ...]:
    """Return the bank F4 asks for, and its hours under the inverter, as numbers that can be opened."""
    if system.bank is None:
        return ()
    nominal_v = bank_nominal_v(system.bank.chemistry, system.v_nominal_v)
    hours = inverter_hours_h(system)
    return (
        *(() if hours is None else (_inverter_hours_figure(system, system.bank, hours),)),
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
