"""Knows what every charger must be set to for a bank: the profile row that goes on the job sheet."""

from __future__ import annotations

from dataclasses import dataclass

from sizing.battery import chemistry_data
from sizing.chargers import chargers
from sizing.charging import absorb_range, charge_limit_a
from sizing.checks import Provenance
from sizing.cold import GENTLE_BELOW_C
from sizing.inputs import Chemistry, SystemInput
from sizing.strings import DEFAULT_ABSORB_V


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """What one charger is to be set to. Volts for the whole bank; ``None`` means off or not to be set."""

    key: str  # the charger, as in the checks: controller:A, source:converter
    name: str
    chemistry: str
    absorb_v: float  # to set
    absorb_low_v: float
    absorb_high_v: float
    float_low_v: float | None
    float_high_v: float | None
    equalise: str  # "never", "only if its maker asks", or the range in volts
    temp_comp_mv_per_c: float | None  # for the whole bank; None: off
    low_t_stop_c: float | None
    max_a: float
    sentence: str
    source: str
    provenance: Provenance


def profile_rows(system: SystemInput) -> tuple[ProfileRow, ...]:
    """Return what every charger of a design is to be set to.

    Parameters
    ----------
    system : SystemInput
        Bank, controllers and other chargers. [-]

    Returns
    -------
    tuple of ProfileRow
        One per charger; empty without a bank. [V], [mV/°C], [°C], [A]

    Raises
    ------
    Nothing
        A design without bank or chargers has no rows.

    Notes
    -----
    The battery maker's sheet wins; where its range is given it is used. The middle of the printed
    compensation range is proposed for lead; lithium has none.

    References
    ----------
    .. [1] Battery University BU-410; a deep-cycle maker's guide; the rest as each range says.
    """
    bank = system.bank
    if bank is None:
        return ()
    data, scale = chemistry_data(bank.chemistry), system.v_nominal_v / 12.0
    allowed = absorb_range(bank, system.v_nominal_v)
    low_v, high_v = allowed.low or 0.0, allowed.high or 0.0
    usual_v = min(max(DEFAULT_ABSORB_V[bank.chemistry] * scale, low_v), high_v)
    is_lithium = bank.chemistry is Chemistry.LFP
    rows = []
    for unit in chargers(system):
        inside = unit.absorb_v is not None and low_v <= unit.absorb_v <= high_v
        absorb_v = unit.absorb_v if inside and unit.absorb_v is not None else usual_v
        rows.append(
            ProfileRow(
                key=unit.key,
                name=unit.name,
                chemistry=bank.chemistry.value,
                absorb_v=absorb_v,
                absorb_low_v=low_v,
                absorb_high_v=high_v,
                float_low_v=None if data.float_v.low is None else data.float_v.low * scale,
                float_high_v=None if data.float_v.high is None else data.float_v.high * scale,
                equalise=_equalise_words(bank.chemistry, scale),
                temp_comp_mv_per_c=None if is_lithium else _compensation_mv(bank.chemistry, scale),
                low_t_stop_c=GENTLE_BELOW_C if is_lithium else data.charge_temp_c.low,
                max_a=min(unit.output_a, charge_limit_a(bank)[0]),
                sentence=_sentence(bank.chemistry, absorb_v),
                source=allowed.source,
                provenance=allowed.provenance,
            )
        )
    return tuple(rows)


def _equalise_words(chemistry: Chemistry, scale: float) -> str:
    if chemistry in (Chemistry.LFP, Chemistry.GEL):
        return "never"
    if chemistry is Chemistry.AGM:
        return "only if its maker asks"
    found = chemistry_data(chemistry).equalise_v
    return f"{(found.low or 0.0) * scale:.1f} to {(found.high or 0.0) * scale:.1f} V, at most 2 h, vented"


def _compensation_mv(chemistry: Chemistry, scale: float) -> float:
    """Return the middle of the printed compensation for the whole bank [mV/°C]; negative: less when warm."""
    found = chemistry_data(chemistry).temp_comp_v_per_c
    per_12_v = ((found.low or 0.0) + (found.high or 0.0)) / 2.0 * 1000.0
    return per_12_v * scale


def _sentence(chemistry: Chemistry, absorb_v: float) -> str:
    if chemistry is Chemistry.LFP:
        return (
            f"Absorb {absorb_v:.1f} V, short hold; float off or low; no equalise, no desulphate, no"
            f" temperature compensation; stop charging below {GENTLE_BELOW_C:.0f} °C."
        )
    return f"Absorb {absorb_v:.1f} V at 25 °C with temperature compensation; reach float one day in five."
