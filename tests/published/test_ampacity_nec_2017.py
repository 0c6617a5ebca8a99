"""Code ampacities and factors against NFPA 70 (2017) tables 310.15(B)(16), (B)(2)(a), (B)(3)(a).

Fixtures were typed from open copies of the tables; the ambient factors from the Canadian
Electrical Code table 5A, which prints the same figures (and the 105 °C column of NFPA 70 table 690.31(A),
whose bands above 60 °C are coarser: those rows are tested apart).
"""

from __future__ import annotations

import math

import pytest

from sizing.cable.ampacity import Laying, cable_ampacity, rooftop_adder_c, standard_ratings
from sizing.cable.conductors import conductor
from sizing.cable.overcurrent import device_limits_compared
from sizing.core.inputs import RuleSet
from tests.published.reading import number, printed

CODE = {60: RuleSet.CODE_75C, 75: RuleSet.CODE_75C, 90: RuleSet.CODE_90C}


@pytest.mark.parametrize("row", printed("nec_310_16_copper"), ids=lambda row: row["size"])
@pytest.mark.parametrize("column", [60, 75, 90])
def test_every_printed_base_is_the_one_used(row, column):
    found = cable_ampacity(CODE[column], conductor(row["size"]), Laying(insulation_c=column))
    base = next(step for step in found.steps if step.kind == "base")
    assert base.value == number(row[f"c{column}_a"])


@pytest.mark.parametrize("row", printed("ambient_factors"), ids=lambda row: f"{row['upto_c']} °C")
@pytest.mark.parametrize("column", [60, 75, 90])
def test_every_ambient_factor_is_the_printed_one(row, column):
    rule_set = CODE[column]
    cable = conductor("4")
    laying = Laying(insulation_c=column, ambient_c=float(row["upto_c"]), terminal_c=90)
    found = cable_ampacity(rule_set, cable, laying)
    base = cable_ampacity(rule_set, cable, Laying(insulation_c=column, terminal_c=90)).corrected_a
    factor = number(row[f"c{column}"])
    if factor is None:
        assert found.corrected_a is None, "the table does not permit this"
    else:
        assert found.corrected_a == pytest.approx(base * factor)


@pytest.mark.parametrize(
    "row", [r for r in printed("ambient_factors") if r["c105"]], ids=lambda r: r["upto_c"]
)
def test_105_degree_cable_takes_the_105_degree_factor(row):
    """NFPA 70 (2017) table 690.31(A), 105 °C column, applied to marine cable in warm air."""
    found = cable_ampacity(RuleSet.MARINE_105C, conductor("4"), Laying(ambient_c=float(row["upto_c"])))
    assert found.usable_a == pytest.approx(160 * float(row["c105"]))


@pytest.mark.parametrize(
    ("ambient_c", "in_raceway", "factor"), [(63, True, 0.65), (63, False, 0.58), (72, False, 0.41)]
)
def test_exposed_pv_wire_uses_the_coarser_bands(ambient_c, in_raceway, factor):
    """NFPA 70 (2017): 310.15(B)(2)(a) has a 61-65 °C band, 690.31(A) only 61-70 °C."""
    laying = Laying(ambient_c=ambient_c, in_raceway=in_raceway, is_exposed_pv=not in_raceway)
    found = cable_ampacity(RuleSet.CODE_90C, conductor("10"), laying)
    assert found.corrected_a == pytest.approx((40 if in_raceway else 55) * factor)


@pytest.mark.parametrize(("ambient_c", "by_formula", "by_table"), [(40, 0.9129, 0.91), (78, 0.4472, 0.41)])
def test_the_table_is_at_or_below_its_own_equation(ambient_c, by_formula, by_table):
    """NFPA 70 (2017) 310.15(B)(2): I' = I·sqrt((Tc - Ta')/(Tc - Ta)); tables use the top of each band."""
    assert math.sqrt((90 - ambient_c) / (90 - 30)) == pytest.approx(by_formula, abs=5e-4)
    found = cable_ampacity(RuleSet.CODE_90C, conductor("10"), Laying(ambient_c=ambient_c))
    assert found.corrected_a == pytest.approx(40 * by_table)
    assert found.corrected_a <= 40 * by_formula


