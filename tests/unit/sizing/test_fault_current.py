"""Whether devices break what can flow where they stand: mains, branches, links, what nobody named.

Sums by hand: 12.8 V 100 Ah lithium has 2.25 to 5.6 mΩ (14 V over 6.2 and 2.5 kA), a 12 V 100 Ah lead battery
3.15 to 12.6 mΩ (12.6 V over 4 and 1 kA); rows of parallel batteries divide them.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizing.cable.bank_fault import bank_fault, battery_source, interrupt_need
from sizing.circuits.circuits import judge_circuit
from sizing.circuits.fault_current import fault_paths
from sizing.core.checks import Provenance, Verdict
from sizing.core.inputs import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    Confidence,
    OcpdInput,
    PolicyInput,
    RuleSet,
    SourceKind,
)
from tests.designs import lfp_bank
from tests.unit.sizing.fault import design, fault_of, main_run, row
from tests.unit.sizing.wiring import dc_dc, judged, system

K = CircuitKind


def lead(ah: float = 100.0, quantity: int = 2, **more):
    return BankInput(Chemistry.FLOODED, 12.0, ah, quantity, **more)


def asked(bank, *circuits, at="C4", **more):
    _, checks = judged(replace(design(bank, *circuits), **more))
    return checks[f"circuit:{at}/interrupting"]


def bare_main(**device):
    return row("C4", "4/0", 0.2, away_m=0.1, **device)


class TestLithiumMain:
    @pytest.mark.parametrize(
        ("more", "verdict"),
        [
            ({"interrupting_a": 20_000.0}, Verdict.PASS),
            ({"interrupting_a": 10_000.0}, Verdict.BLOCK),
            ({"family": "class T"}, Verdict.PASS),
            ({"family": "post"}, Verdict.BLOCK),
            ({}, Verdict.NOT_ENOUGH_DATA),
        ],
    )
    def test_300_ah(self, more, verdict):
        """18.6 kA at most at the post: the shop's 20 kA rules."""
        assert asked(lfp_bank(3), bare_main(**more)).verdict is verdict

    def test_above_400_ah_20_kiloamps_are_not_enough_by_policy(self):
        """400 Ah: 14 V over 0.5625 mΩ and 0.1 m of 4/0 (0.0161 mΩ) are 24.2 kA; 9.8 kA at the low end."""
        found = asked(lfp_bank(4), bare_main(family="class T"))
        assert found.verdict is Verdict.CAUTION
        assert found.limit == pytest.approx(24_200, abs=50)
        assert "Ask the battery maker" in found.sentence

    def test_where_even_the_low_end_is_more_it_blocks(self):
        """1000 Ah: 25 kA without conductors."""
        assert asked(lfp_bank(10), bare_main(family="class T")).verdict is Verdict.BLOCK

    def test_a_makers_figure_is_makers_data(self):
        stated = asked(lfp_bank(4, short_circuit_a=12_000.0), bare_main(interrupting_a=20_000.0))
        assert stated.verdict is Verdict.PASS
        found = bank_fault(lfp_bank(4, short_circuit_a=26_000.0))
        assert (found.main_limit_a, found.provenance) == (pytest.approx(26_000.0), Provenance.MAKER)
        assert (
            asked(lfp_bank(4, short_circuit_a=26_000.0), bare_main(interrupting_a=20_000.0)).verdict
            is Verdict.BLOCK
        )

    def test_the_makers_figure_rules_at_the_post_whatever_the_cable(self):
        """At least the maker's rating, as the text says, though 0.1 m of cable takes a little off the sum."""
        assert asked(
            lfp_bank(4, short_circuit_a=26_000.0), bare_main(family="class T")
        ).limit == pytest.approx(26_000.0)
        flooded = lead(450.0, 3, short_circuit_a=26_000.0)
        assert asked(flooded, bare_main(family="class T")).limit == pytest.approx(26_000.0)

    def test_of_two_figures_by_the_maker_the_one_that_gives_more_counts(self):
        """14 V over 2 mΩ is 7 kA, more than the 3 kA stated beside it; the other way round 9 kA."""
        assert bank_fault(
            lfp_bank(1, internal_resistance_ohm=0.002, short_circuit_a=3_000.0)
        ).prospective_a == (pytest.approx((7_000.0, 7_000.0)))
        assert bank_fault(
            lfp_bank(1, internal_resistance_ohm=0.002, short_circuit_a=9_000.0)
        ).prospective_a == (pytest.approx((9_000.0, 9_000.0)))

    @pytest.mark.parametrize(
        ("stated", "words", "not_words"),
        [
            # 14 V of lithium / 0.5 mΩ is 28 kA, more than the 20 kA of a shop; so is a stated 26 kA
            ({"internal_resistance_ohm": 0.0005}, "internal resistance", "short"),
            ({"short_circuit_a": 26_000.0}, "short-circuit current", "resistance"),
        ],
    )
    def test_the_source_names_the_figure_the_maker_states(self, stated, words, not_words):
        for bank in (lfp_bank(1, **stated), lead(100.0, 1, **stated)):
            need = interrupt_need(bank, 1, 20_000.0)
            assert (need.provenance, words in need.source) == (Provenance.MAKER, True)
            assert not_words not in need.source

    @pytest.mark.parametrize(
        ("nominal_v", "emf_v"), [(3.2, 3.5), (12.0, 14.0), (12.8, 14.0), (24.0, 28.0), (48.0, 56.0)]
    )
    def test_cells_are_never_counted_too_few(self, nominal_v, emf_v):
        """3.5 V a cell: a battery typed as 48 V may have sixteen cells."""
        assert battery_source(BankInput(Chemistry.LFP, nominal_v, 100.0, 1)).emf_v == pytest.approx(emf_v)

    def test_the_shop_sets_its_own_bar(self):
        """An inverter maker asks 10 kA; a shop may hold itself to less or more than 20 kA."""
        lenient = asked(lfp_bank(1), bare_main(interrupting_a=10_000.0), policy=PolicyInput(10_000.0))
        assert (lenient.verdict, lenient.limit) == (Verdict.PASS, 10_000.0)
        assert "shop policy" in lenient.source
        strict = asked(lfp_bank(1), bare_main(interrupting_a=20_000.0), policy=PolicyInput(50_000.0))
        assert strict.verdict is Verdict.BLOCK

    def test_the_inverter_feed_is_the_main_where_there_is_no_other(self):
        feed = row("C6", "4/0", 1.5, interrupting_a=6_000.0)
        assert asked(lfp_bank(3), feed, at="C6").verdict is Verdict.BLOCK


