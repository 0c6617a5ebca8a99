"""What holds the panels and what the vehicle may carry: shadow, wind at highway speed, the weight ledger.

Invented vehicles; values worked by hand from formulas F18 to F23.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import RoofInput, Verdict, WeightInput
from tests.designs import P100, P200, P370, P400, golden, lfp_bank, placed, wired

PLY_3_8_M = 0.009525  # 3/8 in


class TestShadow:
    @pytest.mark.parametrize(
        ("latitude_deg", "noon_deg", "two_hours_deg"), [(33.4, 33.5, 26.7), (40.0, 26.9, 21.0)]
    )
    def test_december_sun(self, latitude_deg, noon_deg, two_hours_deg):
        assert sizing.solar_elevation_deg(latitude_deg, 344, 0.0) == pytest.approx(noon_deg, abs=0.1)
        assert sizing.solar_elevation_deg(latitude_deg, 344, 2.0) == pytest.approx(two_hours_deg, abs=0.1)

    def test_air_conditioner_throws_half_a_metre(self):
        length_m = sizing.shadow_length_m(0.33, 0.08, 26.7)
        assert length_m == pytest.approx(0.50, abs=0.005)
        assert length_m - 0.25 == pytest.approx(0.25, abs=0.005)

    def test_a_lower_obstacle_throws_none(self):
        assert sizing.shadow_length_m(0.05, 0.08, 10.0) == 0.0


class TestHighwayWind:
    def roofed(self, feet=4, **roof):
        design = golden()
        surface = RoofInput(8.0, 2.3, "tpo", deck_thickness_m=PLY_3_8_M, overall_height_m=3.5)
        return sizing.size_system(
            replace(
                design,
                panels=placed(P400, 1, feet=feet),
                strings=wired(1, 1),
                roof=replace(surface, **roof),
                circuits=(),
            )
        )

    @pytest.mark.parametrize(("mph", "pascal"), [(65, 517), (75, 689), (105, 1350)])
    def test_dynamic_pressure(self, mph, pascal):
        assert sizing.dynamic_pressure_pa(mph * 0.44704) == pytest.approx(pascal, abs=1)

    @pytest.mark.parametrize(("kind", "newton"), [(P100, 701), (P200, 1234), (P370, 2272), (P400, 2424)])
    def test_net_uplift(self, kind, newton):
        assert sizing.uplift_n(kind, 46.94) == pytest.approx(newton, abs=5)

    def test_a_screw_in_plywood_and_in_a_rafter(self):
        assert sizing.screw_withdrawal_n("#14", 9.525, in_plywood=True) == pytest.approx(116.5, abs=0.5)
        assert sizing.screw_withdrawal_n("#14", 25.4, in_plywood=False) == pytest.approx(621, abs=1)
        assert sizing.screw_withdrawal_n("#10", 25.4, in_plywood=False) / 4.448 == pytest.approx(109, abs=1)

    def test_four_feet_in_plywood_block(self):
        check = self.roofed().check("roof/uplift")
        assert check.value == pytest.approx(1.30, abs=0.005)
        assert check.verdict is Verdict.BLOCK
        assert "‹606 N|136 lbf› on a foot that holds only ‹466 N|105 lbf›" in check.sentence

    def test_six_feet_in_plywood_still_block(self):
        check = self.roofed(feet=6).check("roof/uplift")
        assert check.value == pytest.approx(0.87, abs=0.005)
        assert check.verdict is Verdict.BLOCK

    def test_four_feet_in_rafters_pass(self):
        check = self.roofed(feet_on_rafter=4).check("roof/uplift")
        assert check.value == pytest.approx(0.49, abs=0.005)
        assert check.verdict is Verdict.PASS

    def test_two_feet_that_missed_are_judged_by_themselves(self):
        check = self.roofed(feet_on_rafter=2).check("roof/uplift")
        assert check.value == pytest.approx(1.30, abs=0.005)
        assert check.verdict is Verdict.BLOCK

    def test_a_large_panel_wants_six_feet(self):
        assert self.roofed().check("panel:P400/feet").verdict is Verdict.CAUTION
        assert not [c for c in self.roofed(feet=6).checks if c.key.endswith("/feet")]

    def test_an_open_front_adds_a_check_on_the_leading_feet(self):
        open_front = self.roofed(feet_on_rafter=4, is_front_open=True)
        front = open_front.check("roof/uplift_front").value
        assert front > 1.5 * open_front.check("roof/uplift").value

    def test_sheet_metal_asks_for_a_tested_value(self):
        check = self.roofed(material="steel").check("roof/uplift")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "tested value" in check.sentence
        tested = self.roofed(material="steel", fastener_tested_n=4000.0).check("roof/uplift")
        assert tested.value == pytest.approx(606 / (4 * 1000), abs=0.005)

    def test_an_unknown_screw_or_deck_is_not_enough_data(self):
        assert self.roofed(screw="nail").check("roof/uplift").verdict is Verdict.NOT_ENOUGH_DATA
        assert self.roofed(deck_thickness_m=None).check("roof/uplift").verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_metal_rafter_asks_for_a_tested_value(self):
        check = self.roofed(feet_on_rafter=4, rafter_kind="aluminium").check("roof/uplift")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "rafter of aluminum" in check.sentence

    def test_a_foot_that_holds_nothing_is_unknown(self):
        assert sizing.foot_utilisation(100.0, feet=4, capacity_per_foot_n=0.0) is None
        assert sizing.foot_utilisation(100.0, feet=4, capacity_per_foot_n=50.0) == pytest.approx(0.5)

    @pytest.mark.parametrize(
        "call",
        [
            lambda: sizing.dynamic_pressure_pa(-1.0),
            lambda: sizing.screw_withdrawal_n("nail", 10.0, in_plywood=True),
            lambda: sizing.screw_withdrawal_n("#14", -1.0, in_plywood=True),
            lambda: sizing.foot_utilisation(100.0, feet=0, capacity_per_foot_n=50.0),
            lambda: sizing.cargo_left_kg(WeightInput(500.0, "gvwr"), 0.0),
        ],
    )
    def test_impossible_questions_are_named_errors(self, call):
        with pytest.raises(sizing.InputOutOfRange):
            call()


class TestBondedPanels:
    def bonded(self, material, area_m2):
        design = golden()
        roof = replace(design.roof, material=material, is_bonded_only=True, bond_area_m2=area_m2)
        return sizing.size_system(replace(design, roof=roof))

    def test_a_bond_is_a_caution_at_best(self):
        check = self.bonded("fibreglass", 0.5).check("roof/bond")
        assert check.verdict is Verdict.CAUTION
        assert check.value == pytest.approx(4 * 1234 / (0.5 * 50_000), abs=0.005)
        assert "tether" in check.sentence

    def test_too_small_a_bond_blocks(self):
        assert self.bonded("fibreglass", 0.05).check("roof/bond").verdict is Verdict.BLOCK

    def test_a_membrane_peels(self):
        assert self.bonded("TPO", 2.0).check("roof/bond").verdict is Verdict.BLOCK

    def test_unknown_material_or_area_is_not_enough_data(self):
        assert self.bonded("unknown", 2.0).check("roof/bond").verdict is Verdict.NOT_ENOUGH_DATA
        assert self.bonded("fibreglass", None).check("roof/bond").verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_bonded_array_makes_no_foot_holes(self):
        holes = self.bonded("fibreglass", 0.5).penetrations
        assert (holes.feet, holes.penetrations, holes.cable_holes) == (0, 8, 1)


class TestWeight:
    def loaded(self, **label):
        design = golden()
        ledger = WeightInput(
            label_kg=508.0,
            fresh_water_kg=170.0,
            people_kg=0.0,
            customer_cargo_kg=160.0,
            added=(("mounts", 12.0), ("inverter and gear", 40.0)),
            removed=(("two flooded batteries", 59.0),),
        )
        return sizing.size_system(
            replace(
                design,
                panels=placed(P400, 4),
                strings=wired(4, 2),
                inverter=None,
                bank=lfp_bank(4),
                circuits=(),
                weight=replace(ledger, **label),
            )
        )

    def test_a_little_left_is_a_caution(self):
        result = self.loaded()
        assert result.weight.net_added_kg == pytest.approx(129.8, abs=0.1)
        assert result.weight.cargo_left_kg == pytest.approx(48.2, abs=0.1)
        assert result.weight.left_fraction == pytest.approx(0.095, abs=0.0005)
        assert result.check("vehicle/cargo_left").verdict is Verdict.CAUTION

    def test_a_small_label_blocks_with_options(self):
        check = self.loaded(label_kg=340.0).check("vehicle/cargo_left")
        assert check.value == pytest.approx(-119.8, abs=0.1)
        assert check.verdict is Verdict.BLOCK
        assert "water at half: +‹85 kg|187 lb›" in check.sentence

    def test_the_older_label_has_water_already_out(self):
        result = self.loaded(label_type="ccc")
        assert result.weight.cargo_left_kg == pytest.approx(218, abs=0.5)
        assert result.check("vehicle/cargo_left").verdict is Verdict.PASS

    def test_no_label_is_not_enough_data(self):
        assert self.loaded(label_kg=None).check("vehicle/cargo_left").verdict is Verdict.NOT_ENOUGH_DATA

    def test_an_unknown_label_type_is_an_error_that_names_itself(self):
        with pytest.raises(sizing.InputOutOfRange, match="label_type"):
            self.loaded(label_type="gvwr")

    def test_axle_split(self):
        assert sizing.axle_split_kg(100.0, x_m=3.0, wheelbase_m=4.0) == pytest.approx((25.0, 75.0))
        assert sizing.axle_split_kg(100.0, x_m=5.0, wheelbase_m=4.0) == pytest.approx((-25.0, 125.0))


class TestHeight:
    def test_the_array_on_top_of_everything_when_the_skin_is_unknown(self):
        design = golden()
        tall = replace(design, roof=replace(design.roof, overall_height_m=4.0))
        check = sizing.size_system(tall).check("vehicle/height")
        assert check.value == pytest.approx(4.08)
        assert check.verdict is Verdict.CAUTION

    def test_below_the_air_conditioner_it_adds_nothing(self):
        design = golden()
        tall = replace(design, roof=replace(design.roof, overall_height_m=4.0, skin_height_m=3.6))
        assert sizing.size_system(tall).check("vehicle/height").value == pytest.approx(4.0)

    def test_unknown_height_is_not_enough_data(self):
        design = golden()
        check = sizing.size_system(replace(design, roof=replace(design.roof, overall_height_m=None))).check(
            "vehicle/height"
        )
        assert check.verdict is Verdict.NOT_ENOUGH_DATA


def test_an_unknown_roof_or_label_is_not_enough_data():
    result = sizing.size_system(replace(golden(), roof=None, weight=None))
    assert result.check("roof/uplift").verdict is Verdict.NOT_ENOUGH_DATA
    assert result.check("vehicle/cargo_left").verdict is Verdict.NOT_ENOUGH_DATA
    assert result.weight.cargo_left_kg is None
