"""When a cold battery may be charged, whether a charger stops in time, what warming a pack takes."""

from __future__ import annotations

from typing import Final

from sizing.battery.bank import coldest_cell_c, unheated_cell_c
from sizing.battery.battery import chemistry_data, gentle_charge_c
from sizing.battery.chargers import Charger
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.customary import show_both
from sizing.core.guesses import resting_on
from sizing.core.inputs import BankInput, Chemistry, SystemInput
from sizing.core.judge import missing_check, show
from sizing.core.results import Figure
from sizing.energy.heater import pack_mass_kg, warm_up_wh

GENTLE_BELOW_C: Final = 5.0  # below it lithium is charged gently, if at all [°C]
LITHIUM_SOURCE: Final = "Battery University BU-410, table 1: lithium is charged at ‹0 to 45 °C|32 to 113 °F›"
STOP_SOURCE: Final = "; the stop as its data sheet or the survey states it"
LEAD_SOURCE: Final = "Battery University BU-410, table 1: lead is charged at ‹-20 to 50 °C|-4 to 122 °F›"

COLD_FACTS: Final = ("bank", "site.tmin_travel", "site.tmin_storage", "sources", "controllers")


def cold_verdict(chemistry: Chemistry, cell_c: float) -> tuple[Verdict, str]:
    """Return whether a battery at this cell temperature may be charged, and how.

    Parameters
    ----------
    chemistry : Chemistry
        LFP or a lead battery. [-]
    cell_c : float
        Temperature of the cells. [°C]

    Returns
    -------
    tuple of Verdict and str
        Block outside the charging range, caution where only gentle charging is allowed, else pass.

    Raises
    ------
    Nothing
        Any temperature can be asked.

    References
    ----------
    .. [1] Battery University BU-410, table 1; the gentle band from 0 to 5 °C is printed by a battery maker.
    """
    limits = chemistry_data(chemistry).charge_temp_c
    low_c, high_c = limits.low or 0.0, limits.high or 0.0
    if not low_c <= cell_c <= high_c:
        return Verdict.BLOCK, f"no charging below {show_both(low_c, '°C')} or above {show_both(high_c, '°C')}"
    if chemistry is Chemistry.LFP and cell_c < GENTLE_BELOW_C:
        return (
            Verdict.CAUTION,
            f"gently only: at most {gentle_charge_c().high:g} C, less if the maker says so",
        )
    if chemistry is not Chemistry.LFP and cell_c < 0.0:
        return Verdict.CAUTION, "at most 0.3 C below freezing, and never a frozen battery"
    return Verdict.PASS, "normal charging"


def cold_check(system: SystemInput, bank: BankInput, unit: Charger) -> Check:
    """Return whether one charger stops before it harms a cold bank."""
    key, title = f"{unit.key}/cold_charge", f"{unit.name}: charging a cold bank"
    cell_c = coldest_cell_c(system)
    if cell_c is None:
        return missing_check(
            rule="cold_charge",
            key=key,
            subject=unit.key,
            title=title,
            missing="the coldest temperature of the cells",
            unit="°C",
        )
    high_c = chemistry_data(bank.chemistry).charge_temp_c.high
    if high_c is not None and cell_c > high_c:
        return _too_hot(system, bank, unit, (cell_c, high_c))
    verdict, words = _cold_words(system, bank, unit, cell_c)
    is_lithium, has_stop = bank.chemistry is Chemistry.LFP, unit.low_t_stop_c is not None
    low_c = chemistry_data(bank.chemistry).charge_temp_c.low
    return Check(
        rule="cold_charge",
        key=key,
        subject=unit.key,
        title=title,
        verdict=verdict,
        value=unit.low_t_stop_c if unit.low_t_stop_c is not None else cell_c,
        limit=low_c,
        unit="°C",
        margin=None,
        sentence=words,
        source=(LITHIUM_SOURCE if is_lithium else LEAD_SOURCE) + (STOP_SOURCE if has_stop else ""),
        provenance=Provenance.MAKER if has_stop else Provenance.PRINTED,
        formula="low-temperature cutoff ≥ lowest charging temperature",
        substituted=(
            f"stop {show_both(unit.low_t_stop_c, '°C', 2)}, cells to {show_both(cell_c, '°C', 2)} ≥"
            f" {show_both(low_c, '°C', 2)}"
        ),
        terms=(
            Term("T_cell", "coldest cell temperature", cell_c, "°C", bank.tmin_c is None),
            Term("T_stop", "low-temperature cutoff", unit.low_t_stop_c, "°C"),
        ),
        guesses=resting_on(system, COLD_FACTS),
    )


