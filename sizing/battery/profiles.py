"""What every charger must be set to for a bank: the profile row that goes on the job sheet."""

from __future__ import annotations

from dataclasses import replace

from sizing.array.strings import DEFAULT_ABSORB_V
from sizing.battery.battery import Range, chemistry_data
from sizing.battery.chargers import Charger, chargers
from sizing.battery.charging import absorb_range, charge_limit_a
from sizing.battery.cold import GENTLE_BELOW_C
from sizing.core.customary import show_both
from sizing.core.inputs import BankInput, Chemistry, SourceKind, SystemInput
from sizing.core.results import ProfileRow


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
    scale = system.v_nominal_v / 12.0
    return tuple(
        _profile(unit, bank, absorb_range(bank, system.v_nominal_v), scale) for unit in chargers(system)
    )


def _profile(unit: Charger, bank: BankInput, allowed: Range, scale: float) -> ProfileRow:
    data, is_lithium = chemistry_data(bank.chemistry), bank.chemistry is Chemistry.LFP
    low_v, high_v = allowed.low or 0.0, allowed.high or 0.0
    absorb_v = min(max(DEFAULT_ABSORB_V[bank.chemistry] * scale, low_v), high_v)
    if unit.absorb_v is not None and low_v <= unit.absorb_v <= high_v:
        absorb_v = unit.absorb_v
    row = ProfileRow(
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
        sentence="",
        source=allowed.source,
        provenance=allowed.provenance,
        is_settable=unit.kind not in (SourceKind.TOW_CHARGE_WIRE, SourceKind.RELAY),
    )
    return replace(row, sentence=_sentence(row))


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


def _sentence(row: ProfileRow) -> str:
    """Return what to set, as it is said to the person at the charger."""
    if not row.is_settable:
        return "A bare charge wire cannot be set, nor a relay: the bank gets what the alternator gives."
    floats = "" if row.float_high_v is None else f"{row.float_low_v:.1f} to {row.float_high_v:.1f} V"
    if row.temp_comp_mv_per_c is None:
        return (
            f"Absorb {row.absorb_v:.1f} V, short hold; float off or {floats}; no equalize, no desulfate,"
            f" no temperature compensation; stop charging below {show_both(GENTLE_BELOW_C, '°C')};"
            f" at most {row.max_a:.0f} A."
        )
    return (
        f"Absorb {row.absorb_v:.1f} V and float {floats}, both at {show_both(25.0, '°C')} with"
        f" {row.temp_comp_mv_per_c:+.0f} mV/°C over the whole bank; equalize: {row.equalise};"
        f" at most {row.max_a:.0f} A."
        " Reach float one day in five."
    )
