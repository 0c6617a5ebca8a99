"""The hardest used foot of a roof with several kinds of panel, an open front, a high gap, no feet at all.

Invented panels. Worked by hand: q = 0.5·1.225·46.94² = 1349.6 Pa; a #14 screw holds 116.5 N in 9.525 mm of
plywood and 621.3 N in a rafter (2850·0.45²·0.242 lb per inch, wood engineering handbooks). Suction 1.0, 1.3
and 1.5 and the 1.5 of leading feet: common practice, no source.

P400 of 1.9527 m² and 21.5 kg: lift 2635.3 N, weight 210.9 N, net 2424.4 N.
P100 of 0.5670 m² and 6.5 kg: lift 765.2 N, weight 63.8 N, net 701.4 N.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

import sizing
from sizing import PlacedPanel, RoofInput, Verdict
from tests.designs import P100, P200, P370, P400, golden

PLY_3_8_M = 0.009525  # 3/8 in
STRONG = PlacedPanel("a", P400, 0.6, 0.2, feet=6, fasteners_per_foot=8)  # 404.1/(8·116.5) = 0.43
WEAK = PlacedPanel("b", P100, 3.0, 0.2, feet=2, fasteners_per_foot=2)  # 350.7/(2·116.5) = 1.51


def roofed(*panels, **roof):
    surface = RoofInput(8.0, 2.3, "tpo", deck_thickness_m=PLY_3_8_M, overall_height_m=3.5)
    design = replace(golden(), panels=panels, strings=(), circuits=(), roof=replace(surface, **roof))
    return sizing.size_system(design)


class TestTwoKindsOfPanel:
    @pytest.mark.parametrize("panels", [(STRONG, WEAK), (WEAK, STRONG)])
    def test_the_most_used_foot_rules_not_the_largest_pull(self, panels):
        check = roofed(*panels).check("roof/uplift")
        assert check.value == pytest.approx(350.7 / 233.0, abs=0.005)
        assert check.verdict is Verdict.BLOCK
        assert check.sentence.startswith("P100: ‹351 N|79 lbf› on a foot that holds only ‹233 N|52 lbf›")

    def test_alone_the_strong_one_passes(self):
        check = roofed(STRONG).check("roof/uplift")
        assert check.value == pytest.approx(404.1 / 932.0, abs=0.005)
        assert check.verdict is Verdict.PASS

    def test_few_feet_of_either_kind_are_named(self):
        names = {check.key for check in roofed(STRONG, WEAK).checks if check.key.endswith("/feet")}
        assert names == {"panel:P100/feet"}

    def test_one_that_holds_by_no_screw_is_not_passed_over(self):
        bare = replace(WEAK, fasteners_per_foot=0)
        check = roofed(STRONG, bare).check("roof/uplift")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "no screw is planned" in check.sentence


def _kinds():
    feet, screws, gaps = (2, 4, 6), (0, 2, 4, 8), (0.05, 0.12)
    return itertools.product((P100, P200, P370, P400), feet, screws, gaps)


@pytest.mark.parametrize("roof", [{}, {"feet_on_rafter": 6}, {"is_front_open": True}, {"material": "steel"}])
def test_two_panels_are_never_judged_milder_than_either_alone(roof):
    """Side by side, so that at an open front neither shelters the other."""
    for one, two in itertools.islice(itertools.product(_kinds(), _kinds()), 0, None, 37):
        a = PlacedPanel("a", one[0], 0.6, 0.0, True, one[1], one[2], gap_m=one[3])
        b = PlacedPanel("b", two[0], 0.6, 2.0, True, two[1], two[2], gap_m=two[3])
        both = _foot_verdict(roofed(a, b, **roof))
        assert both >= max(_foot_verdict(roofed(a, **roof)), _foot_verdict(roofed(b, **roof))), (one, two)
        assert both == _foot_verdict(roofed(b, a, **roof))


def _foot_verdict(result):
    feet = [check for check in result.checks if check.key.startswith("roof/uplift")]
    return max(check.verdict.severity for check in feet)


class TestOpenFront:
    def test_the_gust_works_on_the_lift_and_not_on_the_weight(self):
        """1.5·(1.3·2635.3 - 210.9)/4 = 1205.6 N on two screws in a rafter, 1242.6 N."""
        panel = PlacedPanel("a", P400, 0.6, 0.2, feet=4)
        check = roofed(panel, feet_on_rafter=4, is_front_open=True).check("roof/uplift_front")
        assert check.value == pytest.approx(1205.6 / 1242.6, abs=0.001)
        assert check.verdict is Verdict.BLOCK

    def test_only_panels_with_nobody_ahead_lie_in_the_wind(self):
        """Front row of two side by side; the one with two feet is the worse: 701.4 → 1.5·(994.8 - 63.8)/2."""
        rear = PlacedPanel("rear", P100, 0.6, 0.2, feet=2, fasteners_per_foot=1)
        left = PlacedPanel("left", P100, 3.0, 0.2, feet=4)
        right = PlacedPanel("right", P100, 2.9, 1.2, feet=2)
        check = roofed(rear, left, right, is_front_open=True).check("roof/uplift_front")
        assert check.value == pytest.approx(1.5 * (994.8 - 63.8) / 2 / 466.0, abs=0.005)

    def test_a_closed_front_is_not_judged(self):
        keys = {check.key for check in roofed(STRONG, is_front_open=False).checks}
        assert "roof/uplift_front" not in keys

    def test_a_front_nobody_looked_at_is_not_enough_data_where_it_matters(self):
        """Open: 1.5·3215.0/6 = 803.8 N on 932 N, 0.86; closed 0.43."""
        check = roofed(STRONG, is_front_open=None).check("roof/uplift_front")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "open to the wind" in check.sentence

    def test_a_front_nobody_looked_at_passes_where_it_may_be_open(self):
        """1.5·3215.0/6 = 803.8 N on 16 screws, 1864 N: 0.43."""
        check = roofed(replace(STRONG, fasteners_per_foot=16), is_front_open=None).check("roof/uplift_front")
        assert check.value == pytest.approx(803.8 / 1864.0, abs=0.005)
        assert check.verdict is Verdict.PASS


class TestOtherThings:
    def test_wind_gets_under_a_panel_more_than_100_mm_up(self):
        """(1.5·2635.3 - 210.9)/6 = 623.7 N."""
        low, high = roofed(replace(STRONG, gap_m=0.1)), roofed(replace(STRONG, gap_m=0.11))
        assert low.check("roof/uplift").value == pytest.approx(404.1 / 932.0, abs=0.005)
        assert high.check("roof/uplift").value == pytest.approx(623.7 / 932.0, abs=0.005)

    def test_a_foot_has_no_more_screws_in_a_rafter_than_it_has_screws(self):
        one = roofed(replace(STRONG, fasteners_per_foot=1), feet_on_rafter=6).check("roof/uplift")
        two = roofed(replace(STRONG, fasteners_per_foot=2), feet_on_rafter=6).check("roof/uplift")
        assert one.value == pytest.approx(2 * two.value)
        assert two.value == pytest.approx(404.1 / 1242.6, abs=0.005)

    def test_the_screw_is_the_one_that_was_said(self):
        """#10 is 0.190 in thick, #14 0.242 in: it holds as much less."""
        thin = roofed(STRONG, screw="#10").check("roof/uplift")
        assert thin.value == pytest.approx(0.4336 * 0.242 / 0.190, abs=0.005)
        assert "8 #10 screws" in thin.sentence

    def test_the_shops_speed_rules(self):
        """75 mph is 33.53 m/s: q 688.6 Pa, (1344.7 - 210.9)/6 = 189.0 N."""
        design = replace(golden(), panels=(STRONG,), strings=(), circuits=(), design_speed_mps=33.53)
        check = sizing.size_system(
            replace(design, roof=RoofInput(8.0, 2.3, "tpo", deck_thickness_m=PLY_3_8_M))
        ).check("roof/uplift")
        assert check.value == pytest.approx(189.0 / 932.0, abs=0.005)

    def test_panels_without_feet_are_judged_as_glued_beside_those_with_feet(self):
        glued = PlacedPanel("g", P100, 4.5, 0.2, feet=0)
        roof = {"material": "fibreglass", "bond_area_m2": 0.567}
        result = roofed(STRONG, glued, **roof)
        assert result.check("roof/bond").value == pytest.approx(701.4 / (0.567 * 50_000), abs=0.001)
        assert result.check("roof/uplift").value == pytest.approx(404.1 / 932.0, abs=0.005)
        assert roofed(STRONG, glued, material="tpo").check("roof/bond").verdict is Verdict.BLOCK

    def test_the_hardest_pull_is_of_the_worst_foot(self):
        design = golden()
        roof = replace(design.roof, is_front_open=False)
        asked = replace(design, panels=(STRONG, WEAK), roof=roof)
        assert sizing.hardest_foot_n(asked) == pytest.approx(404.1, abs=0.5)
        opened = replace(asked, roof=replace(roof, is_front_open=True))
        assert sizing.hardest_foot_n(opened) == pytest.approx(1.5 * (994.8 - 63.8) / 2, abs=0.5)
        assert sizing.hardest_foot_n(replace(asked, roof=None)) is None
        assert sizing.hardest_foot_n(replace(asked, panels=())) is None


def test_one_screw_under_one_foot_is_said_as_one():
    panel = PlacedPanel("a", P100, 0.6, 0.2, feet=1, fasteners_per_foot=1)
    sentences = " ".join(check.sentence for check in roofed(panel).checks)
    assert "(1 #14 screw, plywood only)" in sentences
    assert "1 foot; 4 are usual" in sentences