class TestLeadMain:
    def test_a_large_bank_with_a_marked_strip_fuse_does_not_pass(self):
        """1350 Ah, over 500 Ah: 20 kA by the text."""
        assert (
            asked(lead(450.0, 3), bare_main(family="strip", interrupting_a=6_000.0)).verdict is Verdict.BLOCK
        )

    def test_a_large_bank_is_judged_by_the_upper_end_too(self):
        """1350 Ah give up to 54 kA less conductors: 20 kA by the text is a caution by itself."""
        assert asked(lead(450.0, 3), bare_main(family="class T")).verdict is Verdict.CAUTION
        stated = lead(450.0, 3, short_circuit_a=15_000.0)
        assert asked(stated, bare_main(family="class T")).verdict is Verdict.PASS

    @pytest.mark.parametrize(("ah", "limit_a"), [(250.0, 5_000.0), (250.5, 20_000.0)])
    def test_exactly_500_ah_are_not_over_500(self, ah, limit_a):
        """ABYC E-11 as quoted: over 500 Ah 20 kA; two of 250 Ah take the row over 1100 CCA."""
        bank = lead(ah, 2, cca_a=600.0)
        assert interrupt_need(bank, 2, 20_000.0).main_a == limit_a

    @pytest.mark.parametrize(("stated_a", "need_a"), [(10_000.0, 10_000.0), (10_001.0, 20_000.0)])
    def test_a_figure_of_exactly_10_ka_does_not_exceed_it(self, stated_a, need_a):
        assert interrupt_need(lead(450.0, 3, short_circuit_a=stated_a), 3, 20_000.0).main_a == pytest.approx(
            need_a
        )

    def test_a_terminal_fuse_at_24_volts_is_quoted_once(self):
        """5 kA at 32 V in one text only: more than the 1.5 kA of up to 650 CCA, and no pass."""
        bank = BankInput(Chemistry.FLOODED, 12.0, 100.0, 2, in_series=2, cca_a=600.0)
        found = asked(bank, bare_main(family="post"), v_nominal_v=24.0, controllers=())
        assert (found.verdict, found.provenance) == (Verdict.CAUTION, Provenance.QUOTED_ONCE)

    def test_a_small_bank_of_known_cranking_amps_passes_by_the_table(self):
        found = asked(lead(cca_a=500.0), bare_main(interrupting_a=3_000.0))
        assert (found.verdict, found.limit, found.provenance) == (Verdict.PASS, 3_000.0, Provenance.MAKER)

    def test_a_row_by_cranking_amps_claims_no_more_than_it_asks(self):
        """2 × 500 CCA: 3 kA by the table; 12.6 V over 1.575 mΩ are 8 kA, which 3 kA do not break."""
        sentence = asked(lead(cca_a=500.0), bare_main(interrupting_a=3_000.0)).sentence
        assert "breaks what" not in sentence
        assert "3 kA where the table asks for 3 kA by cranking amps" in sentence
        enough = asked(lead(cca_a=500.0), bare_main(interrupting_a=10_000.0)).sentence
        assert "10 kA breaks what the bank can drive here" in enough

    @pytest.mark.parametrize(
        ("rated_a", "verdict"),
        [(4_900.0, Verdict.BLOCK), (6_000.0, Verdict.CAUTION), (10_000.0, Verdict.PASS)],
    )
    def test_unknown_cranking_amps_take_the_largest_row_and_the_sum(self, rated_a, verdict):
        """Two of 100 Ah: 5 kA by the largest row, up to 8 kA by the sum."""
        assert asked(lead(), bare_main(interrupting_a=rated_a)).verdict is verdict

    def test_against_the_makers_figure(self):
        found = asked(lead(short_circuit_a=4_000.0), bare_main(interrupting_a=5_000.0))
        assert (found.verdict, found.limit) == (Verdict.PASS, pytest.approx(4_000.0))

    def test_banks_above_24_volts_rest_on_the_32_volt_rows_from_memory(self):
        four = lead(100.0, 4, in_series=4, cca_a=600.0)
        found = asked(four, bare_main(family="class T"), v_nominal_v=48.0)
        assert (found.verdict, found.provenance, found.limit) == (Verdict.CAUTION, Provenance.MEMORY, 3_000.0)


