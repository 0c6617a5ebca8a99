"""What the meter should read on the roof, and what a reading that differs usually means (F24)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from sizing.array.diode import diode_point
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.inputs import InputOutOfRange, PanelSpec
from sizing.core.judge import limit_check, show, show_percent

STC_IRRADIANCE_W_M2: Final = 1000.0
THERMAL_V_25C: Final = 0.0257  # thermal voltage of a cell at 25 °C [V]
STC_KELVIN: Final = 298.0
KELVIN: Final = 273.0
VOC_PER_CELL_V: Final = 0.675  # crystalline silicon, to guess a cell count [V]
LEAST_SUN_W_M2: Final = 1.0  # below it nothing is expected at all [W/m²]
LEAST_IRRADIANCE_W_M2: Final = 400.0  # below it a reading is no test, from memory [W/m²]
BAND: Final = 0.05  # IEC 62446-1: strings within 5 % [-]
ROUGH_BAND: Final = 0.10  # where irradiance comes from a telephone or cheap sensor, common practice [-]
READING_SOURCE: Final = (
    "IEC 62446-1: strings within 5%; setting them against a computed value is our extension"
)


class Quantity(StrEnum):
    """What is read at a string."""

    VOC = "voc"
    ISC = "isc"


@dataclass(frozen=True, slots=True)
class ExpectedReadings:
    """What a string should read now, and how far it may differ. Volts and amps of one string."""

    voc_v: float
    isc_a: float
    voc_band_v: tuple[float, float]
    isc_band_a: tuple[float, float]
    panel_voc_v: float  # one panel's share of the volts
    formula_voc: str
    substituted_voc: str
    formula_isc: str
    substituted_isc: str
    method: str
    guesses: tuple[str, ...] = ()


def expected_readings(
    panel: PanelSpec,
    *,
    ns: int,
    poa_global_w_m2: float,
    temp_cell_c: float,
    is_rough_meter: bool = False,
) -> ExpectedReadings:
    """Return what one string should read at this sun and cell temperature, by the handbook formula (F24).

    Parameters
    ----------
    panel : PanelSpec
        Data sheet; a missing cell count is guessed from the open-circuit volts. [V], [A]
    ns : int
        Panels in series, 1 or more. [-]
    poa_global_w_m2 : float
        Irradiance in the panels' plane, 1 to 2000. [W/m²]
    temp_cell_c : float
        Cell temperature: back sheet plus 2 to 3 °C; -60 to 120. [°C]
    is_rough_meter : bool
        Whether the irradiance comes from a telephone or cheap sensor: amps then have 10 %. [-]

    Returns
    -------
    ExpectedReadings
        Open-circuit volts and short-circuit amps of one string with their bands. [V], [A]

    Raises
    ------
    InputOutOfRange
        If a value lies outside its range, or the panel has no voltage coefficient.

    Notes
    -----
    ``Voc = N_s·Voc·(1 - |β|·(Tc - 25)) + N_cells·0.0257·((Tc + 273)/298)·ln(G/1000)`` and
    ``Isc = Isc·G/1000·(1 + α·(Tc - 25))``.

    References
    ----------
    .. [1] Handbook translation of module readings to standard conditions (IEC 60891 in simplified form).
    .. [2] IEC 62446-1, acceptance within 5 %.
    """
    _ask_in_range(panel, ns, poa_global_w_m2, temp_cell_c)
    cells = panel.cells_in_series or round(panel.voc_v / VOC_PER_CELL_V)
    beta = abs(panel.beta_voc_fraction_per_c or 0.0)
    linear_v = ns * panel.voc_v * (1.0 - beta * (temp_cell_c - 25.0))
    dim = math.log(poa_global_w_m2 / STC_IRRADIANCE_W_M2)
    light_v = ns * cells * THERMAL_V_25C * (temp_cell_c + KELVIN) / STC_KELVIN * dim
    voc_v = max(0.0, linear_v + light_v)
    warm = 1.0 + panel.alpha_isc_fraction_per_c * (temp_cell_c - 25.0)
    isc_a = panel.isc_a * poa_global_w_m2 / STC_IRRADIANCE_W_M2 * warm
    return ExpectedReadings(
        voc_v=voc_v,
        isc_a=isc_a,
        voc_band_v=_band(voc_v, BAND),
        isc_band_a=_band(isc_a, ROUGH_BAND if is_rough_meter else BAND),
        panel_voc_v=voc_v / ns,
        formula_voc="Voc = N_s·Voc·(1 - |β|·(Tc - 25)) + N_cells·0.0257·((Tc + 273)/298)·ln(G/1000)",
        substituted_voc=(
            f"{show(ns * panel.voc_v)} × (1 - {show(beta, '', 5)} × {show(temp_cell_c - 25)})"
            f" + {ns * cells} × 0.0257 × ({show(temp_cell_c + KELVIN)}/298)"
            f" × ln {show(poa_global_w_m2 / 1000, '', 3)} = {show(voc_v, 'V')}"
        ),
        formula_isc="Isc = Isc·G/1000·(1 + α·(Tc - 25))",
        substituted_isc=(
            f"{show(panel.isc_a)} × {show(poa_global_w_m2 / 1000, '', 3)} × {show(warm, '', 4)}"
            f" = {show(isc_a, 'A')}"
        ),
        method="handbook formula",
        guesses=() if panel.cells_in_series else ("panels",),
    )


def expected_by_diode(
    panel: PanelSpec,
    *,
    ns: int,
    poa_global_w_m2: float,
    temp_cell_c: float,
    is_rough_meter: bool = False,
) -> ExpectedReadings:
    """Return what one string should read by the single-diode model of its panel.

    Parameters
    ----------
    panel : PanelSpec
        With single-diode parameters. [V], [A]
    ns : int
        Panels in series, 1 or more. [-]
    poa_global_w_m2 : float
        Irradiance in the panels' plane, 1 to 2000. [W/m²]
    temp_cell_c : float
        Cell temperature, -60 to 120. [°C]
    is_rough_meter : bool
        Whether the irradiance comes from a telephone or cheap sensor: amps then have 10 %. [-]

    Returns
    -------
    ExpectedReadings
        As :func:`expected_readings`, by the other method. [V], [A]

    Raises
    ------
    InputOutOfRange
        If a value lies outside its range or the panel has no single-diode parameters.

    Notes
    -----
    Loads pvlib on first use, which takes seconds. Over 100 modules of the open list, from 400 W/m² and 0 to
    52 °C, the two methods' volts part by at most 3.5 % (median 1 %), more when hotter; both are shown and the
    handbook formula rules.

    References
    ----------
    .. [1] De Soto, Klein and Beckman (2006); pvlib 0.16 ``calcparams_cec`` and ``singlediode``.
    """
    _ask_in_range(panel, ns, poa_global_w_m2, temp_cell_c, needs_coefficient=False)
    if panel.single_diode is None:
        raise InputOutOfRange("panel.single_diode", "is needed for this method: fit the data sheet first")
    point = diode_point(panel.single_diode, poa_global_w_m2=poa_global_w_m2, temp_cell_c=temp_cell_c)
    at = f"{show(poa_global_w_m2)} W/m², {show(temp_cell_c)} °C"
    return ExpectedReadings(
        voc_v=ns * point.voc_v,
        isc_a=point.isc_a,
        voc_band_v=_band(ns * point.voc_v, BAND),
        isc_band_a=_band(point.isc_a, ROUGH_BAND if is_rough_meter else BAND),
        panel_voc_v=point.voc_v,
        formula_voc="I_L - I_o·(exp(V/a) - 1) - V/R_sh = 0, times N_s",
        substituted_voc=f"{ns} × {show(point.voc_v)} at {at} = {show(ns * point.voc_v, 'V')}",
        formula_isc="I = I_L - I_o·(exp(I·R_s/a) - 1) - I·R_s/R_sh",
        substituted_isc=f"at {at} = {show(point.isc_a, 'A')}",
        method="single-diode model",
    )


def judge_reading(
    quantity: Quantity,
    measured: float | None,
    expected: ExpectedReadings,
    *,
    poa_global_w_m2: float,
    string_id: str = "",
    other_strings: tuple[float, ...] = (),
) -> Check:
    """Return the judgment of one string's reading, with what usually causes one that differs.

    Parameters
    ----------
    quantity : Quantity
        ``voc`` or ``isc``. [-]
    measured : float or None
        The reading; its sign is the polarity. [V] or [A]
    expected : ExpectedReadings
        What the string should read. [V], [A]
    poa_global_w_m2 : float
        Irradiance while reading; below 400 the reading is refused as a test. [W/m²]
    string_id : str
        Names the string in key and subject. [-]
    other_strings : tuple of float
        Readings of the other strings under the same sun, to tell one bad string from bad light. [V], [A]

    Returns
    -------
    Check
        Pass within the band, block outside, not enough data without a reading or without sun. [V] or [A]

    Raises
    ------
    InputOutOfRange
        If the irradiance or the reading is not a number.

    References
    ----------
    .. [1] IEC 62446-1: 5 % between strings under stable light; 400 W/m² from memory.
    """
    if not math.isfinite(poa_global_w_m2) or (measured is not None and not math.isfinite(measured)):
        raise InputOutOfRange("reading", f"must be numbers, got {measured} at {poa_global_w_m2} W/m²")
    is_volts = quantity is Quantity.VOC
    value, band = (expected.voc_v, expected.voc_band_v) if is_volts else (expected.isc_a, expected.isc_band_a)
    unit = "V" if is_volts else "A"
    verdict, words = _reading_words(quantity, measured, value, band, expected, poa_global_w_m2, other_strings)
    return Check(
        rule="F24",
        key=f"string:{string_id}/reading_{quantity.value}",
        subject=f"string:{string_id}",
        title="Open-circuit voltage read" if is_volts else "Short-circuit current read",
        verdict=verdict,
        value=measured,
        limit=value,
        unit=unit,
        margin=None if measured is None else (measured - value) / value if value else None,
        sentence=words,
        source=READING_SOURCE,
        provenance=Provenance.PRINTED,
        formula=expected.formula_voc if is_volts else expected.formula_isc,
        substituted=expected.substituted_voc if is_volts else expected.substituted_isc,
        terms=(
            Term("low", "lower end of the band", band[0], unit),
            Term("high", "upper end of the band", band[1], unit),
            Term("G", "irradiance while reading", poa_global_w_m2, "W/m²"),
        ),
        guesses=expected.guesses,
    )


def judge_strings_alike(quantity: Quantity, readings: tuple[float, ...], *, controller_id: str = "") -> Check:
    """Return whether identical strings read within 5 % of one another.

    Parameters
    ----------
    quantity : Quantity
        ``voc`` or ``isc``. [-]
    readings : tuple of float
        One per string, under the same stable sun. [V] or [A]
    controller_id : str
        Names the controller in key and subject. [-]

    Returns
    -------
    Check
        Pass within 5 % of the highest, block beyond, not enough data below two readings. [-]

    Raises
    ------
    InputOutOfRange
        If a reading is not a number.

    References
    ----------
    .. [1] IEC 62446-1: identical strings under stable light within 5 %.
    """
    if not all(math.isfinite(reading) for reading in readings):
        raise InputOutOfRange("readings", f"must be numbers, got {readings}")
    top = max((abs(reading) for reading in readings), default=0.0)
    spread = (top - min(readings)) / top if len(readings) > 1 and top > 0 else None
    return limit_check(
        rule="F24",
        key=f"controller:{controller_id}/alike_{quantity.value}",
        subject=f"controller:{controller_id}",
        title="Strings against one another",
        value=spread,
        limit=BAND,
        at_limit=Verdict.PASS,  # "within 5 %" by its own words
        unit="fraction",
        sentence=f"The strings differ by {show_percent(spread)}.",
        source="IEC 62446-1: identical strings under stable light within 5%",
        provenance=Provenance.PRINTED,
        formula="(max - min)/max ≤ 5%",
        substituted=", ".join(show(reading) for reading in readings),
    )


def judge_measured_drop(measured_v: float | None, expected_v: float, *, circuit_id: str = "") -> Check:
    """Return whether a drop measured under sun is within 30 % of the computed one.

    Parameters
    ----------
    measured_v : float or None
        Volts at the far end less volts at the near end, under load. [V]
    expected_v : float
        The computed drop scaled to the current flowing, above 0. [V]
    circuit_id : str
        Names the circuit in key and subject. [-]

    Returns
    -------
    Check
        Pass up to 30 % more than computed (less is fine), block beyond. [V]

    Raises
    ------
    InputOutOfRange
        If the computed drop is not above 0.

    References
    ----------
    .. [1] Common practice, no source.
    """
    if not expected_v > 0:
        raise InputOutOfRange("expected_v", f"must be above 0 V, got {expected_v}")
    return limit_check(
        rule="F15",
        key=f"circuit:{circuit_id}/measured_drop",
        subject=f"circuit:{circuit_id}",
        title="Voltage drop measured under load",
        value=measured_v,
        limit=1.3 * expected_v,
        at_limit=Verdict.PASS,  # a band of practice, its end belongs to it
        unit="V",
        sentences={
            Verdict.BLOCK: "Too high: a bad crimp (heat camera, no touching) or a longer path than drawn.",
            Verdict.PASS: f"{show(measured_v, 'V')} measured, {show(expected_v, 'V')} computed.",
        },
        source="Measured drop within 30% of the computed one: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="V_measured ≤ 1.3·V_computed",
        substituted=f"{show(measured_v, 'V')} against 1.3 × {show(expected_v)}",
    )


def _reading_words(
    quantity: Quantity,
    measured: float | None,
    value: float,
    band: tuple[float, float],
    expected: ExpectedReadings,
    poa_global_w_m2: float,
    other_strings: tuple[float, ...],
) -> tuple[Verdict, str]:
    if measured is None:
        return Verdict.NOT_ENOUGH_DATA, "Not read yet."
    if measured < 0:
        return Verdict.BLOCK, "Negative: the pair is reversed. Stop, do not close the PV switch."
    if poa_global_w_m2 < LEAST_IRRADIANCE_W_M2:
        return (
            Verdict.NOT_ENOUGH_DATA,
            f"Refused as a test: {show(poa_global_w_m2)} W/m² is below {LEAST_IRRADIANCE_W_M2:,.0f} W/m².",
        )
    share = (measured - value) / value if value else 0.0
    differs = f"{show(share * 100, '%', 1)} off the expected {show(value, _unit(quantity), 2)}"
    if band[0] <= measured <= band[1]:
        return Verdict.PASS, f"Within the band, {differs}."
    hint = (
        _voltage_hint(measured, expected)
        if quantity is Quantity.VOC
        else _current_hint(measured, band, other_strings)
    )
    return Verdict.BLOCK, f"{differs}: {hint}"


def _voltage_hint(measured_v: float, expected: ExpectedReadings) -> str:
    """Return what open-circuit volts outside the band usually mean."""
    if measured_v < 0.05 * expected.voc_v:
        return "zero: a connector is not seated, or a pair is reversed."
    missing_v = expected.voc_v - measured_v
    panels = missing_v / expected.panel_voc_v
    if panels < 0:
        return "too high: more panels in series than planned, another panel model, or cells colder than read."
    lacks = f"about {show(missing_v, 'V', 1)} low"
    if abs(panels - round(panels)) <= 0.12 and round(panels) >= 1:
        count = round(panels)
        return f"{lacks} ≈ {count} {'panel' if count == 1 else 'panels'}: missing or by-passed."
    for share, words in ((1 / 3, "one third"), (1 / 2, "one half"), (2 / 3, "two thirds")):
        if abs(panels % 1.0 - share) <= 0.08:
            return f"{lacks} ≈ {words} of one panel: a bypassed sub-string or wrong panel."
    return f"{lacks}: cells hotter than read, a weak panel or a poor joint."


def _current_hint(measured_a: float, band: tuple[float, float], other_strings: tuple[float, ...]) -> str:
    """Return what short-circuit amps outside the band usually mean."""
    if measured_a > band[1]:
        return "too high: brighter than the meter says, another panel model, or strings joined."
    if measured_a < 0.05 * band[0]:
        return "zero: an open fuse, a connector not seated, or a broken lead."
    others_low = [reading < band[0] for reading in other_strings]
    if others_low and all(others_low):
        return "low on all strings: sun, dirt or the meter."
    if others_low:
        return "low on this string: shade, dirt or a wrong panel."
    return "low: shade, dirt, a wrong panel, or less sun than the meter says."


def _ask_in_range(
    panel: PanelSpec, ns: int, poa_global_w_m2: float, temp_cell_c: float, *, needs_coefficient: bool = True
) -> None:
    if ns < 1:
        raise InputOutOfRange("ns", f"must be 1 or more, got {ns}")
    if not LEAST_SUN_W_M2 <= poa_global_w_m2 <= 2000.0:
        raise InputOutOfRange("poa_global_w_m2", f"must be 1 to 2000 W/m², got {poa_global_w_m2}")
    if not -60.0 <= temp_cell_c <= 120.0:
        raise InputOutOfRange("temp_cell_c", f"must be -60 to 120 °C, got {temp_cell_c}")
    if needs_coefficient and panel.beta_voc_fraction_per_c is None:
        raise InputOutOfRange("panel.beta_voc_fraction_per_c", "is needed to expect a reading")


def _band(value: float, share: float) -> tuple[float, float]:
    return value * (1.0 - share), value * (1.0 + share)


def _unit(quantity: Quantity) -> str:
    return "V" if quantity is Quantity.VOC else "A"
