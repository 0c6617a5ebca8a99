"""What can be done with a longer run, what the next size keeps, and where the rule sets disagree."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing.circuits.rewiring import wire_options
from sizing.circuits.rule_comparison import compare_rule_sets
from sizing.core.checks import Verdict
from sizing.core.inputs import (
    Bus,
    ChargeSourceInput,
    CircuitInput,
    CircuitKind,
    InputOutOfRange,
    LoadRow,
    OcpdInput,
    RuleSet,
    SourceKind,
    TravelLeg,
)
from sizing.system.next_size import harvest_year_wh, next_size_up
from tests.designs import P100, P200, controller, lfp_bank, placed, wired
from tests.unit.sizing.wiring import dc_dc, home_run, system

K = CircuitKind


class TestOptions:
    def test_a_circuit_that_passes_needs_nothing_thicker(self):
        found = wire_options(system(home_run(size="6")), "C2")
        assert [each.kind for each in found] == ["as_entered", "restring"]

    def test_an_unknown_circuit_is_refused(self):
        with pytest.raises(InputOutOfRange, match="no circuit"):
            wire_options(system(home_run()), "C9")

    def test_an_unknown_length_is_refused(self):
        with pytest.raises(InputOutOfRange, match="run_len_m"):
            wire_options(system(home_run(None)), "C2")

    def test_battery_cables_are_only_made_thicker(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 6.0, size="10", current_a=20)
        kinds = {each.kind for each in wire_options(system(panel), "C11")}
        assert kinds == {"as_entered", "resize"}

    def test_when_nothing_passes_every_size_is_shown(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 90.0, size="2/0", current_a=60)
        found = wire_options(system(panel), "C11")
        assert [each.size for each in found] == ["2/0", "3/0", "4/0"]
        assert found[-1].verdict is not Verdict.PASS

    def test_unlike_panels_are_not_regrouped(self):
        mixed = (*placed(P200, 1), replace(placed(P100, 2)[1]))
        found = wire_options(system(home_run(size="10"), panels=mixed), "C2")
        assert "restring" not in {each.kind for each in found}

    def test_four_panels_can_be_grouped_three_ways(self):
        four = system(home_run(size="8"), panels=placed(P200, 4), strings=wired(4, 2))
        found = [each for each in wire_options(four, "C2") if each.kind == "restring"]
        assert [(each.ns, each.np) for each in found] == [(4, 1), (1, 4)]
        assert found[0].verdict is Verdict.BLOCK  # 109 V cold on a 100 V controller
        assert found[0].voc_cold_v == pytest.approx(109.4, abs=0.1)

    def test_a_string_circuit_follows_its_controller_when_regrouped(self):
        string = CircuitInput("C1", K.STRINGS_TO_COMBINER, 5.0, serves="string:S1", size="10")
        found = [each for each in wire_options(system(string), "C1") if each.kind == "restring"]
        assert [(each.ns, each.np) for each in found] == [(2, 1)]

    def test_without_a_controller_there_is_nothing_to_string(self):
        bare = system(home_run(size="10"), controllers=(), strings=(), panels=())
        assert [each.kind for each in wire_options(bare, "C2")][:1] == ["as_entered"]

    def test_strings_of_another_controller_stay(self):
        two = (controller(), replace(controller(), id="B"))
        strings = (*wired(2, 1), replace(wired(1, 1)[0], id="B1", controller_id="B", panel_ids=("q1",)))
        panels = (*placed(P200, 2), replace(placed(P200, 1)[0], id="q1"))
        both = system(home_run(size="10"), controllers=two, strings=strings, panels=panels)
        found = [each for each in wire_options(both, "C2") if each.kind == "restring"]
        assert [(each.ns, each.np) for each in found] == [(2, 1)]


class TestNextSize:
    """E·share·(drop - drop'), 8960 kg/m³: worked by hand for 10 → 8 AWG."""

    def sunny(self, *circuits, **more):
        leg = TravelLeg("south", 30.0, -90.0, tuple(range(1, 13)), psh_h=5.0)
        return system(*circuits, legs=(leg,), design_month=6, **more)

    def answer(self, whole, circuit_id):
        return next_size_up(whole, sizing.size_system(whole), circuit_id)

    def test_home_run(self):
        whole = self.sunny(home_run(size="10"))
        found = self.answer(whole, "C2")
        year_kwh = 400 * 5.0 * 0.75 * 365 / 1000
        assert found.energy_kwh_per_year == pytest.approx(year_kwh, rel=1e-6)
        drop, after = 2 * 6.1 * 19.6 * 3.277e-3 / 20.4, 2 * 6.1 * 19.6 * 2.061e-3 / 20.4
        assert found.saved_kwh_per_year == pytest.approx(year_kwh * 0.6 * (drop - after), rel=1e-3)
        assert found.extra_copper_kg == pytest.approx(2 * 6.1 * (8.367 - 5.261) * 1e-6 * 8960, rel=1e-3)
        assert "8 AWG instead of 10 AWG" in found.words

    def test_several_legs_in_a_month_count_by_their_mean(self):
        legs = (
            TravelLeg("a", 30.0, -90.0, (1,), psh_h=4.0),
            TravelLeg("b", 30.0, -90.0, (1, 2), psh_h=2.0),
        )
        result = sizing.size_system(system(home_run(), legs=legs, design_month=1))
        daily = 400 * 0.75
        assert harvest_year_wh(result) == pytest.approx(daily * 3.0 * 31 + daily * 2.0 * 28)

    def test_it_can_be_opened_in_the_result(self):
        whole = self.sunny(home_run(size="10"), CircuitInput("C12", K.SLIDES_AND_JACKS, 2.0, current_a=20))
        result = sizing.size_system(whole)
        figures = {each.key: each for each in result.figures if each.key.endswith("/next_size")}
        assert set(figures) == {"circuit:C2/next_size"}
        (figure,) = figures.values()
        assert figure.value == pytest.approx(self.answer(whole, "C2").saved_kwh_per_year)
        assert "kWh/year" in figure.substituted

    def test_months_without_a_harvest_count_as_none(self):
        legs = (TravelLeg("a", 30.0, -90.0, (1,), psh_h=4.0),)
        result = sizing.size_system(system(home_run(), legs=legs, design_month=1))
        (month,) = result.harvest
        unknown = replace(month, month=2, harvest_wh=None)
        assert harvest_year_wh(replace(result, harvest=(month, unknown))) == harvest_year_wh(result)

    def test_without_a_harvest_the_saving_is_not_known(self):
        found = self.answer(system(home_run(size="10")), "C2")
        assert found.saved_kwh_per_year is None
        assert "not known" in found.words

    def test_two_controllers_share_by_rated_power(self):
        two = (controller(), replace(controller(), id="B"))
        strings = (wired(1, 1)[0], replace(wired(2, 1)[1], controller_id="B"))
        named = home_run(size="10", serves="controller:B")
        whole = self.sunny(named, controllers=two, strings=strings)
        assert self.answer(whole, "C2").energy_kwh_per_year == pytest.approx(200 * 5 * 0.75 * 365 / 1000)
        string = CircuitInput("C1", K.STRINGS_TO_COMBINER, 3.0, serves="string:S1", size="10")
        whole = self.sunny(string, controllers=two, strings=strings)
        assert self.answer(whole, "C1").energy_kwh_per_year is None

    @pytest.mark.parametrize(
        ("kind", "kwh"),
        [
            (K.BUS_TO_INVERTER, (880 / 0.88 + 24 * 25) * 365 / 1000),
            (K.BUS_TO_DC_PANEL, 600 * 365 / 1000),
            (K.START_BATTERY_TO_DC_DC, 40 * 12 * 1.0 * 365 / 1000),
            (K.DC_DC_TO_BUS, 40 * 12 * 1.0 * 365 / 1000),
            (K.CHARGER_TO_BUS, 45 * 12 * 2.0 * 365 / 1000),
            (K.SLIDES_AND_JACKS, None),
        ],
    )
    def test_energy_that_passes(self, kind, kwh):
        loads = (LoadRow("fridge", Bus.DC, 50, 0.5, 24), LoadRow("tools", Bus.AC, 880, 1.0, 1.0))
        sources = (
            replace(dc_dc(40), driving_hours_per_day=1.0),
            ChargeSourceInput("conv", SourceKind.CONVERTER, "converter", 45.0, shore_hours_per_day=2.0),
        )
        size = "2/0" if kind is K.BUS_TO_INVERTER else None
        circuit = CircuitInput("X", kind, 2.0, size=size, current_a=20 if kwh is None else None)
        found = self.answer(system(circuit, loads=loads, sources=sources), "X")
        if kwh is None:
            assert found.energy_kwh_per_year is None
        else:
            assert found.energy_kwh_per_year == pytest.approx(kwh)

    def test_an_unnamed_charger_among_two_is_not_known(self):
        sources = tuple(
            ChargeSourceInput(name, SourceKind.CONVERTER, name, 45.0, shore_hours_per_day=2.0)
            for name in "ab"
        )
        circuit = CircuitInput("C10", K.CHARGER_TO_BUS, 2.0, size="4", current_a=45)
        whole = system(circuit, sources=sources)
        assert self.answer(whole, "C10") is None  # without a current there is no drop to save

    def test_there_is_nothing_above_the_largest(self):
        assert self.answer(system(CircuitInput("C6", K.BUS_TO_INVERTER, 1.5, size="4/0")), "C6") is None

    def test_an_unknown_circuit_is_refused(self):
        whole = system(home_run())
        with pytest.raises(InputOutOfRange, match="no circuit"):
            self.answer(whole, "C9")

    def test_without_an_inverter_idle_and_loads_still_count(self):
        whole = system(home_run())
        answer = sizing.size_system(whole)
        feed = CircuitInput("C6", K.BUS_TO_INVERTER, 1.5, size="2/0")
        asked = replace(whole, circuits=(feed,), inverter=None)
        assert next_size_up(replace(asked), sizing.size_system(asked), "C6") is None
        assert answer.energy.e_ac_wh == 0


_MARKED = OcpdInput(20, interrupting_a=20_000.0)


class TestComparison:
    def test_a_small_wire_is_where_they_disagree(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 0.5, size="14", current_a=16, ocpd=_MARKED)
        (found,) = compare_rule_sets(system(panel, bank=lfp_bank(3)))
        verdicts = {each.rule_set: each.chosen_verdict for each in found.answers}
        assert verdicts[RuleSet.MARINE_105C] is Verdict.PASS
        assert verdicts[RuleSet.CODE_75C] is Verdict.BLOCK
        assert found.disagrees
        assert [name for name, _, _ in found.device_limits] == [
            "33 CFR below 50 V",
            "marine base",
            "code",
            "park trailer, 24 V or less",
        ]
        assert found.string_fuses == ()

    def test_inverter_cable_by_two_standards(self):
        """264.6 A and a 300 A fuse: 2/0 by ABYC E-11 105 °C, 300 kcmil by NFPA 70 75 °C."""
        feed = CircuitInput("C6", K.BUS_TO_INVERTER, 0.5, current_a=211.64)
        (found,) = compare_rule_sets(system(feed, inverter=replace(system().inverter, power_w=1500.0)))
        sizes = {each.rule_set: each.proposed_size for each in found.answers}
        assert sizes[RuleSet.MARINE_105C] == "2/0 AWG"
        assert sizes[RuleSet.CODE_75C] == "300 kcmil"

    def test_string_fuses_by_three_standards(self):
        (found,) = compare_rule_sets(system(home_run()))
        assert len(found.string_fuses) == 3
        bare = system(home_run(), panels=(), strings=())
        assert compare_rule_sets(bare)[0].string_fuses == ()

    def test_memory_shows(self):
        soft = CircuitInput(
            "C11", K.BUS_TO_DC_PANEL, 1.0, current_a=10, insulation_c=70
        )  # ISO 10133 in metric
        (found,) = compare_rule_sets(system(soft))
        by_set = {each.rule_set: each.rests_on_memory for each in found.answers}
        assert by_set[RuleSet.METRIC]
        assert not by_set[RuleSet.MARINE_105C]

    def test_agreement(self):
        thick = CircuitInput("C11", K.BUS_TO_DC_PANEL, 3.0, current_a=20)
        (found,) = compare_rule_sets(system(thick))
        assert found.answers[0].title
        assert isinstance(found.disagrees, bool)
