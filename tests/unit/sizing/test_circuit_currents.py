"""Which current each kind of circuit is built for."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from sizing.array.strings import controller_result
from sizing.cable.currents import converter_minimum_a, dc_dc_input_a
from sizing.circuits.circuit_currents import basis
from sizing.circuits.surroundings import Surroundings
from sizing.core.inputs import (
    BankInput,
    Bus,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    InputOutOfRange,
    LoadRow,
    RuleSet,
    SourceKind,
)
from tests.designs import P100, P200, controller, lfp_bank, placed, wired
from tests.unit.sizing.wiring import dc_dc, system

K = CircuitKind


def asked(kind, serves="", asked_system=None, **more):
    circuit = CircuitInput("X", kind, 2.0, serves=serves, **more)
    whole = asked_system or system(circuit)
    results = tuple(controller_result(whole, each) for each in whole.controllers)
    return basis(Surroundings(whole, results), circuit)


def charger(kind=SourceKind.CONVERTER, amps=45.0, **more):
    return ChargeSourceInput("c", kind, "charger", amps, **more)


class TestArray:
    def test_a_string_at_its_own_amps(self):
        found = asked(K.STRINGS_TO_COMBINER, "string:S1")
        assert (found.continuous_a, found.design_a) == (pytest.approx(12.75), pytest.approx(15.9375))
        assert (found.drop_a, found.circuit_v) == (9.8, 20.4)

    def test_several_strings_at_the_worst_ones(self):
        mixed = system(panels=(*placed(P200, 1), replace(placed(P100, 2)[1])), strings=wired(2, 1))
        found = asked(K.STRINGS_TO_COMBINER, "controller:A", mixed)
        assert found.design_a == pytest.approx(1.5625 * 10.2)

    def test_the_home_run_joins_them(self):
        found = asked(K.HOME_RUN)
        assert found.continuous_a == pytest.approx(25.5)
        assert found.max_v == pytest.approx(27.36, abs=0.01)

    @pytest.mark.parametrize("kind", [K.STRINGS_TO_COMBINER, K.HOME_RUN, K.CONTROLLER_TO_BUS])
    def test_without_a_controller_it_is_not_known(self, kind):
        found = asked(kind, asked_system=system(controllers=(), strings=(), panels=()))
        assert found.design_a is None
        assert found.missing

    def test_two_controllers_must_be_named(self):
        two = system(controllers=(controller(), replace(controller(), id="B")))
        assert asked(K.CONTROLLER_TO_BUS, asked_system=two).design_a is None
        assert asked(K.CONTROLLER_TO_BUS, "controller:B", two).design_a == 62.5

    @pytest.mark.parametrize("serves", ["", "bank", "load", "inverter"])
    def test_the_only_controller_needs_no_naming(self, serves):
        assert asked(K.CONTROLLER_TO_BUS, serves).design_a == 37.5

    def test_a_string_that_is_not_there(self):
        assert asked(K.STRINGS_TO_COMBINER, "string:S9").design_a is None


class TestChargers:
    def test_controller_output_at_its_own_profile(self):
        found = asked(K.CONTROLLER_TO_BUS)
        assert (found.design_a, found.circuit_v) == (37.5, 14.2)

    def test_dc_dc_uses_its_lockout(self):
        found = asked(K.START_BATTERY_TO_DC_DC, asked_system=system(sources=(dc_dc(30),)))
        assert found.continuous_a == pytest.approx(39.4, abs=0.05)
        assert (found.arrives_from_v, found.lockout_v, found.circuit_v) == (13.6, 12.0, 12.0)

    def test_dc_dc_without_a_lockout_uses_the_nominal_voltage(self):
        found = asked(
            K.START_BATTERY_TO_DC_DC,
            asked_system=system(sources=(dc_dc(30, lockout_v=None, input_v=None, absorb_v=None),)),
        )
        assert found.continuous_a == pytest.approx(39.4, abs=0.05)
        assert next(term for term in found.terms if term.symbol == "V_in").is_guess

    def test_dc_dc_from_a_24_volt_truck(self):
        found = asked(
            K.START_BATTERY_TO_DC_DC, asked_system=system(sources=(dc_dc(30, input_v=27.0, lockout_v=24.0),))
        )
        assert found.circuit_v == 24.0
        assert found.continuous_a == pytest.approx(19.7, abs=0.05)

    @pytest.mark.parametrize(
        "kind", [K.START_BATTERY_TO_DC_DC, K.DC_DC_TO_BUS, K.CHARGER_TO_BUS, K.PORTABLE_INLET]
    )
    def test_without_the_source_it_is_not_known(self, kind):
        assert asked(kind).design_a is None

    def test_dc_dc_output(self):
        assert asked(K.DC_DC_TO_BUS, asked_system=system(sources=(dc_dc(40),))).design_a == 50

    @pytest.mark.parametrize(
        "kind", [SourceKind.CONVERTER, SourceKind.INVERTER_CHARGER, SourceKind.GENERATOR]
    )
    def test_chargers(self, kind):
        found = asked(K.CHARGER_TO_BUS, "source:c", system(sources=(charger(kind, absorb_v=14.4),)))
        assert (found.design_a, found.circuit_v) == (56.25, 14.4)

    @pytest.mark.parametrize("serves", ["", "bank"])
    def test_the_only_charger_needs_no_naming(self, serves):
        assert asked(K.CHARGER_TO_BUS, serves, system(sources=(charger(),))).design_a == 56.25

    def test_two_chargers_must_be_named(self):
        two = system(sources=(charger(), replace(charger(), id="d", output_a=60)))
        assert asked(K.CHARGER_TO_BUS, asked_system=two).design_a is None
        assert asked(K.CHARGER_TO_BUS, "source:d", two).design_a == 75

    def test_portable_panel_by_source_or_as_stated(self):
        source = charger(SourceKind.PORTABLE_PV, 10)
        assert asked(K.PORTABLE_INLET, asked_system=system(sources=(source,))).design_a == 12.5
        assert asked(K.PORTABLE_INLET, current_a=20).design_a == 25


class TestBank:
    def test_the_main_carries_the_largest_of_all(self):
        found = asked(K.BATTERY_TO_MAIN_FUSE)
        assert found.continuous_a == pytest.approx(296.4, abs=0.1)
        assert "inverter" in found.terms[0].name

    def test_without_an_inverter_the_panel_or_the_chargers(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 2.0, current_a=60.0)
        whole = system(panel, inverter=None)
        assert asked(K.BATTERY_TO_MAIN_FUSE, asked_system=whole).continuous_a == 60
        assert asked(K.SHUNT_TO_BATTERY, asked_system=system(inverter=None)).continuous_a == 30

    def test_nothing_to_feed_is_not_known(self):
        bare = system(inverter=None, controllers=(), strings=(), panels=())
        assert asked(K.BATTERY_TO_MAIN_FUSE, asked_system=bare).design_a is None

    def test_a_stated_current_rules(self):
        assert asked(K.BATTERY_TO_MAIN_FUSE, current_a=100).design_a == 125

    def test_links_are_bounded_by_what_the_bank_may_give(self):
        small = system(bank=lfp_bank(2))
        assert asked(K.BATTERY_LINKS, asked_system=small).continuous_a == 200
        strong = system(bank=lfp_bank(2, max_discharge_a=300.0))
        assert asked(K.BATTERY_LINKS, asked_system=strong).continuous_a == pytest.approx(296.4, abs=0.1)
        unknown = system(bank=lfp_bank(2, max_discharge_a=None))
        assert asked(K.BATTERY_LINKS, asked_system=unknown).continuous_a == pytest.approx(296.4, abs=0.1)
        assert asked(K.BATTERY_LINKS, current_a=50).continuous_a == 50
        bare = system(inverter=None, controllers=(), strings=(), panels=(), bank=lfp_bank(2))
        assert asked(K.BATTERY_LINKS, asked_system=bare).continuous_a == 200

    def test_a_link_with_its_own_fuse_carries_its_own_battery(self):
        assert asked(K.BATTERY_LINKS).continuous_a == 100

    def test_the_inverter_is_needed(self):
        assert asked(K.BUS_TO_INVERTER, asked_system=system(inverter=None)).design_a is None

    def test_lead_works_lower(self):
        lead = system(bank=BankInput(Chemistry.AGM, 12, 100, 4))
        assert asked(K.BUS_TO_INVERTER, asked_system=lead).continuous_a == pytest.approx(324.7, abs=0.1)


class TestLoads:
    def test_the_panel_as_stated_or_everything_at_once(self):
        assert asked(K.BUS_TO_DC_PANEL, current_a=40).design_a == 50
        loads = (LoadRow("fridge", Bus.DC, 60, 0.5, 24), LoadRow("kettle", Bus.AC, 1000, 1, 0.1))
        assert asked(K.BUS_TO_DC_PANEL, asked_system=system(loads=loads)).continuous_a == 5
        assert asked(K.BUS_TO_DC_PANEL).design_a is None

    def test_motors_must_be_stated(self):
        assert asked(K.SLIDES_AND_JACKS).design_a is None
        assert asked(K.SLIDES_AND_JACKS, current_a=40).design_a == 50

    def test_sense_wires_carry_next_to_nothing(self):
        assert asked(K.SENSE_AND_MONITOR).continuous_a == 0.1
        assert asked(K.SENSE_AND_MONITOR, current_a=0.5).continuous_a == 0.5

    def test_heater_by_its_power(self):
        heated = system(bank=lfp_bank(4, is_heated=True, heater_w=120.0))
        assert asked(K.BATTERY_HEATER, asked_system=heated).continuous_a == 10
        assert asked(K.BATTERY_HEATER, current_a=8).continuous_a == 8
        assert asked(K.BATTERY_HEATER).design_a is None


class TestLineVoltage:
    @pytest.mark.parametrize(("rule_set", "amps"), [(RuleSet.MARINE_105C, 25), (RuleSet.METRIC, 13.04)])
    def test_inverter_output(self, rule_set, amps):
        found = asked(K.INVERTER_AC_OUT, asked_system=system(rule_set=rule_set))
        assert found.continuous_a == pytest.approx(amps, abs=0.01)
        assert asked(K.INVERTER_AC_OUT, asked_system=system(inverter=None)).design_a is None

    def test_shore_is_its_breaker(self):
        assert asked(K.SHORE_AC_IN, current_a=30).design_a == 30
        assert asked(K.SHORE_AC_IN).design_a is None


def test_a_larger_stated_current_counts():
    assert asked(K.HOME_RUN, current_a=40).design_a == 50
    assert asked(K.HOME_RUN, current_a=10).design_a == pytest.approx(31.875)


def test_the_bank_is_charged_to_the_highest_profile():
    assert Surroundings(system(sources=(charger(absorb_v=14.6),))).full_charge_v == 14.6
    assert Surroundings(system(controllers=(), strings=(), panels=(), bank=None)).full_charge_v == 14.4


@pytest.mark.parametrize("input_v", [0.0, -1.0, math.nan])
def test_dc_dc_refuses_what_is_no_voltage(input_v):
    with pytest.raises(InputOutOfRange, match="input_v"):
        dc_dc_input_a(30, 14.2, input_v)


@pytest.mark.parametrize("load_a", [-1, math.nan])
def test_converter_refuses_what_is_no_load(load_a):
    with pytest.raises(InputOutOfRange, match="load_a"):
        converter_minimum_a(load_a)
