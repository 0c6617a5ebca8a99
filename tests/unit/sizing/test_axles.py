"""Whole weight, axles and hitch with the job's masses where they sit. Invented vehicles.

Worked by hand from the lever arm: a mass m at x behind the front axle (hitch ball) puts m·x/L on the rear
axle and the rest on the front one. The reference job adds 116.1 kg (panels 46.0, bank 38.1, inverter 9.0,
mounts 9, cable and gear 14) and takes 59 kg off: 57.1 kg net. 1 lb is 0.45359237 kg (NIST SP 811).
Hitch shares: owners' manuals of trailers (10% to 15%, 15% to 25%), a noseweight guide (5% to 7%).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

import sizing
from sizing import Verdict, WeightInput
from tests.designs import golden

#: 46·3 + 38.1·5 + 9·5 + 23·2 - 59·5 = 124.5 kg·m: on 4 m 31.125 kg behind and 25.975 kg in front.
POINTS = (
    ("panels", 46.0, 3.0),
    ("bank", 38.1, 5.0),
    ("inverter", 9.0, 5.0),
    ("mounts and cable", 23.0, 2.0),
    ("two flooded batteries", -59.0, 5.0),
)


def checks_of(design, **ledger):
    result = sizing.size_system(replace(design, weight=replace(design.weight, **ledger)))
    return {check.key: check for check in result.checks}


def loaded(**ledger):
    """Return the checks of the reference job on two axles four meters apart."""
    base = {
        "mass_points": POINTS,
        "wheelbase_m": 4.0,
        "front_kg": 1500.0,
        "rear_kg": 2000.0,
        "front_limit_kg": 1600.0,
        "rear_limit_kg": 2030.0,
    }
    return checks_of(golden(), **(base | ledger))


def carrying(kg, x_m, **ledger):
    """Return the checks of a job that adds one mass at one place and nothing else."""
    empty = replace(
        golden(), panels=(), strings=(), controllers=(), bank=None, inverter=None, sources=(), circuits=()
    )
    only = WeightInput(label_kg=600.0, added=(("bank", kg),), mass_points=(("bank", kg, x_m),))
    return checks_of(replace(empty, weight=only), **ledger)


class TestAxles:
    def test_shares_by_lever_arm(self):
        checks = loaded()
        assert checks["vehicle/axle_front"].value == pytest.approx(1500 + 25.975)
        assert checks["vehicle/axle_rear"].value == pytest.approx(2000 + 31.125)
        assert checks["vehicle/axle_front"].verdict is Verdict.PASS
        assert checks["vehicle/axle_rear"].verdict is Verdict.BLOCK
        assert checks["vehicle/axle_rear"].sentence == (
            "‹2,031 kg|4,478 lb›, ‹1.1 kg|2.5 lb› above the rating of ‹2,030 kg|4,475 lb›."
        )

    def test_a_mass_behind_the_rear_axle_lightens_the_front(self):
        """80 kg 5.5 m behind the front axle, 4 m between the axles: +110 kg behind, -30 kg in front."""
        checks = carrying(
            80.0,
            5.5,
            wheelbase_m=4.0,
            front_kg=1500.0,
            rear_kg=2000.0,
            front_limit_kg=1600.0,
            rear_limit_kg=2200.0,
        )
        assert checks["vehicle/axle_front"].value == pytest.approx(1470.0)
        assert checks["vehicle/axle_rear"].value == pytest.approx(2110.0)

    def test_a_mass_ahead_of_the_front_axle_lightens_the_rear(self):
        """40 kg 1 m ahead of it: 40·(-1)/4 = -10 kg behind, +50 kg in front."""
        checks = carrying(40.0, -1.0, wheelbase_m=4.0, front_kg=1500.0, rear_kg=2000.0, front_limit_kg=1540.0)
        assert checks["vehicle/axle_front"].value == pytest.approx(1550.0)
        assert checks["vehicle/axle_front"].verdict is Verdict.BLOCK

    @pytest.mark.parametrize("name", ["front", "rear"])
    def test_exactly_at_the_rating_is_a_caution_and_a_hair_above_a_block(self, name):
        load = {"front": 1525.975, "rear": 2031.125}[name]
        at = loaded(**{f"{name}_limit_kg": load})[f"vehicle/axle_{name}"]
        over = loaded(**{f"{name}_limit_kg": load - 0.4})[f"vehicle/axle_{name}"]
        assert (at.verdict, at.margin) == (Verdict.CAUTION, 0.0)
        assert over.verdict is Verdict.BLOCK
        assert "‹0.4 kg|0.9 lb› above" in over.sentence

    def test_no_wheelbase_or_scale_ticket_is_not_enough_data(self):
        assert loaded(wheelbase_m=None)["vehicle/axles"].verdict is Verdict.NOT_ENOUGH_DATA
        assert loaded(rear_kg=None)["vehicle/axle_rear"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_an_axle_without_a_rating_is_not_judged_but_asked_for(self):
        checks = loaded(front_limit_kg=None)
        assert "vehicle/axle_front" not in checks
        assert checks["vehicle/axles"].verdict is Verdict.NOT_ENOUGH_DATA
        assert "the rating of the front axle" in checks["vehicle/axles"].sentence
        assert checks["vehicle/axle_rear"].verdict is Verdict.BLOCK

    def test_a_wheelbase_of_nothing_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match="wheelbase_m"):
            sizing.axle_split_kg(10.0, x_m=1.0, wheelbase_m=0.0)

    def test_nothing_known_of_axles_and_rating_leaves_the_cargo_label_to_judge(self):
        found = checks_of(golden())
        assert {key for key in found if key.startswith("vehicle/")} == {
            "vehicle/cargo_left",
            "vehicle/height",
        }

    def test_a_heavy_job_on_a_vehicle_of_known_rating_asks_for_the_axles(self):
        assert "rating of the front axle" in checks_of(golden(), gvwr_kg=3500.0)["vehicle/axles"].sentence
        light = carrying(59.0, 2.0, mass_points=(), gvwr_kg=3500.0)
        assert "vehicle/axles" not in light


class TestPlaces:
    def test_part_of_the_mass_placed_is_not_all_of_it_placed(self):
        checks = loaded(mass_points=POINTS[:1] + POINTS[2:])  # the bank has no place
        assert "vehicle/axle_rear" not in checks
        assert checks["vehicle/axles"].verdict is Verdict.NOT_ENOUGH_DATA
        assert "where ‹38.1 kg|84 lb› of the ‹116.1 kg|256 lb› added goes" in checks["vehicle/axles"].sentence

    def test_what_comes_off_needs_its_place_too(self):
        sentence = loaded(mass_points=POINTS[:-1])["vehicle/axles"].sentence
        assert "where ‹59 kg|130 lb› of the ‹59 kg|130 lb› taken off was (two flooded" in sentence

    def test_a_mass_added_is_not_made_up_for_by_one_less_taken_off(self):
        """The net is right, 57.1 kg; neither side is."""
        swapped = (*POINTS[:2], *POINTS[3:-1], ("two flooded batteries", -50.0, 5.0))
        assert "vehicle/axle_rear" not in loaded(mass_points=swapped)

    def test_more_placed_than_added_is_not_enough_data(self):
        checks = loaded(mass_points=(*POINTS, ("bank once more", 38.1, 5.0)))
        assert (
            "‹154.2 kg|340 lb› have a place, ‹116.1 kg|256 lb› are added" in checks["vehicle/axles"].sentence
        )

    def test_no_place_at_all_names_what_lacks_one(self):
        sentence = loaded(mass_points=())["vehicle/axles"].sentence
        for name in (
            "panels",
            "bank",
            "inverter, chargers and controllers",
            "mounts",
            "two flooded batteries",
        ):
            assert name in sentence

    def test_an_axle_over_as_weighed_blocks_whatever_lacks_a_place(self):
        checks = loaded(mass_points=(), rear_kg=2030.4)
        assert checks["vehicle/axle_rear"].verdict is Verdict.BLOCK
        assert "before anything is added" in checks["vehicle/axle_rear"].sentence
        assert "vehicle/axle_front" not in checks

    def test_panels_lie_where_the_roof_plan_has_them(self):
        """Middles 1.345, 2.885, 4.425 and 5.965 m from the rear edge, which is 6.5 m behind the front axle.

        11.5·(5.155 + 3.615 + 2.075 + 0.535) = 130.87; bank 38.1·5, equipment 9·4.5, the rest as listed:
        46 - 295; all 112.87 kg·m on 4 m.
        """
        rest = (("mounts", 9.0, 2.0), ("cable and gear", 14.0, 2.0), POINTS[-1])
        checks = loaded(mass_points=rest, rear_edge_x_m=6.5, bank_x_m=5.0, equipment_x_m=4.5)
        assert checks["vehicle/axle_rear"].value == pytest.approx(2000 + 112.87 / 4)
        assert checks["vehicle/axle_front"].value == pytest.approx(1500 + 57.1 - 112.87 / 4)
        without = loaded(mass_points=rest, rear_edge_x_m=6.5, equipment_x_m=4.5)
        assert "added goes (bank) is not known" in without["vehicle/axles"].sentence

    def test_a_turned_panel_lies_by_its_width(self):
        """One P200 turned: its middle 0.335 m further forward than its corner, not 0.745 m."""
        design = golden()
        rest = (("mounts", 9.0, 2.0), ("cable and gear", 14.0, 2.0), POINTS[-1])
        place = {"mass_points": rest, "rear_edge_x_m": 6.5, "bank_x_m": 5.0, "equipment_x_m": 4.5}
        axle = {"wheelbase_m": 4.0, "rear_kg": 2000.0, "rear_limit_kg": 3000.0}
        found = []
        for turned in (False, True):
            panels = (replace(design.panels[0], turned=turned), *design.panels[1:])
            found.append(
                checks_of(replace(design, panels=panels), **place, **axle)["vehicle/axle_rear"].value
            )
        assert found[1] - found[0] == pytest.approx(11.5 * (0.745 - 0.335) / 4)


class TestTagAxle:
    """100 kg 7 m behind the front axle, drive axle at 6 m, tag axle at 7.3 m.

    All on the drive axle: 700/6 = +116.67 kg there, -16.67 kg in front. All on the tag axle: 700/7.3 =
    +95.89 kg there, +4.11 kg in front.
    """

    def tagged(self, **ledger):
        base = {
            "wheelbase_m": 6.0,
            "tag_spacing_m": 1.3,
            "front_kg": 2000.0,
            "rear_kg": 4000.0,
            "tag_kg": 1500.0,
            "front_limit_kg": 2005.0,
            "rear_limit_kg": 4120.0,
            "tag_limit_kg": 1600.0,
        }
        return carrying(100.0, 7.0, **(base | ledger))

    def test_each_axle_is_judged_at_its_worst(self):
        checks = self.tagged()
        values = [checks[f"vehicle/axle_{name}"].value for name in ("front", "rear", "tag")]
        assert values == pytest.approx([2004.11, 4116.67, 1595.89], abs=0.005)
        assert {checks[f"vehicle/axle_{name}"].verdict for name in ("front", "rear", "tag")} == {Verdict.PASS}
        assert "worst case" in checks["vehicle/axle_tag"].sentence

    @pytest.mark.parametrize(("name", "limit"), [("front", 2003.0), ("rear", 4100.0), ("tag", 1590.0)])
    def test_between_the_two_ends_nobody_knows(self, name, limit):
        check = self.tagged(**{f"{name}_limit_kg": limit})[f"vehicle/axle_{name}"]
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "how drive and tag axle share" in check.sentence

    @pytest.mark.parametrize(("name", "limit"), [("front", 1983.0), ("rear", 3999.0), ("tag", 1499.0)])
    def test_over_whichever_way_it_is_shared_is_a_block(self, name, limit):
        assert self.tagged(**{f"{name}_limit_kg": limit})[f"vehicle/axle_{name}"].verdict is Verdict.BLOCK

    def test_an_unknown_spacing_or_rating_is_not_enough_data(self):
        assert "drive axle to the tag axle" in self.tagged(tag_spacing_m=None)["vehicle/axles"].sentence
        assert "rating of the tag axle" in self.tagged(tag_limit_kg=None)["vehicle/axles"].sentence
        assert self.tagged(tag_kg=None)["vehicle/axle_tag"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_the_tag_axle_is_part_of_the_whole_weight(self):
        assert self.tagged(gvwr_kg=8000.0)["vehicle/gvwr"].value == pytest.approx(7600.0)
        assert self.tagged(gvwr_kg=8000.0, tag_kg=None)["vehicle/gvwr"].verdict is Verdict.NOT_ENOUGH_DATA


class TestTrailer:
    def towed(self, **ledger):
        base = {"hitch": "tongue", "front_kg": 375.0, "rear_kg": 2600.0, "wheelbase_m": 5.0}
        return loaded(**(base | {"front_limit_kg": 500.0, "rear_limit_kg": 3000.0} | ledger))

    def test_a_bank_on_the_tongue_rests_on_the_hitch(self):
        """76 kg 0.5 m behind the ball, axles at 5 m: 7.6 kg on the axles, 68.4 kg on the hitch."""
        ledger = {"hitch": "tongue", "front_kg": 375.0, "rear_kg": 2600.0, "wheelbase_m": 5.0}
        checks = carrying(76.0, 0.5, **ledger, front_limit_kg=440.0, rear_limit_kg=2700.0)
        assert checks["vehicle/axle_front"].value == pytest.approx(443.4)
        assert checks["vehicle/axle_front"].title == "Hitch with the job's weight"
        assert checks["vehicle/axle_front"].verdict is Verdict.BLOCK
        assert checks["vehicle/axle_rear"].value == pytest.approx(2607.6)

    def test_a_mass_behind_the_axles_takes_weight_off_the_tongue(self):
        """100 kg 7 m behind the ball: 140 on the axles, 40 off the hitch: 335 of 3075, 10.9 %."""
        ledger = {"hitch": "tongue", "front_kg": 375.0, "rear_kg": 2600.0, "wheelbase_m": 5.0}
        checks = carrying(100.0, 7.0, **ledger, front_limit_kg=440.0, rear_limit_kg=2800.0)
        assert checks["vehicle/axle_front"].value == pytest.approx(335.0)
        assert checks["vehicle/hitch_share"].value == pytest.approx(335.0 / 3075.0)

    @pytest.mark.parametrize(
        ("hitch", "share", "verdict", "limit"),
        [
            ("tongue", 0.09, Verdict.CAUTION, 0.10),
            ("tongue", 0.12, Verdict.PASS, 0.15),
            ("tongue", 0.16, Verdict.CAUTION, 0.15),
            ("pin", 0.14, Verdict.CAUTION, 0.15),
            ("pin", 0.20, Verdict.PASS, 0.25),
            ("pin", 0.26, Verdict.CAUTION, 0.25),
            ("caravan", 0.04, Verdict.CAUTION, 0.05),
            ("caravan", 0.06, Verdict.PASS, 0.07),
            ("caravan", 0.12, Verdict.CAUTION, 0.07),
        ],
    )
    def test_the_hitch_keeps_its_share(self, hitch, share, verdict, limit):
        """124.5 kg·m on 5 m: 24.9 kg on the axles, 32.2 kg on the hitch; 3,000 kg on the road in all."""
        ledger = {"front_kg": 3000.0 * share - 32.2, "rear_kg": 3000.0 * (1 - share) - 24.9}
        check = self.towed(hitch=hitch, **ledger, front_limit_kg=900.0)["vehicle/hitch_share"]
        assert check.value == pytest.approx(share)
        assert (check.verdict, check.limit) == (verdict, pytest.approx(limit))

    def test_three_axles_weighed_in_one_reading_are_the_axles(self):
        checks = self.towed(tag_limit_kg=1500.0, gvwr_kg=5000.0)
        assert checks["vehicle/gvwr"].value == pytest.approx(375.0 + 2600.0 + 57.1)
        assert (checks["vehicle/axle_rear"].value, checks["vehicle/axle_rear"].limit) == (
            pytest.approx(2600.0 + 24.9),
            4500.0,
        )
        assert "vehicle/axle_tag" not in checks

    @pytest.mark.parametrize("hitch", ["tongue", "pin", "caravan"])
    def test_never_above_the_lowest_plate(self, hitch):
        assert self.towed(hitch=hitch, front_limit_kg=407.0)["vehicle/axle_front"].verdict is Verdict.BLOCK
        assert "lowest plate" in self.towed(hitch=hitch, front_limit_kg=None)["vehicle/axles"].sentence

    def test_without_a_ticket_the_hitch_is_not_judged(self):
        checks = self.towed(hitch="pin", front_kg=None)
        assert "vehicle/hitch_share" not in checks
        assert checks["vehicle/axle_front"].verdict is Verdict.NOT_ENOUGH_DATA


class TestWholeWeight:
    """1,000 and 2,000 kg on the scale and 57.1 kg net added: 3,057.1 kg."""

    def weighed(self, **ledger):
        return checks_of(golden(), **({"front_kg": 1000.0, "rear_kg": 2000.0} | ledger))["vehicle/gvwr"]

    @pytest.mark.parametrize("over_kg", [0.4, 0.04, 0.004])
    def test_a_little_over_is_a_block_and_is_never_said_to_be_equal(self, over_kg):
        check = self.weighed(gvwr_kg=3057.1 - over_kg)
        assert check.verdict is Verdict.BLOCK
        value, _, rest = check.sentence.partition(" with the job, ")
        assert value not in rest
        assert "GVWR" in rest
        assert "‹0 kg" not in rest
        assert "|0 lb›" not in rest

    def test_the_words_of_four_tenths_of_a_kilogram(self):
        sentence = self.weighed(gvwr_kg=3056.7).sentence
        assert sentence.startswith("‹3,057.1 kg|6,740 lb› with the job, ‹0.4 kg|0.9 lb› above the GVWR of")
        assert sentence.endswith("‹3,056.7 kg|6,739 lb›.")

    def test_exactly_at_the_rating_is_a_caution(self):
        check = self.weighed(gvwr_kg=3057.1)
        assert (check.verdict, check.margin) == (Verdict.CAUTION, 0.0)

    def test_below_is_a_pass(self):
        assert self.weighed(gvwr_kg=3057.5).verdict is Verdict.PASS

    def test_half_a_ticket_is_not_enough_data(self):
        assert self.weighed(gvwr_kg=4000.0, rear_kg=None).verdict is Verdict.NOT_ENOUGH_DATA

    def test_weighed_empty_the_load_comes_on_top(self):
        """150 kg of water, 160 kg of things, 20 kg of gas, 75 kg of people: 3,057.1 + 405 = 3,462.1 kg."""
        load = {"is_weighed_loaded": False, "lp_gas_kg": 20.0, "people_kg": 75.0}
        assert self.weighed(gvwr_kg=3500.0, **load).value == pytest.approx(3462.1)
        assert self.weighed(gvwr_kg=3462.0, **load).verdict is Verdict.BLOCK

    def test_nobody_asked_whether_it_was_loaded(self):
        """Between 3,057.1 and 3,367.1 kg."""
        asked = {"is_weighed_loaded": None}
        assert self.weighed(gvwr_kg=3400.0, **asked).verdict is Verdict.PASS
        assert self.weighed(gvwr_kg=3200.0, **asked).verdict is Verdict.NOT_ENOUGH_DATA
        assert self.weighed(gvwr_kg=3057.0, **asked).verdict is Verdict.BLOCK

    @pytest.mark.parametrize("state", [False, None])
    def test_axles_weighed_empty_cannot_be_judged_but_blocked(self, state):
        checks = loaded(is_weighed_loaded=state, hitch="tongue")
        assert checks["vehicle/axle_front"].verdict is Verdict.NOT_ENOUGH_DATA
        assert checks["vehicle/axle_rear"].verdict is Verdict.BLOCK
        assert checks["vehicle/hitch_share"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_without_scale_and_cargo_label_the_unloaded_weight_is_counted_up(self):
        """2,600 + 18 gas + 150 water + 160 things + 57.1 net = 2,985.1 kg."""
        bare = {"front_kg": None, "rear_kg": None, "label_kg": None, "uvw_kg": 2600.0}
        assert self.weighed(gvwr_kg=3000.0, lp_gas_kg=18.0, **bare).value == pytest.approx(2985.1)
        assert self.weighed(gvwr_kg=2985.0, lp_gas_kg=18.0, **bare).verdict is Verdict.BLOCK
        assert self.weighed(gvwr_kg=3000.0, **bare).verdict is Verdict.NOT_ENOUGH_DATA

    def test_with_a_cargo_label_and_no_scale_the_label_says_it(self):
        assert "vehicle/gvwr" not in checks_of(golden(), gvwr_kg=3000.0, uvw_kg=2600.0)


class TestCargoLabel:
    @pytest.mark.parametrize(
        ("wording", "dated", "year", "is_towed", "is_off"),
        [
            ("occc", None, None, False, False),
            ("occc", dt.date(2005, 1, 1), 2005, True, False),
            ("cargo", None, None, True, False),
            ("ccc", dt.date(2008, 6, 2), None, True, False),
            ("ccc", dt.date(2008, 6, 1), None, True, True),
            ("ccc", dt.date(2014, 3, 1), 2014, False, False),
            ("ccc", dt.date(2004, 3, 1), 2019, False, True),
            ("ccc", None, None, True, None),
            ("ccc", None, 2007, True, True),
            ("ccc", None, 2008, True, None),
            ("ccc", None, 2009, True, None),
            ("ccc", None, 2010, True, False),
        ],
    )
    def test_by_wording_then_date_then_model_year(self, wording, dated, year, is_towed, is_off):
        found = sizing.water_is_taken_off(wording=wording, dated=dated, model_year=year, is_towed=is_towed)
        assert found is is_off

    def test_another_wording_is_a_named_error(self):
        with pytest.raises(sizing.InputOutOfRange, match="wording"):
            sizing.water_is_taken_off(wording="gvwr", dated=None, model_year=None, is_towed=True)

    def test_a_label_of_unknown_age_is_counted_the_careful_way_and_says_so(self):
        """600 - 150 water - 160 things - 57.1 net = 232.9 kg; an old label: 382.9 kg."""
        check = checks_of(golden(), label_type="ccc", is_label_undated=True)["vehicle/cargo_left"]
        assert check.value == pytest.approx(232.9)
        assert "‹382.9 kg|844 lb› were left: find its date" in check.sentence
        old = checks_of(golden(), label_type="ccc")["vehicle/cargo_left"]
        assert old.value == pytest.approx(382.9)
        assert "find its date" not in old.sentence

    @pytest.mark.parametrize("over_kg", [0.4, 0.04])
    def test_a_little_too_much_cargo_is_a_block_by_as_much(self, over_kg):
        """150 + 160 + 57.1 = 367.1 kg."""
        check = checks_of(golden(), label_kg=367.1 - over_kg)["vehicle/cargo_left"]
        assert check.verdict is Verdict.BLOCK
        assert f"Overloaded by ‹{over_kg:g} kg|" in check.sentence

    def test_full_waste_tanks_are_named_where_they_would_overload(self):
        assert (
            "Waste tanks empty"
            not in checks_of(golden(), waste_tanks_kg=232.0)["vehicle/cargo_left"].sentence
        )
        assert (
            "full they weigh ‹260 kg|573 lb›"
            in checks_of(golden(), waste_tanks_kg=260.0)["vehicle/cargo_left"].sentence
        )


TRAILER = {"hitch": "tongue", "front_kg": 20.0, "front_limit_kg": 450.0, "rear_limit_kg": 4000.0}


class TestLifting:
    """A hitch pulled up: the trailer sways, and the tow vehicle loses its rear wheels' grip."""

    def test_a_hitch_that_lifts_is_no_pass_below_its_plate(self):
        """All 57.1 kg at 7.5 m, axles at 4 m: 57.1·(1 - 7.5/4) = -49.96 kg, and 20 - 49.96 = -29.96 kg."""
        points = tuple((name, kg, 7.5) for name, kg, _ in POINTS)
        checks = loaded(mass_points=points, **TRAILER)
        hitch = checks["vehicle/axle_front"]
        assert hitch.verdict is Verdict.BLOCK
        assert hitch.value == pytest.approx(-29.96, abs=0.01)
        assert "takes ‹50 kg|110 lb› off the ‹20 kg|44 lb›" in hitch.sentence
        assert checks["vehicle/hitch_share"].verdict is Verdict.BLOCK

    def test_a_light_hitch_that_does_not_lift_is_a_caution(self):
        """57.1·(1 - 5/4) = -14.3 kg off 20 kg leaves 5.7 kg."""
        points = tuple((name, kg, 5.0) for name, kg, _ in POINTS)
        checks = loaded(mass_points=points, **TRAILER)
        assert checks["vehicle/axle_front"].verdict is Verdict.PASS
        assert checks["vehicle/hitch_share"].verdict is Verdict.CAUTION


def test_several_missing_things_are_not_known():
    assert loaded(front_limit_kg=None, rear_limit_kg=None)["vehicle/axles"].sentence.endswith(
        "the rating of the front axle and the rating of the rear axle are not known."
    )