class TestBranch:
    def test_a_branch_of_unknown_kind_is_not_enough_data(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 2.0, current_a=20, ocpd=OcpdInput(25))
        assert asked(lfp_bank(3), main_run(), panel, at="C11").verdict is Verdict.NOT_ENOUGH_DATA
        assert asked(None, panel, at="C11").verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_family_beyond_its_last_voltage_is_not_enough_data(self):
        panel = CircuitInput("C11", K.BUS_TO_DC_PANEL, 2.0, current_a=20, ocpd=OcpdInput(25, "blade"))
        _, checks = judged(design(lfp_bank(4, in_series=4), panel, v_nominal_v=48.0))
        assert checks["circuit:C11/interrupting"].verdict is Verdict.NOT_ENOUGH_DATA

    def test_the_main_opens_first_where_there_is_one_that_does(self):
        branch = row("C3", "6", 1.2, interrupting_a=3_000.0)
        found = asked(lfp_bank(3), main_run(), branch, at="C3")
        assert found.verdict is Verdict.CAUTION
        assert "main fuse must open first" in found.sentence

    @pytest.mark.parametrize("mains", [(), (bare_main(interrupting_a=6_000.0),), (bare_main(),)])
    def test_without_such_a_main_nothing_opens_first(self, mains):
        """300 Ah: 3 kA is less than the low end of 7.5 kA."""
        found = asked(lfp_bank(3), *mains, row("C3", "6", 1.2, interrupting_a=3_000.0), at="C3")
        assert found.verdict is Verdict.BLOCK
        assert "main fuse" not in found.sentence

    def test_a_main_that_may_not_break_the_upper_end_does_not_open_first(self):
        """400 Ah of lithium give up to 23 kA at a main of 20 kA: a caution, nothing to lean on here."""
        branch = row("C3", "6", 1.2, interrupting_a=3_000.0)
        found = asked(lfp_bank(4), main_run(), branch, at="C3")
        assert (found.verdict, "main fuse" in found.sentence) == (Verdict.BLOCK, False)
        stated = lfp_bank(4, internal_resistance_ohm=0.0035)  # 16 kA
        assert asked(stated, main_run(), branch, at="C3").verdict is Verdict.CAUTION

    def test_as_good_as_the_main_passes(self):
        feed = row("C6", "4/0", 1.5, interrupting_a=20_000.0)
        assert asked(lfp_bank(3), main_run(), feed, at="C6").verdict is Verdict.PASS

    def test_enough_by_a_range_from_memory_is_a_caution(self):
        """300 Ah, 18.1 kA at most: 19 kA is more, but the range is remembered."""
        feed = row("C6", "4/0", 1.5, interrupting_a=19_000.0)
        found = asked(lfp_bank(3), main_run(), feed, at="C6")
        assert (found.verdict, found.provenance) == (Verdict.CAUTION, Provenance.MEMORY)

    def test_more_than_the_policy_is_no_pass_where_the_range_reaches_further(self):
        """400 Ah, 23.6 kA at most: 24 kA is above the policy, but the range is remembered."""
        feed = row("C6", "4/0", 1.5, interrupting_a=24_000.0)
        found = asked(lfp_bank(4), main_run(), feed, at="C6")
        assert (found.verdict, found.provenance) == (Verdict.CAUTION, Provenance.MEMORY)

    def test_exactly_what_can_flow_is_a_caution_without_room(self):
        bank = lfp_bank(1, short_circuit_a=6_000.0)
        found = asked(bank, row("C3", "6", 1.2, interrupting_a=6_000.0), at="C3")
        assert (found.verdict, found.margin) == (Verdict.CAUTION, 0.0)

    def test_one_circuit_alone_is_judged_as_among_all(self):
        branch = row("C3", "6", 1.2, away_m=0.3, interrupting_a=3_000.0)
        asks = design(lfp_bank(3), main_run(), row("C7", "4/0", 0.3), branch)
        _, among = judged(asks)
        _, alone = judge_circuit(asks, branch, ())
        assert (
            next(each for each in alone if each.key.endswith("interrupting"))
            == among["circuit:C3/interrupting"]
        )

    def test_enough_by_the_makers_figure_passes(self):
        """6 kA stated for the bank, at most 5.9 kA at the bus: 10 kA passes, and it is maker's data."""
        bank = lfp_bank(3, short_circuit_a=6_000.0)
        found = asked(bank, main_run(), row("C3", "6", 1.2, interrupting_a=10_000.0), at="C3")
        assert (found.verdict, found.provenance) == (Verdict.PASS, Provenance.MAKER)

    @pytest.mark.parametrize(("rated_a", "verdict"), [(2_500.0, Verdict.CAUTION), (750.0, Verdict.PASS)])
    def test_lead_branches_by_the_table(self, rated_a, verdict):
        """Half of the main by the table: 750 A up to 650 CCA; unknown, 2.5 kA and the sum, near 8 kA."""
        bank = lead(cca_a=300.0) if verdict is Verdict.PASS else lead()
        branch = row("C3", "6", 1.2, interrupting_a=rated_a)
        assert asked(bank, main_run(), branch, at="C3").verdict is verdict

    def test_a_starting_battery_is_not_the_house_bank(self):
        feed = CircuitInput(
            "C8", K.START_BATTERY_TO_DC_DC, 4.0, serves="source:dc", ocpd=OcpdInput(60, "SF30")
        )
        found = asked(lfp_bank(3), feed, at="C8", sources=(dc_dc(30.0),))
        assert (found.verdict, found.limit) == (Verdict.CAUTION, 5_000.0)
        assert "starting battery" in found.sentence
        thick = replace(feed, ocpd=OcpdInput(60, "post"))
        assert asked(None, thick, at="C8", sources=(dc_dc(30.0),)).verdict is Verdict.PASS


