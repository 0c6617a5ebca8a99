"""When a PWM controller will do: it ties the panels to the battery's voltage."""

from __future__ import annotations

from typing import Final

from sizing.array.strings import WiredString
from sizing.core.checks import Check, Provenance, Term, Verdict
from sizing.core.guesses import resting_on
from sizing.core.inputs import ControllerInput, PanelSpec, SystemInput
from sizing.core.judge import fact_check, limit_check, show
from sizing.core.results import CircuitRow, ControllerResult

PWM_MOST_W: Final = 200.0  # above it MPPT pays for itself, common practice [W]
PWM_MOST_RUN_M: Final = 5.0  # longer runs lose what a low voltage cannot spare, common practice [m]
#: Working volts at 25 °C of panels sold for 12 and 24 V batteries; common practice. [V]
NOMINAL_BY_VMP: Final = ((16.0, 23.0, 12.0), (32.0, 46.0, 24.0))
CELLS_NOMINAL: Final = {32: 12.0, 33: 12.0, 36: 12.0, 72: 24.0}
SOURCE: Final = (
    "PWM only with panels of the battery's nominal voltage, to 200 W, near: common practice, no source"
)


def panel_nominal_v(panel: PanelSpec) -> float | None:
    """Return the battery voltage a panel is made for [V]; ``None`` for panels made for houses."""
    if panel.cells_in_series is not None:
        return CELLS_NOMINAL.get(panel.cells_in_series)
    return next((volts for low, high, volts in NOMINAL_BY_VMP if low <= panel.vmp_v <= high), None)


def pwm_refusal(system: SystemInput, unit: ControllerInput, panels: tuple[PanelSpec, ...]) -> str | None:
    """Return why these panels in series do not suit a PWM controller, or ``None``."""
    nominal = [panel_nominal_v(panel) for panel in panels]
    if None in nominal:
        return "a panel made for houses on PWM loses what its voltage is above the battery's: use MPPT"
    total_v = sum(volts for volts in nominal if volts is not None)
    if total_v != system.v_nominal_v:
        battery_v = show(system.v_nominal_v, "V")
        return f"{show(total_v, 'V')} of panels on a {battery_v} battery: PWM needs them equal"
    return None


def pwm_checks(
    system: SystemInput,
    unit: ControllerInput,
    result: ControllerResult,
    strings: tuple[WiredString, ...],
    rows: tuple[CircuitRow, ...],
) -> list[Check]:
    """Return every judgment that is PWM's own: nominal volts, array power, run, and what it wastes."""
    reasons = [pwm_refusal(system, unit, wired.panels) for wired in strings]
    refused = next((reason for reason in reasons if reason is not None), None)
    guesses = resting_on(system, ("panels", "strings", "controllers"))
    subject = f"controller:{unit.id}"
    found = [
        fact_check(
            rule="pwm",
            key=f"{subject}/pwm_nominal",
            subject=subject,
            title="PWM: panels of the battery's voltage",
            is_met=refused is None,
            sentence=refused or "The panels are made for the battery's voltage.",
            source=SOURCE,
            provenance=Provenance.COMMON_PRACTICE,
            guesses=guesses,
        ),
        limit_check(
            rule="pwm",
            key=f"{subject}/pwm_power",
            subject=subject,
            title="PWM: array power",
            value=result.pmp_w,
            limit=PWM_MOST_W,
            at_limit=Verdict.PASS,  # a line of practice, "up to" by its own words
            unit="W",
            sentences={Verdict.BLOCK: "Too much array for PWM: an MPPT controller harvests a quarter more."},
            source=SOURCE,
            provenance=Provenance.COMMON_PRACTICE,
            guesses=guesses,
        ),
        _waste_check(system, unit, strings, guesses),
    ]
    lengths = [row.run_len_m for row in rows if row.run_len_m is not None]
    if lengths:
        found.append(_run_check(unit, sum(lengths), guesses))
    return found


def pwm_waste_fraction(panel_vmp_v: float, bus_v: float) -> float:
    """Return the share of a string's power a PWM controller wastes [-]: ``1 - V_bat/Vmp``."""
    return max(0.0, 1.0 - bus_v / panel_vmp_v) if panel_vmp_v > 0 else 0.0


def _waste_check(
    system: SystemInput, unit: ControllerInput, strings: tuple[WiredString, ...], guesses: tuple[str, ...]
) -> Check:
    bus_v = 13.2 * system.v_nominal_v / 12.0
    highest_v = max(wired.vmp_v for wired in strings)
    waste = pwm_waste_fraction(highest_v, bus_v)
    return limit_check(
        rule="pwm",
        key=f"controller:{unit.id}/pwm_waste",
        subject=f"controller:{unit.id}",
        title="PWM: power lost by tying panels to the battery",
        value=waste,
        limit=0.40,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # a line of practice, "up to" by its own words
        unit="fraction",
        source="P ≈ Imp × V_bat; a 17 V panel on 12 V loses 15 to 35%: common practice, no source",
        provenance=Provenance.COMMON_PRACTICE,
        formula="1 - V_bat/Vmp",
        substituted=f"1 - {show(bus_v)}/{show(highest_v)}",
        terms=(Term("V_bat", "battery while charging", bus_v, "V"), Term("Vmp", "string", highest_v, "V")),
        guesses=guesses,
    )


def _run_check(unit: ControllerInput, run_m: float, guesses: tuple[str, ...]) -> Check:
    return limit_check(
        rule="pwm",
        key=f"controller:{unit.id}/pwm_run",
        subject=f"controller:{unit.id}",
        title="PWM: length of the run",
        value=run_m,
        limit=PWM_MOST_RUN_M,
        beyond=Verdict.CAUTION,
        at_limit=Verdict.PASS,  # a line of practice, "up to" by its own words
        unit="m",
        source=SOURCE,
        provenance=Provenance.COMMON_PRACTICE,
        guesses=guesses,
    )
