"""The circuit schedule: choosing, judging and printing each row."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizing.cable.circuit_kinds import FACTS, Joint, joint_torque
from sizing.cable.conductors import conductor
from sizing.circuits.rewiring import wire_options
from sizing.core.checks import Provenance, Verdict
from sizing.core.inputs import (
    ChargeSourceInput,
    CircuitInput,
    CircuitKind,
    Confidence,
    InverterInput,
    OcpdInput,
    PlugInput,
    RuleSet,
    SourceKind,
)
from tests.designs import P200, P400, controller, lfp_bank, placed, wired
from tests.unit.sizing.wiring import dc_dc, home_run, judged, system

K = CircuitKind


def row(kind, run_len_m=2.0, **more):
    return CircuitInput(kind.value, kind, run_len_m, **more)


class TestEveryKind:
    """A design with one of each: every row is proposed whole and can be printed."""

    @pytest.fixture
    def everything(self):
        stated = {K.SLIDES_AND_JACKS: 40.0, K.SHORE_AC_IN: 30.0, K.BUS_TO_DC_PANEL: 40.0}
        sources = (
            dc_dc(40),
            ChargeSourceInput("conv", SourceKind.CONVERTER, "converter", 45.0),
            ChargeSourceInput("port", SourceKind.PORTABLE_PV, "portable", 10.0),
        )
        circuits = tuple(row(kind, current_a=stated.get(kind)) for kind in K)
        inverter = InverterInput("inverter 2 kW", 2000.0)
        return system(*circuits, sources=sources, bank=lfp_bank(4, heater_w=120.0), inverter=inverter)

    @pytest.mark.parametrize("rule_set", list(RuleSet))
    def test_a_size_and_a_device_are_proposed(self, everything, rule_set):
        rows, checks = judged(replace(everything, rule_set=rule_set))
        for kind in K:
            found = rows[kind.value]
            assert found.size, kind
            assert found.is_proposed_size
            assert found.label_text.startswith(kind.value)
            assert found.torque_words
            assert found.from_to == FACTS[kind].from_to
        assert not [key for key, check in checks.items() if check.blocks and "ocpd_distance" not in key]

    @pytest.mark.parametrize("rule_set", list(RuleSet))
    def test_every_check_can_be_opened(self, everything, rule_set):
        _, checks = judged(replace(everything, rule_set=rule_set))
        for key, check in checks.items():
            assert check.source, key
            assert check.sentence, key
            assert check.key == key
            if check.rule in ("F14", "F15") and check.value is not None and "smallest" not in key:
                assert check.formula or "run_len" in key, key

    def test_unknown_currents_are_not_enough_data(self):
        rows, checks = judged(system(row(K.SLIDES_AND_JACKS)))
        assert rows["C12"].verdict is Verdict.NOT_ENOUGH_DATA
        assert rows["C12"].fuse_place == "no fuse chosen"
        assert checks["circuit:C12/protection"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_device_is_still_held_against_its_cable(self):
        _, checks = judged(system(row(K.SLIDES_AND_JACKS, size="14", ocpd=OcpdInput(80))))
        assert checks["circuit:C12/ocpd_cable"].verdict is Verdict.BLOCK

    def test_without_a_size_it_cannot_be(self):
        _, checks = judged(system(row(K.SLIDES_AND_JACKS, ocpd=OcpdInput(80))))
        assert checks["circuit:C12/ocpd_cable"].verdict is Verdict.NOT_ENOUGH_DATA


class TestProtection:
    @pytest.mark.parametrize("kind", [K.CONTROLLER_TO_BUS, K.BUS_TO_INVERTER, K.BUS_TO_DC_PANEL, K.HOME_RUN])
    def test_a_row_without_a_device_prints_it_and_blocks(self, kind):
        rows, checks = judged(system(row(kind, has_no_ocpd=True, current_a=20)))
        assert "NO PROTECTION" in rows[kind.value].note
        assert rows[kind.value].fuse_place == "NO PROTECTION"
        assert rows[kind.value].verdict is Verdict.BLOCK
        assert checks[f"circuit:{kind.value}/protection"].verdict is Verdict.BLOCK

    def test_none_fitted_rules_over_a_device_that_was_named(self):
        rows, _ = judged(system(row(K.BUS_TO_DC_PANEL, has_no_ocpd=True, current_a=20, ocpd=OcpdInput(25))))
        assert rows["C11"].fuse_a is None
        assert rows["C11"].verdict is Verdict.BLOCK

    def test_the_negative_has_none(self):
        rows, checks = judged(system(row(K.SHUNT_TO_BATTERY)))
        assert rows["C7"].fuse_place == "none needed"
        assert "circuit:C7/protection" not in checks

    def test_one_string_on_a_cable_that_carries_it_needs_none(self):
        one = {"panels": placed(P200, 1), "strings": wired(1, 1)}
        for size in (None, "10"):
            rows, _ = judged(system(home_run(size=size), **one))
            assert rows["C2"].fuse_a is None
            assert rows["C2"].verdict is Verdict.PASS

    def test_one_string_on_a_thin_cable_does(self):
        one = {"panels": placed(P400, 1), "strings": wired(1, 1)}
        rows, checks = judged(system(home_run(size="18", has_no_ocpd=True), **one))
        assert checks["circuit:C2/protection"].verdict is Verdict.BLOCK
        assert "carries less" in rows["C2"].note or "NO PROTECTION" in rows["C2"].note

    def test_an_array_without_strings_is_not_known(self):
        _, checks = judged(system(home_run(), panels=(), strings=()))
        assert checks["circuit:C2/protection"].verdict is Verdict.NOT_ENOUGH_DATA

    @pytest.mark.parametrize(("quantity", "is_fused"), [(2, False), (3, True), (4, True)])
    def test_three_batteries_in_parallel_are_fused_each(self, quantity, is_fused):
        rows, _ = judged(system(row(K.BATTERY_LINKS, 0.3), bank=lfp_bank(quantity)))
        assert (rows["C5"].fuse_a is not None) is is_fused

    def test_links_of_an_unknown_bank_are_not_known(self):
        _, checks = judged(system(row(K.BATTERY_LINKS, 0.3), bank=None))
        assert checks["circuit:C5/protection"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_more_than_any_device_is_made_for(self):
        rows, checks = judged(system(row(K.BUS_TO_INVERTER), inverter=InverterInput("huge", 20_000)))
        assert checks["circuit:C6/protection"].verdict is Verdict.BLOCK
        assert "NO PROTECTION" in rows["C6"].note

    def test_a_string_fuse_named_on_the_string_is_the_device(self):
        strings = tuple(replace(s, fuse_a=20.0, fuse_voltage_rating_v=150.0) for s in wired(2, 1))
        rows, checks = judged(system(row(K.STRINGS_TO_COMBINER), strings=strings))
        assert (rows["C1"].fuse_a, rows["C1"].is_proposed_fuse) == (20.0, False)
        assert checks["circuit:C1/ocpd_voltage"].verdict is Verdict.PASS

    def test_a_panel_without_a_fuse_limit_is_not_enough_data(self):
        bare = placed(replace(P200, max_series_fuse_a=None), 2)
        _, checks = judged(system(row(K.STRINGS_TO_COMBINER), panels=bare))
        assert checks["circuit:C1/protection"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_strings_that_are_not_there(self):
        _, checks = judged(system(row(K.STRINGS_TO_COMBINER), panels=(), strings=()))
        assert checks["circuit:C1/protection"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_unfused_strings_must_take_the_back_feed(self):
        """Four equal strings, panel limit 40 A: (4 - 1) × 1.25 × 10.2 = 38.25 A may come back."""
        tough = placed(replace(P200, max_series_fuse_a=40.0), 4)
        _, checks = judged(system(row(K.STRINGS_TO_COMBINER), panels=tough, strings=wired(4, 1)))
        assert checks["circuit:C1/ampacity"].limit == pytest.approx(38.25)


class TestDevice:
    def test_voltage_of_an_array_device(self):
        _, checks = judged(system(home_run(ocpd=OcpdInput(35, voltage_rating_v=24.0))))
        assert checks["circuit:C2/ocpd_voltage"].verdict is Verdict.BLOCK

    def test_an_unknown_voltage_is_not_enough_data_above_32_volts(self):
        in_series = {"strings": wired(2, 2)}
        _, checks = judged(system(home_run(ocpd=OcpdInput(20)), **in_series))
        assert checks["circuit:C2/ocpd_voltage"].verdict is Verdict.NOT_ENOUGH_DATA
        _, checks = judged(system(row(K.BUS_TO_DC_PANEL, current_a=20, ocpd=OcpdInput(25))))
        assert "circuit:C11/ocpd_voltage" not in checks

    def test_an_unknown_temperature_leaves_the_voltage_open(self):
        unknown = {"tmin_travel_c": None, "tmin_storage_c": None}
        _, checks = judged(system(home_run(ocpd=OcpdInput(35, voltage_rating_v=150.0)), **unknown))
        assert checks["circuit:C2/ocpd_voltage"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_family_from_memory_is_a_caution(self):
        _, checks = judged(system(home_run(ocpd=OcpdInput(20, "gPV")), strings=wired(2, 2)))
        assert checks["circuit:C2/ocpd_voltage"].verdict is Verdict.CAUTION

    def test_blade_fuses_block_on_48_volts(self):
        panel = row(K.BUS_TO_DC_PANEL, current_a=10, ocpd=OcpdInput(15, "blade"))
        _, checks = judged(
            system(panel, v_nominal_v=48.0, controllers=(), strings=(), panels=(), inverter=None)
        )
        assert checks["circuit:C11/ocpd_voltage"].verdict is Verdict.BLOCK

    def test_line_voltage_breakers_are_not_asked(self):
        _, checks = judged(system(row(K.SHORE_AC_IN, current_a=30, ocpd=OcpdInput(30))))
        assert "circuit:C14/ocpd_voltage" not in checks

    def test_inverter_makers_largest_fuse(self):
        strict = InverterInput("strict", 3000, max_fuse_a=300)
        _, checks = judged(system(row(K.BUS_TO_INVERTER), inverter=strict))
        assert checks["circuit:C6/inverter_max_fuse"].verdict is Verdict.BLOCK

    def test_a_long_inverter_cable_is_a_caution(self):
        _, checks = judged(system(row(K.BUS_TO_INVERTER, 3.5)))
        assert checks["circuit:C6/run_len"].verdict is Verdict.CAUTION
        _, checks = judged(system(row(K.BUS_TO_INVERTER, None)))
        assert "circuit:C6/run_len" not in checks


class TestProposal:
    def test_a_proposed_main_says_what_it_must_be(self):
        rows, _ = judged(system(row(K.BATTERY_TO_MAIN_FUSE, 0.2), bank=lfp_bank(3)))
        assert "20 kA" in rows["C4"].note
        rows, _ = judged(system(row(K.SHORE_AC_IN, current_a=30)))
        assert "120 V AC" in rows["C14"].note
        rows, _ = judged(system(home_run(), tmin_travel_c=None, tmin_storage_c=None))
        assert "fuse or breaker:" not in rows["C2"].note


class TestDistance:
    def test_a_busbar_is_another_source(self):
        for distance_m, verdict in ((1.0, Verdict.PASS), (1.1, Verdict.BLOCK)):
            ocpd = OcpdInput(50, distance_to_source_m=distance_m, is_sheathed=True)
            _, checks = judged(system(row(K.BUS_TO_DC_PANEL, current_a=40, ocpd=ocpd)))
            assert checks["circuit:C11/ocpd_distance"].verdict is verdict

    def test_it_is_not_asked_of_an_array(self):
        _, checks = judged(
            system(home_run(ocpd=OcpdInput(35, voltage_rating_v=150, distance_to_source_m=3.0)))
        )
        assert "circuit:C2/ocpd_distance" not in checks


class TestConductor:
    def test_code_checks_terminals_too(self):
        """10 AWG in cool air carries the current after factors; its 75 °C terminals do not before them."""
        cold = row(K.BUS_TO_DC_PANEL, size="10", current_a=29, ambient_c=10)
        _, checks = judged(system(cold, rule_set=RuleSet.CODE_90C))
        assert checks["circuit:C11/ampacity"].verdict is Verdict.PASS
        assert checks["circuit:C11/terminals"].verdict is Verdict.BLOCK

    def test_what_may_not_be_used_here_says_why(self):
        hot = row(K.BUS_TO_DC_PANEL, size="10", current_a=10, ambient_c=120)
        _, checks = judged(system(hot))
        check = checks["circuit:C11/ampacity"]
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "‹120 °C|248 °F› air" in check.sentence

    def test_thin_single_wires(self):
        _, checks = judged(system(row(K.SENSE_AND_MONITOR, size="18")))
        assert checks["circuit:C15/smallest"].verdict is Verdict.CAUTION

    @pytest.mark.parametrize(
        ("rule_set", "size", "verdict"),
        [
            (RuleSet.CODE_75C, "2", Verdict.BLOCK),
            (RuleSet.CODE_75C, "1/0", Verdict.PASS),
            (RuleSet.MARINE_105C, "2", Verdict.CAUTION),
        ],
    )
    def test_cables_in_parallel(self, rule_set, size, verdict):
        two = row(K.BUS_TO_INVERTER, size=size, parallel_conductors=2)
        rows, checks = judged(system(two, rule_set=rule_set))
        assert checks["circuit:C6/parallel"].verdict is verdict
        assert rows["C6"].label_text.count("2 ×") == 1

    def test_line_voltage_follows_the_code_in_a_marine_job(self):
        rows, checks = judged(system(row(K.SHORE_AC_IN, current_a=30)))
        assert rows["C14"].size == "10"
        assert "circuit:C14/terminals" in checks

    def test_nothing_large_enough_takes_the_largest(self):
        rows, checks = judged(system(row(K.BUS_TO_INVERTER), inverter=InverterInput("large", 4_000)))
        assert rows["C6"].size == "4/0"
        assert "in parallel" in checks["circuit:C6/ampacity"].sentence
        assert rows["C6"].verdict is Verdict.BLOCK

    def test_a_drop_no_cable_keeps_takes_the_thinnest_safe_one(self):
        rows, checks = judged(system(row(K.BUS_TO_DC_PANEL, 60.0, current_a=60)))
        assert rows["C11"].size == "8"
        assert checks["circuit:C11/drop"].verdict is Verdict.BLOCK

    def test_metric_jobs_get_metric_cable(self):
        rows, _ = judged(system(row(K.BUS_TO_DC_PANEL, current_a=20), rule_set=RuleSet.METRIC))
        assert rows["C11"].size_words.endswith("mm²")
        assert rows["C11"].cable_standard == "metric"

    def test_a_standard_that_was_asked_for_is_proposed(self):
        rows, _ = judged(system(row(K.BUS_TO_DC_PANEL, current_a=20, cable_standard="sae")))
        assert rows["C11"].cable_standard == "sae"

    def test_sae_cable_passes_on_printed_areas(self):
        """Boat-wire and automotive cable tables print 24,538 cmil, 12.43 mm², for 6 SAE."""
        rows, checks = judged(system(row(K.BUS_TO_DC_PANEL, size="6", current_a=20, cable_standard="sae")))
        assert rows["C11"].size_words == "6 SAE"
        assert rows["C11"].area_mm2 == 12.43
        assert checks["circuit:C11/drop"].verdict is Verdict.PASS


class TestDrop:
    def test_other_loads_may_lose_ten_percent(self):
        lamp = row(K.BUS_TO_DC_PANEL, 8.0, size="12", current_a=10, is_critical=False)
        _, checks = judged(system(lamp))
        assert checks["circuit:C11/drop"].verdict is Verdict.PASS
        _, checks = judged(system(replace(lamp, is_critical=True)))
        assert checks["circuit:C11/drop"].verdict is Verdict.CAUTION

    def test_an_unknown_length_is_not_enough_data(self):
        _, checks = judged(system(home_run(None)))
        check = checks["circuit:C2/drop"]
        assert check.verdict is Verdict.NOT_ENOUGH_DATA
        assert "length" in check.sentence

    def test_an_array_drop_never_blocks_by_itself(self):
        _, checks = judged(system(home_run(60.0, size="10")))
        assert checks["circuit:C2/drop"].verdict is Verdict.CAUTION

    def test_a_guessed_length_is_a_caution_and_marks_what_rests_on_it(self):
        _, checks = judged(system(home_run(confidence=Confidence.GUESS)))
        assert checks["circuit:C2/run_len"].verdict is Verdict.CAUTION
        assert checks["circuit:C2/drop"].guesses == ("circuit:C2.run_len",)
        _, checks = judged(system(home_run(None, confidence=Confidence.GUESS)))
        assert "circuit:C2/run_len" not in checks

    def test_a_guessed_length_is_judged_a_quarter_longer(self):
        """8 m guessed loses what 10 m measured loses (8 × 1.25 = 10); common practice, no source."""
        guess, checks = judged(system(home_run(8.0, confidence=Confidence.GUESS)))
        tape, taped = judged(system(home_run(10.0)))
        assert (guess["C2"].given_len_m, guess["C2"].run_len_m) == (8.0, 10.0)
        assert (tape["C2"].given_len_m, tape["C2"].run_len_m) == (10.0, 10.0)
        assert guess["C2"].drop_v == pytest.approx(tape["C2"].drop_v)
        assert checks["circuit:C2/drop"].value == pytest.approx(taped["circuit:C2/drop"].value)
        assert "‹8 m|26.2 ft› given, ‹10 m|32.8 ft› counted" in checks["circuit:C2/run_len"].sentence
        assert checks["circuit:C2/run_len"].substituted == (
            "‹8 m|26.2 ft› given × 1.25 = ‹10 m|32.8 ft› counted"
        )
        assert guess["C2"].note.split("; ")[0] == "length is a guess"
        assert "given" not in guess["C2"].note  # the numbers are the row's own, in the units of the page

    def test_remedies_count_a_guess_longer_and_a_measured_path_as_it_is(self):
        asked = system(home_run(8.0, confidence=Confidence.GUESS))
        assert wire_options(asked, "C2")[0].run_len_m == pytest.approx(10.0)
        assert wire_options(asked, "C2", run_len_m=8.0)[0].run_len_m == pytest.approx(8.0)

    def test_guessed_facts_are_carried(self):
        guessed = {"guesses": frozenset({"panels", "site.tmin_storage", "loads"})}
        _, checks = judged(system(home_run(ocpd=OcpdInput(35, voltage_rating_v=150)), **guessed))
        assert checks["circuit:C2/ampacity"].guesses == ("panels",)
        assert checks["circuit:C2/ocpd_voltage"].guesses == ("panels", "site.tmin_storage")

    def test_both_legs_together(self):
        legs = (row(K.STRINGS_TO_COMBINER, 3.0, size="10"), home_run(6.1, size="8"))
        _, checks = judged(system(*legs))
        check = checks["controller:A/pv_drop"]
        assert check.value == pytest.approx(0.0095 + 0.0242, abs=2e-3)
        assert check.verdict is Verdict.CAUTION

    def test_one_leg_alone_is_not_summed(self):
        _, checks = judged(system(home_run()))
        assert "controller:A/pv_drop" not in checks

    def test_legs_of_another_controller_do_not_count(self):
        two = (controller(), replace(controller(), id="B"))
        legs = (row(K.STRINGS_TO_COMBINER, serves="controller:B"), home_run())
        _, checks = judged(system(*legs, controllers=two))
        assert "controller:A/pv_drop" not in checks

    def test_dc_dc_with_an_unknown_lockout(self):
        short = row(K.START_BATTERY_TO_DC_DC, 0.5)
        _, checks = judged(system(short, sources=(dc_dc(20, lockout_v=None),)))
        assert "circuit:C8/arrival" not in checks
        long = row(K.START_BATTERY_TO_DC_DC, 9.0, size="8")
        _, checks = judged(system(long, sources=(dc_dc(20, lockout_v=None),)))
        assert checks["circuit:C8/arrival"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_dc_dc_without_a_length(self):
        _, checks = judged(system(row(K.START_BATTERY_TO_DC_DC, None), sources=(dc_dc(20),)))
        assert checks["circuit:C8/drop"].verdict is Verdict.NOT_ENOUGH_DATA


class TestPlugs:
    @pytest.mark.parametrize(("count", "verdict"), [(2, Verdict.PASS), (3, Verdict.BLOCK)])
    def test_joined_current(self, count, verdict):
        """1.25 × 10.2 A per string against 30 A plugs."""
        whole = system(panels=placed(P200, count), strings=wired(count, 1), plugs=(PlugInput("A"),))
        _, checks = judged(whole)
        assert checks["controller:A/branch_plugs"].verdict is verdict

    def test_without_strings_it_is_not_known(self):
        for controllers in ((controller(),), ()):
            _, checks = judged(
                system(panels=(), strings=(), controllers=controllers, plugs=(PlugInput("A"),))
            )
            assert checks["controller:A/branch_plugs"].verdict is Verdict.NOT_ENOUGH_DATA


class TestTorque:
    """UL 486A-B in NFPA 70 annex I table I.1; makers' manuals for studs."""

    @pytest.mark.parametrize(
        ("size", "newton_metre", "inch_pounds"),
        [("10", 4.0, 35), ("8", 4.5, 40), ("4", 5.1, 45), ("2", 5.6, 50), ("4/0", 5.6, 50)],
    )
    def test_clamps_by_size(self, size, newton_metre, inch_pounds):
        found = joint_torque(Joint.CLAMP, conductor(size))
        assert found.torque_nm == newton_metre
        assert found.words == f"‹{newton_metre:g} N·m|{inch_pounds} in-lb›"
        assert found.provenance is Provenance.PRINTED

    def test_studs_have_a_range(self):
        found = joint_torque(Joint.BATTERY_M8, conductor("4/0"))
        assert found.words == "‹9.6–10.7 N·m|85–95 in-lb›"
        assert found.low_nm < found.torque_nm < found.high_nm

    def test_beyond_the_table_the_maker_rules(self):
        found = joint_torque(Joint.CLAMP, conductor("300 kcmil"))
        assert found.torque_nm is None
        assert found.words == "by the maker's manual"


def test_labels_of_the_array_switch():
    rows, _ = judged(system(home_run()))
    assert "PV disconnect: max 27.4 V, max 25.5 A" in rows["C2"].label_text
    assert "Live with switch off" in rows["C2"].label_text


def test_a_pair_of_cables_without_a_current_has_no_label_size():
    rows, _ = judged(system(row(K.SLIDES_AND_JACKS)))
    assert rows["C12"].label_text == (
        "C12 bus–slides, jacks, breakaway · Breakaway brake feed: must stay live with the disconnect open"
    )
    assert rows["C12"].torque_words == ""