class TestLinks:
    def test_a_device_on_each_battery_sees_its_sisters_and_no_main(self):
        """Four of 100 Ah: three sisters, 18.7 kA at most, 7.5 kA at the low end."""
        link = row("C5", "2/0", None, interrupting_a=10_000.0)
        found = asked(lfp_bank(4), main_run(), link, at="C5")
        assert found.verdict is Verdict.CAUTION
        assert found.limit == pytest.approx(18_667, abs=5)
        assert "other 3 batteries" in found.sentence
        assert "main fuse must open first" not in found.sentence

    @pytest.mark.parametrize("quantity", [3, 4])
    def test_less_than_the_low_end_blocks_though_there_is_a_main(self, quantity):
        """Two sisters 5 kA at least, three 7.5 kA; the main of three breaks all they give."""
        link = row("C5", "2/0", None, interrupting_a=2_000.0)
        assert asked(lfp_bank(quantity), main_run(), link, at="C5").verdict is Verdict.BLOCK

    def test_one_sister_of_two(self):
        link = row("C5", "2/0", None, interrupting_a=10_000.0)
        assert "the other battery" in asked(lfp_bank(2), main_run(), link, at="C5").sentence


class TestConductors:
    def test_a_guessed_length_is_not_lengthened_for_a_fault(self):
        run = replace(main_run(), ocpd=None)
        guessed = replace(run, confidence=Confidence.GUESS)
        branch = row("C3", "6", 1.2, away_m=0.2)
        measured = fault_of(lfp_bank(3), run, branch, at="C3")
        assert fault_of(lfp_bank(3), guessed, branch, at="C3").high_a == measured.high_a

    def test_the_negative_counts_for_the_main_too_and_of_two_the_shorter(self):
        """0.3 m of 4/0: 0.0482 mΩ; a second negative of 2 m leads no less current away."""
        bare = fault_of(lfp_bank(3), main_run(), at="C4").high_a
        one = fault_of(lfp_bank(3), main_run(), row("C7", "4/0", 0.3), at="C4").high_a
        longer = replace(row("C7", "4/0", 2.0), id="C7b")
        two = fault_of(lfp_bank(3), main_run(), longer, row("C7", "4/0", 0.3), at="C4").high_a
        assert 14.0 / one - 14.0 / bare == pytest.approx(0.3 * 0.017241 / 107.2, rel=1e-3)
        assert two == pytest.approx(one)

    def test_parallel_cables_halve_their_resistance(self):
        thin, twice = row("C4", "4/0", 1.0), replace(row("C4", "4/0", 1.0), parallel_conductors=2)
        ohm = 0.017241 / 107.2
        one, two = (fault_of(lfp_bank(3), run, at="C4").high_a for run in (thin, twice))
        assert 14.0 / one - 14.0 / two == pytest.approx(ohm / 2, rel=1e-3)

    def test_what_is_not_known_counts_as_no_resistance(self):
        unknown = fault_of(lfp_bank(3), row("C4", "4/0", None), row("C7", "4/0", None), at="C4")
        assert unknown.high_a == pytest.approx(18_667, abs=5)

    def test_one_battery_in_words(self):
        assert (
            fault_of(lfp_bank(1, internal_resistance_ohm=0.007), row("C4", "4/0", None), at="C4").words
            == "2 kA"
        )


