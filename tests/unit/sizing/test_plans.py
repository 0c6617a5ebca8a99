"""String plans: what is proposed, what is refused and why, how a plan grows. All panels are invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import (
    BankInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    ControllerKind,
    PlacedPanel,
    PlugInput,
    Verdict,
)
from tests.designs import P100, P200, P370, P400, controller, golden, placed, wired

HOME_RUN = CircuitInput("C2", CircuitKind.HOME_RUN, 6.1, serves="controller:A", on_roof_in_sun=True)


def asked(panels, *units, **more):
    """Return the reference design with other panels and controllers and one home run each."""
    runs = tuple(replace(HOME_RUN, id=f"C2{unit.id}", serves=f"controller:{unit.id}") for unit in units)
    return replace(golden(), panels=panels, strings=(), controllers=units, circuits=runs, **more)


def labels(answer):
    return [plan.label for plan in answer.plans]


def test_two_panels_are_offered_both_ways_with_their_differences():
    design = asked(placed(P200, 2), controller(100, 30))
    answer = sizing.string_plans(design)
    assert labels(answer) == ["2S1P", "1S2P"]
    words = sizing.plan_differences(*answer.plans)
    assert words[0] == "Copper of the home runs: 5.26 mm² for 2S1P, 8.37 mm² for 1S2P."
    assert any(line.startswith("Strings in parallel") for line in words)


def test_four_in_series_is_refused_and_two_by_two_proposed():
    answer = sizing.string_plans(asked(placed(P200, 4), controller(), tmin_storage_c=-20.0))
    assert labels(answer)[0] == "2S2P"
    assert answer.plans[0].controllers[0].voc_cold_v == pytest.approx(54.7, abs=0.1)
    refused = next(each for each in answer.refused if each.label.startswith("4"))
    assert "109.4 V at ‹-20 °C|-4 °F›" in refused.reason
    assert answer.is_complete
    assert "2S2P is the first choice" in answer.sentence


def test_why_not_names_the_blocking_check():
    design = asked(placed(P200, 4), controller(), tmin_storage_c=-20.0)
    reasons = sizing.why_not(design, wired(4, 4), sizing.string_plans(design))
    assert any("109.4 V" in reason for reason in reasons)


def test_why_not_names_what_the_best_plan_does_better():
    design = asked(placed(P200, 4), controller())
    reasons = sizing.why_not(design, wired(4, 1), sizing.string_plans(design))
    assert any("string fuses" in reason for reason in reasons)


def test_why_not_is_empty_for_the_best_plan():
    design = asked(placed(P200, 4), controller())
    assert sizing.why_not(design, wired(4, 2), sizing.string_plans(design)) == ()


def test_third_panel_in_straight_parallel_ranks_below_series_parallel():
    """Common practice, no source: 9 to 10 A panels in straight parallel are 30 A from the third on."""
    for count in (4, 6):
        answer = sizing.string_plans(asked(placed(P200, count), controller(150, 80)))
        straight = next((plan for plan in answer.plans if plan.label == f"1S{count}P"), None)
        assert answer.plans[0].label != f"1S{count}P"
        assert straight is None or straight.rank_key > answer.plans[0].rank_key


def test_a_panel_that_stalls_alone_is_refused_alone():
    agm = BankInput(Chemistry.AGM, 12.0, 100.0, 2, max_charge_a=40.0)
    unit = replace(controller(), absorb_v=14.4)
    answer = sizing.string_plans(asked(placed(P100, 2), unit, bank=agm, inverter=None))
    assert labels(answer) == ["2S1P"]
    assert answer.refused[0].label == "1 × P100 in series"
    assert "needed to start" in answer.refused[0].reason


def test_nothing_works_says_why():
    answer = sizing.string_plans(asked(placed(P370, 1), controller(40, 30)))
    assert answer.plans == ()
    assert "No grouping uses every panel" in answer.sentence
    assert "above the controller's 40 V" in answer.refused[0].reason


def test_every_plan_blocked_says_by_what():
    unit = controller(pv_isc_limit_a=10.0)
    answer = sizing.string_plans(asked(placed(P200, 2), unit))
    assert answer.plans == ()
    assert answer.tried == 2
    assert "None of 2 plans works" in answer.sentence


def test_without_panels_or_controllers_there_is_no_plan():
    assert "without a panel" in sizing.string_plans(asked((), controller())).sentence
    assert "without a controller" in sizing.string_plans(asked(placed(P200, 2))).sentence


def test_two_controllers_share_twelve_panels_evenly():
    answer = sizing.string_plans(asked(placed(P200, 12), controller(), replace(controller(), id="B")))
    assert labels(answer)[0] == "A: 3S2P · B: 3S2P"
    assert len({plan.label for plan in answer.plans}) == 3
    used = [name for string in answer.plans[0].strings for name in string.panel_ids]
    assert sorted(used) == sorted(each.id for each in placed(P200, 12))


def test_like_controllers_are_not_told_twice():
    answer = sizing.string_plans(asked(placed(P200, 4), controller(), replace(controller(), id="B")))
    signatures = [tuple(sorted((r.ns or 0, r.np) for r in plan.controllers)) for plan in answer.plans]
    assert len(signatures) == len(set(signatures))


def test_zones_are_kept_on_their_own_controller():
    zoned = tuple(
        replace(each, zone="front" if index < 3 else "rear") for index, each in enumerate(placed(P200, 6))
    )
    answer = sizing.string_plans(asked(zoned, controller(), replace(controller(), id="B")))
    zones = {each.id: each.zone for each in zoned}
    by_unit: dict[str, set[str]] = {}
    for string in answer.plans[0].strings:
        by_unit.setdefault(string.controller_id, set()).update(zones[name] for name in string.panel_ids)
    assert all(len(found) == 1 for found in by_unit.values())


def test_plans_of_one_shape_have_labels_of_their_own():
    zoned = tuple(replace(each, zone="ab"[index % 2]) for index, each in enumerate(placed(P200, 12)))
    answer = sizing.string_plans(asked(zoned, controller(), replace(controller(), id="B")))
    assert len(set(labels(answer))) == len(answer.plans)
    assert any(label.endswith("(2)") for label in labels(answer))


def test_zones_that_must_share_are_told():
    zoned = tuple(replace(each, zone=zone) for each, zone in zip(placed(P200, 2), "ab", strict=True))
    answer = sizing.string_plans(asked(zoned, controller()))
    assert any("mix shade zones" in reason for reason in answer.plans[0].reasons)


def test_mixed_panels_need_like_amps_in_series_and_like_volts_in_parallel():
    """P200 and P400 differ in both, so one tracker cannot take both; two can."""
    mixed = (*placed(P200, 2), *(replace(each, id=f"q{each.id}") for each in placed(P400, 2)))
    alone = sizing.string_plans(asked(mixed, controller(150, 60)))
    assert alone.plans == ()
    both = sizing.string_plans(asked(mixed, controller(150, 60), replace(controller(150, 60), id="B")))
    for plan in both.plans:
        for result in plan.controllers:
            assert result.np == 0 or result.ns is not None


def test_many_different_panels_are_searched_up_to_a_stated_bound():
    different = tuple(
        PlacedPanel(f"x{i}", replace(P200, name=f"M{i}"), 0.6 + 0.7 * i, 0.3) for i in range(12)
    )
    answer = sizing.string_plans(asked(different, controller(), replace(controller(), id="B")))
    assert answer.plans
    assert not answer.is_complete
    assert "more groupings than were tried" in answer.sentence


def test_without_a_home_run_parallel_strings_decide():
    answer = sizing.string_plans(replace(asked(placed(P200, 4), controller()), circuits=()))
    assert labels(answer)[0] == "2S2P"
    assert answer.plans[0].home_run_sizes == ()


def test_unknown_fuse_limit_is_told():
    bare = replace(P200, max_series_fuse_a=None)
    answer = sizing.string_plans(asked(placed(bare, 4), controller()))
    assert any("not known" in reason for plan in answer.plans for reason in plan.reasons)


def test_unknown_temperatures_and_volts_refuse_nothing():
    bare = replace(P200, beta_voc_fraction_per_c=None)
    no_cold = asked(placed(bare, 2), controller(), tmin_travel_c=None, tmin_storage_c=None)
    assert sizing.string_plans(no_cold).tried == 2
    below_table = asked(placed(bare, 2), controller(), tmin_storage_c=-45.0)
    assert sizing.string_plans(below_table).tried == 2
    no_bank = asked(placed(P200, 2), replace(controller(), absorb_v=None), bank=None, inverter=None)
    assert sizing.string_plans(no_bank).tried == 2


def test_volts_enough_to_start_but_not_to_run_are_refused():
    soft = replace(P200, gamma_pmp_fraction_per_c=0.008, beta_voc_fraction_per_c=0.001)
    answer = sizing.string_plans(asked(placed(soft, 1), controller()))
    assert "needed to keep running" in answer.refused[0].reason


def test_no_plan_to_compare_with_has_no_why_not():
    design = asked(placed(P370, 1), controller(40, 30))
    empty = sizing.string_plans(design)
    good = replace(design, controllers=(controller(100, 50),))
    assert sizing.why_not(good, wired(1, 1), empty) == ()


def test_a_plan_tells_its_worst_verdict():
    design = asked(placed(P200, 4), controller())
    assert sizing.plan_for(design, wired(4, 4)).verdict is Verdict.BLOCK


class TestGrowth:
    def grown(self, count, ns, unit, **more):
        design = asked(placed(P200, count), unit, **more)
        return sizing.plan_for(design, wired(count, ns)).growth[0]

    def test_by_equal_strings_until_the_controller_is_full(self):
        found = self.grown(2, 2, controller(100, 100, pv_isc_limit_a=60.0))
        assert found.step_panels == 2
        assert found.more_strings == 3
        assert "PV input of 60 A" in found.limit
        assert "with string fuses from 3 strings on" in found.sentence
        assert "3 in series" in found.sentence

    def test_output_is_a_limit_too(self):
        found = self.grown(4, 2, controller(100, 30))
        assert found.more_strings == 0
        assert "would be cut off" in found.limit
        assert found.sentence.startswith("Cannot grow by another string of 2")

    def test_branch_plugs_and_the_makers_array_limit(self):
        found = self.grown(4, 2, controller(100, 200), plugs=(PlugInput("A", 30.0),))
        assert "branch connectors" in found.limit
        found = self.grown(4, 2, controller(100, 200, pv_power_limit_w=1000.0))
        assert "array limit of 1,000 W" in found.limit

    def test_without_a_bank_the_output_is_no_known_limit(self):
        unit = replace(controller(100, 30, pv_isc_limit_a=None), absorb_v=None)
        found = self.grown(2, 2, unit, bank=None, inverter=None)
        assert found.limit == "not reached"

    def test_no_limit_in_sight(self):
        found = self.grown(1, 1, controller(100, 1000, pv_isc_limit_a=None))
        assert found.limit == "not reached"


class TestPwm:
    def sized(self, kind, count, ns, v_nominal_v=12.0, **run):
        unit = replace(controller(60, 20), kind=ControllerKind.PWM, pv_isc_limit_a=None)
        design = asked(placed(kind, count), unit, v_nominal_v=v_nominal_v, inverter=None, bank=None)
        circuits = tuple(replace(circuit, **run) for circuit in design.circuits)
        return sizing.size_system(replace(design, strings=wired(count, ns), circuits=circuits, sources=()))

    def test_a_twelve_volt_panel_on_twelve_volts_may(self):
        result = self.sized(P100, 2, 1, run_len_m=3.0)
        assert result.check("controller:A/pwm_nominal").verdict is Verdict.PASS
        assert result.check("controller:A/pwm_power").verdict is Verdict.PASS
        assert result.check("controller:A/pwm_run").verdict is Verdict.PASS
        assert result.check("controller:A/pv_isc").value == pytest.approx(14.5)
        assert result.controllers[0].output_peak_a == pytest.approx(10.76)
        assert result.controllers[0].ns_min is None

    def test_it_wastes_what_the_panel_is_above_the_battery(self):
        check = self.sized(P100, 1, 1).check("controller:A/pwm_waste")
        assert check.value == pytest.approx(1 - 13.2 / 18.6, abs=0.001)
        assert check.verdict is Verdict.PASS

    def test_a_house_panel_blocks(self):
        assert self.sized(P370, 1, 1).check("controller:A/pwm_nominal").verdict is Verdict.BLOCK

    def test_series_panels_on_twelve_volts_block(self):
        check = self.sized(P100, 2, 2).check("controller:A/pwm_nominal")
        assert check.verdict is Verdict.BLOCK
        assert "24 V of panels on a 12 V battery" in check.sentence

    def test_series_panels_on_twenty_four_volts_may(self):
        assert self.sized(P100, 2, 2, 24.0).check("controller:A/pwm_nominal").verdict is Verdict.PASS

    def test_a_large_array_and_a_long_run_are_refused_and_told(self):
        result = self.sized(P200, 2, 1, run_len_m=9.0)
        assert result.check("controller:A/pwm_power").verdict is Verdict.BLOCK
        assert result.check("controller:A/pwm_run").verdict is Verdict.CAUTION

    def test_the_harvest_counts_battery_volts(self):
        result = self.sized(P100, 1, 1)
        assert result.harvest[0].harvest_wh == pytest.approx(5.38 * 13.2 * 6.4 * 0.75)

    def test_nominal_volts_without_a_cell_count(self):
        bare = replace(P100, cells_in_series=None)
        assert self.sized(bare, 1, 1).check("controller:A/pwm_nominal").verdict is Verdict.PASS
        odd = replace(P370, cells_in_series=None, vmp_v=28.0, pmp_w=302.0)
        assert self.sized(odd, 1, 1).check("controller:A/pwm_nominal").verdict is Verdict.BLOCK

    def test_without_a_run_there_is_no_run_check(self):
        unit = replace(controller(60, 20), kind=ControllerKind.PWM, pv_isc_limit_a=None)
        design = replace(asked(placed(P100, 1), unit), circuits=(), strings=wired(1, 1))
        keys = {check.key for check in sizing.size_system(design).checks}
        assert "controller:A/pwm_run" not in keys

    def test_plans_on_pwm(self):
        unit = replace(controller(60, 20), kind=ControllerKind.PWM, pv_isc_limit_a=None)
        answer = sizing.string_plans(asked(placed(P100, 2), unit))
        assert labels(answer) == ["1S2P"]


class TestUnequalStrings:
    def sized(self, *shapes):
        panels = tuple(
            replace(each, id=f"{name}{each.id}")
            for name, kind, count in shapes
            for each in placed(kind, count)
        )
        strings = tuple(
            sizing.StringInput(f"S{index}", "A", tuple(f"{name}{each.id}" for each in placed(kind, count)))
            for index, (name, kind, count) in enumerate(shapes)
        )
        return sizing.size_system(
            replace(golden(), panels=panels, strings=strings, circuits=(), controllers=(controller(150, 60),))
        )

    def test_unequal_strings_in_parallel_block(self):
        result = self.sized(("a", P200, 2), ("b", P200, 3))
        assert result.controllers[0].ns is None
        check = result.check("controller:A/parallel_mix")
        assert check.verdict is Verdict.BLOCK
        assert "own controller" in check.sentence

    def test_near_enough_volts_may_share(self):
        result = self.sized(("a", P200, 3), ("b", P400, 2))
        assert result.check("controller:A/parallel_mix").verdict is Verdict.PASS

    def test_a_mixed_string_carries_its_weakest_panel(self):
        panels = (*placed(P200, 1), replace(placed(P400, 1)[0], id="q"))
        strings = (sizing.StringInput("S1", "A", ("p1", "q")),)
        result = sizing.size_system(
            replace(golden(), panels=panels, strings=strings, circuits=(), controllers=(controller(150, 60),))
        )
        check = result.check("string:S1/series_mix")
        assert check.verdict is Verdict.CAUTION
        assert check.value == pytest.approx(1 - 9.8 / 12.9)
        assert result.controllers[0].imp_a == pytest.approx(9.8)
        assert "sum over the 2 panels" in result.check("controller:A/cold_voc").substituted


class TestBounds:
    def test_a_search_out_of_steps_keeps_what_it_has(self, monkeypatch):
        monkeypatch.setattr("sizing.plans.plan_search.MOST_STEPS", 60)
        answer = sizing.string_plans(asked(placed(P200, 12), controller(), replace(controller(), id="B")))
        assert not answer.is_complete
        assert answer.plans

    def test_too_many_different_strings_are_told(self, monkeypatch):
        monkeypatch.setattr("sizing.plans.plan_search.MOST_STRING_KINDS", 2)
        answer = sizing.string_plans(asked(placed(P200, 6), controller()))
        assert not answer.is_complete


def test_a_margin_nobody_can_tell_yet_is_not_called_broken():
    no_bank = asked(placed(P200, 4), replace(controller(), absorb_v=None), bank=None, inverter=None)
    reasons = [words for plan in sizing.string_plans(no_bank).plans for words in plan.reasons]
    assert "The margin in cold or heat cannot be told yet." in reasons
    assert not any("not kept" in words for words in reasons)
