"""How the insulation of the PV leads is tested and judged."""

from __future__ import annotations

from dataclasses import dataclass

from sizing.core.checks import Check, Provenance, Verdict
from sizing.core.inputs import InputOutOfRange
from sizing.core.judge import limit_check, show
from sizing.tables import Row, rows


@dataclass(frozen=True, slots=True)
class InsulationTest:
    """Which test voltage to use and the least resistance to accept."""

    test_voltage_v: float
    min_resistance_mohm: float
    band_v: float  # 1.25 × Voc, which picks the band
    source: str
    provenance: Provenance


def insulation_test(voc_stc_v: float) -> InsulationTest:
    """Return the insulation test for an array of this open-circuit voltage.

    Parameters
    ----------
    voc_stc_v : float
        Open-circuit volts of the string at 25 °C, above 0. [V]

    Returns
    -------
    InsulationTest
        Test voltage and least resistance. [V], [MΩ]

    Raises
    ------
    InputOutOfRange
        If the voltage is not above 0.

    References
    ----------
    .. [1] IEC 62446:2009, insulation table; limits as EN 62446-1:2019 (a test-instrument supplier's page).
    """
    if not voc_stc_v > 0:
        raise InputOutOfRange("voc_stc_v", f"must be above 0 V, got {voc_stc_v}")
    band_v = 1.25 * voc_stc_v
    row = _insulation_row(band_v)
    return InsulationTest(
        test_voltage_v=float(row.text("test_voltage_v")),
        min_resistance_mohm=float(row.text("min_resistance_Mohm")),
        band_v=band_v,
        source=f"{row.text('edition')}: {row.source}",
        provenance=row.provenance,
    )


def judge_insulation(measured_mohm: float | None, voc_stc_v: float, *, is_wet: bool = False) -> Check:
    """Return the judgment of an insulation reading of the PV leads.

    Parameters
    ----------
    measured_mohm : float or None
        Resistance read at the test voltage, electronics isolated. [MΩ]
    voc_stc_v : float
        Open-circuit volts of the string at 25 °C, above 0. [V]
    is_wet : bool
        Whether leads or panels were wet, which lowers the reading. [-]

    Returns
    -------
    Check
        Block below the limit. [MΩ]

    Raises
    ------
    InputOutOfRange
        If the voltage is not above 0.

    References
    ----------
    .. [1] IEC 62446:2009, insulation table.
    """
    test = insulation_test(voc_stc_v)
    retest = " Wet panels and leads read lower: dry them and test again." if is_wet else ""
    return limit_check(
        rule="insulation",
        key="array/insulation",
        subject="array",
        title="Insulation of the PV leads",
        value=measured_mohm,
        limit=test.min_resistance_mohm,
        at_least=True,
        at_limit=Verdict.PASS,  # the standard asks for "at least"
        unit="MΩ",
        sentences={
            Verdict.BLOCK: (
                f"Fails at {show(test.test_voltage_v, 'V')} test: at least"
                f" {show(test.min_resistance_mohm, 'MΩ')}.{retest}"
            )
        },
        source=test.source,
        provenance=test.provenance,
        formula="test voltage and limit by 1.25·Voc",
        substituted=(
            f"1.25 × {show(voc_stc_v)} = {show(test.band_v, 'V')} → {show(test.test_voltage_v, 'V')} test"
        ),
    )


def _insulation_row(band_v: float) -> Row:
    """Return the row of the 2009 table for 1.25 × Voc."""
    found = [row for row in rows("insulation_test_iec62446") if row.text("edition") == "IEC 62446:2009"]
    return found[0] if band_v < 120.0 else found[1] if band_v <= 500.0 else found[2]