class TestVoltage:
    @pytest.mark.parametrize(("nominal_v", "highest_v"), [(12.0, 14.6), (24.0, 29.2), (48.0, 58.4)])
    def test_a_device_is_judged_by_the_batterys_own_highest_voltage(self, nominal_v, highest_v):
        """3.65 V a cell, four cells per 12 V, though nobody typed a profile."""
        bank = lfp_bank(4, in_series=int(nominal_v // 12), maker_absorb_low_v=None, maker_absorb_high_v=None)
        device = row("C11", "6", 2.0, voltage_rating_v=58.0)
        _, checks = judged(replace(design(bank, device, v_nominal_v=nominal_v), controllers=()))
        found = checks["circuit:C11/ocpd_voltage"]
        assert found.limit == pytest.approx(highest_v)
        assert found.verdict is (Verdict.BLOCK if highest_v > 58.0 else Verdict.PASS)

    def test_flooded_batteries_are_equalized(self):
        """2.70 V a cell: 64.8 V of a 48 V bank."""
        device = row("C11", "6", 2.0, voltage_rating_v=58.0)
        bank = lead(100.0, 4, in_series=4)
        _, checks = judged(replace(design(bank, device, v_nominal_v=48.0), controllers=()))
        assert checks["circuit:C11/ocpd_voltage"].limit == pytest.approx(64.8)

    def test_agm_is_equalized_only_where_a_charger_is_set_to(self):
        """2.45 V a cell; an inverter-charger manual prints 15.5 V for one maker."""
        bank = BankInput(Chemistry.AGM, 12.0, 100.0, 2)
        device = row("C11", "6", 2.0, voltage_rating_v=58.0)
        charger = ChargeSourceInput("s", SourceKind.CONVERTER, "charger", 40.0, equalise_on=True)
        volts = []
        for sources in ((), (charger,)):
            _, checks = judged(replace(design(bank, device), controllers=(), sources=sources))
            volts.append(checks["circuit:C11/ocpd_voltage"].limit)
        assert volts == pytest.approx([14.7, 15.5])

    def test_a_makers_range_or_a_profile_that_reaches_higher_counts(self):
        device = row("C11", "6", 2.0, voltage_rating_v=58.0)
        _, checks = judged(replace(design(lfp_bank(2, maker_absorb_high_v=14.8), device), controllers=()))
        assert checks["circuit:C11/ocpd_voltage"].limit == pytest.approx(14.8)


class TestDistance:
    @pytest.mark.parametrize("rule_set", [RuleSet.MARINE_105C, RuleSet.CODE_75C, RuleSet.CODE_90C])
    @pytest.mark.parametrize(
        ("away_m", "verdict"),
        [(0.178, Verdict.PASS), (0.3, Verdict.CAUTION), (0.457, Verdict.CAUTION), (0.458, Verdict.BLOCK)],
    )
    def test_unsheathed_in_a_vehicle(self, rule_set, away_m, verdict):
        """7 in passes; a trailer's and an inverter's manual print 18 in; beyond it blocks."""
        main = row("C4", "4/0", 0.5, away_m=away_m, interrupting_a=20_000.0)
        _, checks = judged(system(main, rule_set=rule_set))
        assert checks["circuit:C4/ocpd_distance"].verdict is verdict

    @pytest.mark.parametrize("rule_set", list(RuleSet))
    def test_sheathed_there_is_nothing_between(self, rule_set):
        main = row("C4", "4/0", 2.0, away_m=2.0, interrupting_a=20_000.0, is_sheathed=True)
        _, checks = judged(system(main, rule_set=rule_set))
        assert checks["circuit:C4/ocpd_distance"].verdict is Verdict.BLOCK

    def test_the_metric_vehicle_standard_has_nothing_between(self):
        """AS/NZS 3001.2: within 200 mm of the battery, or enclosed (quoted)."""
        main = row("C4", "70", 0.5, away_m=0.21, interrupting_a=20_000.0)
        _, checks = judged(system(replace(main, cable_standard="metric"), rule_set=RuleSet.METRIC))
        assert checks["circuit:C4/ocpd_distance"].verdict is Verdict.BLOCK


class TestSettledPaths:
    """What lies in a short circuit's way may be settled beforehand, so that a tablet can tell it."""

    def whole(self):
        device = row("C11", "6", 2.0, interrupting_a=1_000.0)
        return design(lfp_bank(4), bare_main(interrupting_a=30_000.0), device)

    def test_settled_as_worked_out_changes_nothing(self):
        settled = replace(self.whole(), settled_paths=fault_paths(self.whole()))
        assert judged(settled) == judged(self.whole())

    def test_with_nothing_in_the_way_it_is_the_current_at_the_posts(self):
        """400 Ah: 14 V over 0.5645 mΩ (62 A an Ah) are 24.8 kA by hand, at every device."""
        bare = replace(
            self.whole(), settled_paths=tuple((name, 0.0) for name, _ in fault_paths(self.whole()))
        )
        _, checks = judged(bare)
        for at in ("C4", "C11"):
            assert checks[f"circuit:{at}/interrupting"].limit == pytest.approx(24_890, rel=0.01)
