"""What the heater of a battery takes in a day of a cold month."""

from __future__ import annotations

from typing import Final

from sizing.core.inputs import BankInput, SystemInput, TravelLeg
from sizing.sun.climate import climate_at

WARM_FROM_C: Final = 5.0  # a heater warms the cells to here before they take charge, common practice [°C]
HEAT_CAPACITY_J_PER_KG_K: Final = 1000.0  # of a lithium pack, common practice [J/(kg·K)]
HEAT_LOSS_FACTOR: Final = 1.5  # what the compartment loses meanwhile, common practice [-]
PACK_WH_PER_KG: Final = 100.0  # of a lithium pack whose mass is not known, common practice [Wh/kg]


def warm_up_wh(mass_kg: float, rise_c: float) -> float:
    """Return the energy that warms a lithium pack [Wh], half as much again for what the compartment loses."""
    return mass_kg * HEAT_CAPACITY_J_PER_KG_K * max(0.0, rise_c) / 3600.0 * HEAT_LOSS_FACTOR


def pack_mass_kg(bank: BankInput) -> float:
    """Return the mass of the whole bank [kg]; by its energy where nobody weighed it."""
    if bank.unit_mass_kg > 0:
        return bank.unit_mass_kg * bank.quantity
    return bank.unit_nominal_v * bank.unit_capacity_ah * bank.quantity / PACK_WH_PER_KG


def heater_day_wh(system: SystemInput, leg: TravelLeg, month: int) -> float:
    """Return what the bank's heater takes on a day of a month at a leg.

    Parameters
    ----------
    system : SystemInput
        The design. [-]
    leg : TravelLeg
        Where the vehicle stands. [°]
    month : int
        1 to 12. [-]

    Returns
    -------
    float
        Energy, 0 for a bank that has no heater or stays warm; at most the heater on all day. [Wh/day]

    Raises
    ------
    Nothing
        Any place can be asked.

    Notes
    -----
    The pack cools to the mean night of the month and is warmed once before it takes charge. A bank inside
    counts as warm while the vehicle is lived in unless somebody gave its coldest temperature. Where the
    night is not known the heater is taken as on all day.

    References
    ----------
    .. [1] Heat balance; capacity and loss are common practice, no source.
    """
    bank = system.bank
    if bank is None or not bank.is_heated or bank.heater_w <= 0:
        return 0.0
    if bank.is_inside and bank.tmin_c is None:
        return 0.0
    most_wh = 24.0 * bank.heater_w
    night_c = _night_c(system, bank, leg, month)
    if night_c is None:
        return most_wh
    return min(most_wh, warm_up_wh(pack_mass_kg(bank), WARM_FROM_C - night_c))


def _night_c(system: SystemInput, bank: BankInput, leg: TravelLeg, month: int) -> float | None:
    """Return how cold the cells get in a mean night [°C], never below what they were seen to reach."""
    climate = (
        None if leg.longitude_deg is None else climate_at(leg.latitude_deg, leg.longitude_deg, leg.altitude_m)
    )
    if climate is None:
        return bank.tmin_c if bank.tmin_c is not None else system.tmin_travel_c
    night_c = climate.temp_air_min_c[month - 1]
    return night_c if bank.tmin_c is None else max(night_c, bank.tmin_c)