@pytest.mark.parametrize("row", printed("conductor_count"), ids=lambda row: row["from_count"])
def test_every_count_factor_is_the_printed_one(row):
    found = cable_ampacity(RuleSet.CODE_90C, conductor("4"), Laying(bundle_count=int(row["from_count"])))
    assert found.corrected_a == pytest.approx(95 * float(row["factor"]))


@pytest.mark.parametrize("row", printed("nec_310_17_free_air"), ids=lambda row: row["size"])
@pytest.mark.parametrize("column", [60, 75, 90])
def test_every_free_air_base_is_the_one_used(row, column):
    """NFPA 70 table 310.17, typed from an open copy; its 75 °C column slips a line from 1 AWG on.

    From 1/0 AWG the 75 °C figures are those of 33 CFR 183.425 table 5, which are the same; 1 AWG is left out.
    """
    laying = Laying(insulation_c=column, in_raceway=False)
    found = cable_ampacity(CODE[column], conductor(row["size"]), laying)
    base = next(step for step in found.steps if step.kind == "base")
    if row[f"c{column}_a"]:
        assert base.value == float(row[f"c{column}_a"])
    else:
        assert base.value is None or row["size"] == "1"


@pytest.mark.parametrize("row", printed("nec_690_31_bands"), ids=lambda row: row["upto_c"])
@pytest.mark.parametrize("column", [60, 75, 90])
@pytest.mark.parametrize("end", ["from_c", "upto_c"])
def test_every_band_of_exposed_pv_wire_is_the_printed_one(row, column, end):
    """NFPA 70 table 690.31(A): the bands of the older 310.16 table, 105 °C from the Canadian table 5A."""
    laying = Laying(
        insulation_c=column, ambient_c=float(row[end]), terminal_c=90, in_raceway=False, is_exposed_pv=True
    )
    found = cable_ampacity(CODE[column], conductor("4"), laying)
    base = next(step.value for step in found.steps if step.kind == "base")
    factor = number(row[f"c{column}"])
    assert found.corrected_a == (None if factor is None else pytest.approx(base * factor))


@pytest.mark.parametrize("row", printed("nec_690_31_bands"), ids=lambda row: row["upto_c"])
def test_every_105_degree_band_is_the_printed_one(row):
    found = cable_ampacity(RuleSet.MARINE_105C, conductor("4"), Laying(ambient_c=float(row["upto_c"])))
    assert found.usable_a == pytest.approx(160 * float(row["c105"]))


@pytest.mark.parametrize("row", printed("small_conductor_devices"), ids=lambda row: row["size"])
def test_small_conductor_devices(row):
    """NFPA 70 240.4(D) as a code lookup prints it; table 552.10(E)(1) from memory."""
    limits = {name: amps for name, amps, _ in device_limits_compared(row["size"])}
    assert limits["code"] == float(row["code_a"])
    assert limits["park trailer, 24 V or less"] == float(row["park_trailer_a"])


@pytest.mark.parametrize("edition", ["2017", "2020", "2023"])
def test_the_rooftop_adder_is_33_degrees_in_every_edition(edition):
    """NFPA 70 (2017) 310.15(B)(3)(c): 33 °C; the older four-step table began with 33 °C too."""
    assert rooftop_adder_c(edition) == 33.0


def test_standard_ratings_are_those_of_240_6():
    """NFPA 70 (2017) 240.6(A); the sizes 1, 3, 6, 10 and 601 A are for fuses only."""
    main = {float(row["rating_a"]) for row in printed("nec_240_6_ratings")}
    assert set(standard_ratings()) == main | {1.0, 3.0, 6.0, 10.0, 601.0}