def _too_hot(system: SystemInput, bank: BankInput, unit: Charger, cells: tuple[float, float]) -> Check:
    """Return that cells are above the highest charging temperature: a stop for cold does not help there."""
    cell_c, high_c = cells
    at, most = show_both(cell_c, "°C", 2), show_both(high_c, "°C", 2)
    return Check(
        rule="cold_charge",
        key=f"{unit.key}/cold_charge",
        subject=unit.key,
        title=f"{unit.name}: charging a hot bank",
        verdict=Verdict.BLOCK,
        value=cell_c,
        limit=high_c,
        unit="°C",
        margin=None,
        sentence=f"Cells at {at}, even at their coldest: too hot, no charging above {most}.",
        source=LITHIUM_SOURCE if bank.chemistry is Chemistry.LFP else LEAD_SOURCE,
        provenance=Provenance.PRINTED,
        formula="coldest cell temperature ≤ highest charging temperature",
        substituted=f"{at} ≤ {most}",
        terms=(Term("T_cell", "coldest cell temperature", cell_c, "°C", bank.tmin_c is None),),
        guesses=resting_on(system, COLD_FACTS),
        cause="hot_bank",
        action="Find the bank a cooler place, or measure its cells again.",
    )


def heat_figures(system: SystemInput) -> tuple[Figure, ...]:
    """Return what it takes to warm a heated pack before it accepts charge, and for how long."""
    bank, cell_c = system.bank, coldest_cell_c(system)
    if bank is None or not bank.is_heated or cell_c is None or cell_c >= GENTLE_BELOW_C:
        return ()
    mass_kg = pack_mass_kg(bank)
    energy_wh = warm_up_wh(mass_kg, GENTLE_BELOW_C - cell_c)
    source = "Heat capacity 1000 J/(kg·K) and half as much again for losses: common practice, no source"
    substituted = f"{show(mass_kg)} × 1000 × {show(GENTLE_BELOW_C - cell_c)}/3600 × 1.5 = {energy_wh:,.0f} Wh"
    found = [
        Figure(
            key="bank/warm_up",
            title="Energy to warm the pack before it takes charge",
            value=energy_wh,
            unit="Wh",
            formula="E = m·c·ΔT/3600·1.5",
            substituted=substituted,
            source=source,
            guesses=resting_on(system, ("bank", "site.tmin_travel", "site.tmin_storage")),
        )
    ]
    if bank.heater_w > 0:
        found.append(
            Figure(
                key="bank/warm_up_hours",
                title="Hours of heating before charging starts",
                value=energy_wh / bank.heater_w,
                unit="h",
                formula="t = E/P_heater",
                substituted=f"{energy_wh:,.0f}/{show(bank.heater_w)} = {energy_wh / bank.heater_w:.1f} h",
                source=source,
            )
        )
    return tuple(found)


def _cold_words(system: SystemInput, bank: BankInput, unit: Charger, cell_c: float) -> tuple[Verdict, str]:
    met, how = cold_verdict(bank.chemistry, cell_c)
    at = f"Cells down to {show_both(cell_c, '°C', 2)}"
    if met is Verdict.PASS and not _rests_on_heating(system, bank):
        return Verdict.PASS, f"{at}: never cold enough to harm."
    alone, words = _without_stop(system, bank, unit, cell_c)
    if unit.low_t_stop_c is None:
        return alone, words
    stops, why = cold_verdict(bank.chemistry, unit.low_t_stop_c)
    if (
        alone.severity < stops.severity
    ):  # the cells never get as cold as its stop, or something else warms them
        return alone, words
    stop = f"it stops at {show_both(unit.low_t_stop_c, '°C', 2)}"
    return stops, {
        Verdict.PASS: f"{at}: {stop}, in time.",
        Verdict.CAUTION: f"{at}: {stop}; until then {why}.",
    }.get(stops, f"{at}: it would still charge down to {show_both(unit.low_t_stop_c, '°C', 2)}; {how}.")


def _rests_on_heating(system: SystemInput, bank: BankInput) -> bool:
    """Return whether cells nobody measured would be harmed if the vehicle's heating failed."""
    air_c = unheated_cell_c(system)
    return air_c is None or cold_verdict(bank.chemistry, air_c)[0] is not Verdict.PASS


def _without_stop(system: SystemInput, bank: BankInput, unit: Charger, cell_c: float) -> tuple[Verdict, str]:
    """Return the verdict on a charger that does not stop by itself in time, cells this cold."""
    met, how = cold_verdict(bank.chemistry, cell_c)
    stop_c = unit.low_t_stop_c
    lacks = (
        "no low-temperature cutoff"
        if stop_c is None
        else f"a stop at {show_both(stop_c, '°C', 2)}, too low to help"
    )
    at = f"Cells down to {show_both(cell_c, '°C', 2)}"
    if bank.is_heated and bank.heater_w > 0:
        return Verdict.CAUTION, (
            f"{at}, {lacks}: only the pack's heater ({show(bank.heater_w, 'W')}) warms"
            " the cells first. If it fails, frozen cells are charged: use a charger that stops by itself."
        )
    if met is Verdict.PASS:
        air_c = unheated_cell_c(system)
        without = (
            "the coldest air is not known" if air_c is None else f"without it {show_both(air_c, '°C', 2)}"
        )
        return Verdict.CAUTION, (
            f"Only the vehicle's heating keeps the cells at {show_both(cell_c, '°C', 2)} ({without}); this"
            f" charger has {lacks}: measure its place, or use one that stops by itself."
        )
    if met is Verdict.CAUTION:
        return Verdict.CAUTION, f"{at} and {lacks}: {how}."
    return Verdict.BLOCK, f"{at} and {lacks} on this charger: {how}."
