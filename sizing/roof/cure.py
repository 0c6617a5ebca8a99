"""How sealants cure: the clock runs full when warm, half when cool, stops in the cold (F27)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sizing.core.inputs import InputOutOfRange

FULL_RATE_C: Final = 10.0  # at and above it the clock runs full, shop default [°C]
HALF_RATE_C: Final = 5.0  # from here to 10 °C it runs half, below it stands still, shop default [°C]
DRY_AIR_FRACTION: Final = 0.20  # relative humidity below which moisture-cure stands still, shop default [-]


@dataclass(frozen=True, slots=True)
class WeatherSpell:
    """Some hours of like weather: duration [h], air temperature [°C], relative humidity 0-1."""

    hours_h: float
    temp_air_c: float
    humidity_fraction: float | None = None


def cure_rate(
    temp_air_c: float, humidity_fraction: float | None = None, *, moisture_cure: bool = False
) -> float:
    """Return how fast the cure clock runs.

    Parameters
    ----------
    temp_air_c : float
        Air temperature at the bead. [°C]
    humidity_fraction : float or None
        Relative humidity, 0 to 1; ``None`` counts as moist enough. [-]
    moisture_cure : bool
        Whether the family cures from the air's moisture (polyurethane, MS polymer). [-]

    Returns
    -------
    float
        1 from 10 °C up, 0.5 from 5 to 10 °C, 0 below 5 °C; 0 in air too dry for a moisture cure. [-]

    Raises
    ------
    Nothing
        Any weather can be asked.

    References
    ----------
    .. [1] Below 10 °C cure time about doubles (sealant makers' notes); the steps are shop defaults.
    """
    if moisture_cure and humidity_fraction is not None and humidity_fraction < DRY_AIR_FRACTION:
        return 0.0
    if temp_air_c >= FULL_RATE_C:
        return 1.0
    return 0.5 if temp_air_c >= HALF_RATE_C else 0.0


def cured_h(spells: tuple[WeatherSpell, ...], *, moisture_cure: bool = False) -> float:
    """Return the hours the cure clock has run over a row of spells.

    Parameters
    ----------
    spells : tuple of WeatherSpell
        In order; durations 0 or more. [h], [°C]
    moisture_cure : bool
        Whether the family cures from the air's moisture. [-]

    Returns
    -------
    float
        Clock hours. [h]

    Raises
    ------
    InputOutOfRange
        If a duration is negative.

    References
    ----------
    .. [1] As :func:`cure_rate`.
    """
    return sum(
        spell.hours_h * cure_rate(spell.temp_air_c, spell.humidity_fraction, moisture_cure=moisture_cure)
        for spell in _asked(spells)
    )


def hours_until_cured_h(
    target_h: float, spells: tuple[WeatherSpell, ...], *, moisture_cure: bool = False
) -> float | None:
    """Return the hours from sealing until the clock reaches a target.

    Parameters
    ----------
    target_h : float
        Rain-safe, drive-safe or full-cure hours of the family, 0 or more. [h]
    spells : tuple of WeatherSpell
        Forecast from the moment of sealing, in order. [h], [°C]
    moisture_cure : bool
        Whether the family cures from the air's moisture. [-]

    Returns
    -------
    float or None
        Hours on the wall clock; ``None`` when the forecast ends first. [h]

    Raises
    ------
    InputOutOfRange
        If the target or a duration is negative.

    References
    ----------
    .. [1] As :func:`cure_rate`.
    """
    if target_h < 0:
        raise InputOutOfRange("target_h", f"must be 0 h or more, got {target_h}")
    elapsed_h, clock_h = 0.0, 0.0
    for spell in _asked(spells):
        rate = cure_rate(spell.temp_air_c, spell.humidity_fraction, moisture_cure=moisture_cure)
        if rate > 0 and clock_h + rate * spell.hours_h >= target_h - 1e-9:
            return elapsed_h + max(0.0, target_h - clock_h) / rate
        elapsed_h += spell.hours_h
        clock_h += rate * spell.hours_h
    return elapsed_h if clock_h >= target_h - 1e-9 else None


def _asked(spells: tuple[WeatherSpell, ...]) -> tuple[WeatherSpell, ...]:
    for index, spell in enumerate(spells):
        if spell.hours_h < 0:
            raise InputOutOfRange(f"spells[{index}].hours_h", f"must be 0 h or more, got {spell.hours_h}")
    return spells
