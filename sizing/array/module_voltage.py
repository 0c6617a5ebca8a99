"""A panel's voltage away from 25 °C: by its coefficient, by the code table, by its single diode."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from sizing.array.diode import DIODE_SOURCE, diode_voc_v
from sizing.core.checks import Provenance
from sizing.core.inputs import InputOutOfRange, PanelSpec
from sizing.tables import rows

STC_CELL_C: Final = 25.0
HOT_CELL_RIGID_C: Final = 70.0  # flat on a roof with an air gap, common practice [°C]
HOT_CELL_GLUED_C: Final = 80.0  # glued full-face, common practice [°C]
BY_COEFFICIENT: Final = "module coefficient"
BY_TABLE: Final = "code table"
BY_DIODE: Final = "single-diode model"
TABLE_SOURCE: Final = "NFPA 70 (2017), table 690.7(A): module ambient below 25 °C, colder band taken"
COEFFICIENT_SOURCE: Final = "NFPA 70 (2017), 690.7(A)(1): module coefficient from its data sheet"


@dataclass(frozen=True, slots=True)
class ColdVoltage:
    """One panel's open-circuit voltage in the cold and by which method."""

    voc_v: float
    method: str
    source: str
    provenance: Provenance


def voc_at_v(panel: PanelSpec, cell_c: float) -> float | None:
    """Return open-circuit volts at a cell temperature by the coefficient [V]; ``None`` without one."""
    if panel.beta_voc_fraction_per_c is None:
        return None
    return panel.voc_v * (1.0 - abs(panel.beta_voc_fraction_per_c) * (cell_c - STC_CELL_C))


def vmp_at_v(panel: PanelSpec, cell_c: float) -> float | None:
    """Return volts at maximum power at a cell temperature [V]; the power coefficient stands in for volts."""
    if panel.gamma_pmp_fraction_per_c is None:
        return None
    return panel.vmp_v * (1.0 - abs(panel.gamma_pmp_fraction_per_c) * (cell_c - STC_CELL_C))


def code_table_factor(tmin_c: float) -> float | None:
    """Return the code's correction of open-circuit volts for cold.

    Parameters
    ----------
    tmin_c : float
        Lowest expected ambient temperature. [°C]

    Returns
    -------
    float or None
        Factor on the rated volts: 1.0 from 25 °C up; ``None`` below -40 °C, where the table ends. [-]

    Raises
    ------
    InputOutOfRange
        If the temperature is not a number.

    Notes
    -----
    Bands are whole degrees; between two bands the colder one is taken.

    References
    ----------
    .. [1] NFPA 70 (2017), table 690.7(A).
    """
    if not math.isfinite(tmin_c):
        raise InputOutOfRange("tmin_c", f"must be a temperature in °C, got {tmin_c}")
    if tmin_c >= STC_CELL_C:
        return 1.0
    for row in rows("voc_temperature_nec_690_7"):
        if tmin_c >= float(row.text("ambient_low_C")):
            return float(row.text("factor"))
    return None


def cold_voltages(panel: PanelSpec, tmin_c: float) -> tuple[ColdVoltage, ...]:
    """Return one panel's cold open-circuit voltage by every method that can be worked, the ruling one first.

    Parameters
    ----------
    panel : PanelSpec
        Data sheet; ``beta_voc_fraction_per_c`` may be missing. [V], [1/°C]
    tmin_c : float
        Lowest temperature of route and storage; the cell is at air temperature before sunrise. [°C]

    Returns
    -------
    tuple of ColdVoltage
        The module coefficient rules when known, else the code table; the others follow. Empty when neither
        answers: no coefficient and colder than the table. [V]

    Raises
    ------
    InputOutOfRange
        If the temperature is not a number.

    Notes
    -----
    Coefficient: ``Voc·(1 + |β|·(25 - Tmin))``. The straight line is the least conservative of the three: a
    60-cell module of the open CEC list at -20 °C reads 1.8 % more by the single-diode model and 4.1 % more by
    the table.

    References
    ----------
    .. [1] NFPA 70 (2017), 690.7(A)(1) and table 690.7(A).
    .. [2] De Soto, Klein and Beckman (2006), Solar Energy 80, 78-88.
    """
    found = []
    by_coefficient = voc_at_v(panel, tmin_c)
    if by_coefficient is not None:
        found.append(ColdVoltage(by_coefficient, BY_COEFFICIENT, COEFFICIENT_SOURCE, Provenance.MAKER))
    factor = code_table_factor(tmin_c)
    if factor is not None:
        found.append(ColdVoltage(panel.voc_v * factor, BY_TABLE, TABLE_SOURCE, Provenance.PRINTED))
    if found and panel.single_diode is not None:  # shown beside the others, never ruling by itself
        volts = diode_voc_v(panel.single_diode, poa_global_w_m2=1000.0, temp_cell_c=tmin_c)
        found.append(ColdVoltage(volts, BY_DIODE, DIODE_SOURCE, Provenance.COMPUTED))
    return tuple(found)
