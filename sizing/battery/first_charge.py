"""What current a controller should show right after first switch-on, at this sun and warmth."""

from __future__ import annotations

import math
from typing import Final

from sizing.array.strings import wired_strings
from sizing.core.inputs import InputOutOfRange, SystemInput

#: A controller that gives less than this share of the computed current is looked into; common practice. [-]
LEAST_SHARE_OF_CHARGE: Final = 0.85


def expected_charge_a(
    system: SystemInput,
    controller_id: str,
    *,
    poa_global_w_m2: float,
    temp_cell_c: float,
    battery_v: float,
) -> float | None:
    """Return the charge current one controller should show into a bank that takes all of it.

    Parameters
    ----------
    system : SystemInput
        Design with panels, strings and controllers. [-]
    controller_id : str
        Which controller. [-]
    poa_global_w_m2 : float
        Irradiance in the panels' plane, 0 to 2000. [W/m²]
    temp_cell_c : float
        Cell temperature, -60 to 120. [°C]
    battery_v : float
        Battery volts while reading, above 0. [V]

    Returns
    -------
    float or None
        Current into the battery, not above the controller's rating; ``None`` when the design has no such
        controller, no panels on it, or a panel without a power coefficient. [A]

    Raises
    ------
    InputOutOfRange
        If irradiance, temperature or voltage lies outside its range.

    Notes
    -----
    ``I = min(I_rated, η·Σ Pmp·G/1000·(1 + γ·(Tc - 25))/V_bat)``. It is an upper figure: dirt, shade and a
    bank that tapers give less. No wiring loss is taken off.

    References
    ----------
    .. [1] Module power by the linear temperature coefficient, IEC 60891 in simplified form; energy balance.
    """
    if not 0.0 <= poa_global_w_m2 <= 2000.0:
        raise InputOutOfRange("poa_global_w_m2", f"must be 0 to 2000 W/m², got {poa_global_w_m2}")
    if not -60.0 <= temp_cell_c <= 120.0:
        raise InputOutOfRange("temp_cell_c", f"must be -60 to 120 °C, got {temp_cell_c}")
    if not (math.isfinite(battery_v) and battery_v > 0.0):
        raise InputOutOfRange("battery_v", f"must be above 0 V, got {battery_v}")
    controller = next((found for found in system.controllers if found.id == controller_id), None)
    if controller is None:
        return None
    panels = [panel for wired in wired_strings(system, controller) for panel in wired.panels]
    if not panels or any(p.gamma_pmp_fraction_per_c is None for p in panels):
        return None
    power_w = sum(
        panel.pmp_w * (1.0 - abs(panel.gamma_pmp_fraction_per_c or 0.0) * (temp_cell_c - 25.0))
        for panel in panels
    )
    share = poa_global_w_m2 / 1000.0 * controller.efficiency_fraction / battery_v
    return min(controller.rated_output_a, max(0.0, power_w * share))
