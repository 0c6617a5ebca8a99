"""What chargers on the engine ask of the alternator, each sum done by hand. All equipment is invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing import (
    BankInput,
    ChargeSourceInput,
    Chemistry,
    CircuitInput,
    CircuitKind,
    Provenance,
    SourceKind,
    Verdict,
)
from sizing.core.inputs import InputOutOfRange
from tests.designs import golden, lfp_bank

LEAD = BankInput(Chemistry.FLOODED, 12.0, 100.0, 2, max_discharge_a=100.0)


def dc_dc(name="dcdc", output_a=30.0, **more):
    unit = ChargeSourceInput(
        name,
        SourceKind.DC_DC,
        f"DC-DC {name}",
        output_a,
        absorb_v=14.4,
        alternator_rating_a=150.0,
        input_v=13.5,
    )
    return replace(unit, **more)


def relay(**more):
    base = ChargeSourceInput("relay", SourceKind.RELAY, "relay", 100.0, alternator_rating_a=150.0)
    return replace(base, **more)


def sized(*sources, **changes):
    return sizing.size_system(replace(golden(), sources=sources, circuits=(), **changes))


def judged(*sources, **changes):
    return sized(*sources, **changes).check(f"source:{sources[0].id}/alternator")


class TestInputSide:
    """Output amps × bank volts / (0.9 × alternator volts); a 150 A alternator gives 75 A idling hot."""

    def test_twelve_volts(self):
        """30 × 14.4 / (0.9 × 13.5) = 432 / 12.15 = 35.56 A."""
        check = judged(dc_dc())
        assert check.value == pytest.approx(35.56, abs=0.005)
        assert check.limit == pytest.approx(75.0)
        assert (check.verdict, check.provenance) == (Verdict.PASS, Provenance.SHOP_DEFAULT)

    def test_a_bank_of_24_volts_on_an_alternator_of_12(self):
        """40 A at 28.8 V: 1152 / 12.15 = 94.8 A, over the 75 A; its 40 A of output alone would pass."""
        bank = lfp_bank(4, in_series=2)
        check = judged(dc_dc(output_a=40.0, absorb_v=28.8), bank=bank, v_nominal_v=24.0)
        assert check.value == pytest.approx(94.81, abs=0.01)
        assert check.verdict is Verdict.CAUTION

    def test_a_setting_of_12_volts_on_a_bank_of_24_does_not_halve_the_demand(self):
        """40 A at no less than the bank's 25.6 V: 1024 / 12.15 = 84.3 A; at 14.4 V 47.4 A would pass."""
        check = judged(dc_dc(output_a=40.0), bank=lfp_bank(4, in_series=2), v_nominal_v=24.0)
        assert check.value == pytest.approx(84.28, abs=0.01)
        assert check.verdict is Verdict.CAUTION

    def test_a_bank_of_48_volts_can_ask_for_more_than_there_is(self):
        """40 A at 57.6 V: 2304 / 12.15 = 189.6 A of 150 A."""
        bank = lfp_bank(4, in_series=4)
        check = judged(dc_dc(output_a=40.0, absorb_v=57.6), bank=bank, v_nominal_v=48.0)
        assert check.value == pytest.approx(189.63, abs=0.01)
        assert check.verdict is Verdict.BLOCK

    def test_a_limit_set_on_the_unit_counts(self):
        """15 × 14.4 / 12.15 = 17.78 A."""
        assert judged(dc_dc(limited_to_a=15.0)).value == pytest.approx(17.78, abs=0.005)

    def test_the_volts_of_a_smart_alternator_raise_the_amps(self):
        """30 × 14.4 / (0.9 × 12.4) = 432 / 11.16 = 38.71 A."""
        assert judged(dc_dc(input_v=12.4)).value == pytest.approx(38.71, abs=0.005)


class TestTogether:
    """Two units of 35.56 A each ask for 71.1 A, of 48.3 A each (40.75 A out) for 96.6 A."""

    def test_two_units_on_one_alternator_are_one_load(self):
        first, second = dc_dc("a", 40.0), dc_dc("b", 40.0)
        assert judged(first).verdict is Verdict.PASS  # 40 × 14.4 / 12.15 = 47.41 A
        for name in ("a", "b"):
            check = sized(first, second).check(f"source:{name}/alternator")
            assert check.value == pytest.approx(94.81, abs=0.01)
            assert check.verdict is Verdict.CAUTION

    def test_units_on_two_alternators_are_two_loads(self):
        check = judged(dc_dc("a", 40.0), dc_dc("b", 40.0, alternator_id="second"))
        assert check.value == pytest.approx(47.41, abs=0.005)
        assert check.verdict is Verdict.PASS

    def test_units_kept_apart_never_run_together(self):
        check = judged(dc_dc("a", 40.0), dc_dc("b", 40.0, excluded_with=("a",)))
        assert check.value == pytest.approx(47.41, abs=0.005)
        assert "At most 47.41 A at a time" in check.sentence
        assert "at most 47.41 A at a time ≤" in check.substituted
        assert " + " not in check.substituted
        assert "together" not in check.title

    def test_units_that_run_together_are_added(self):
        """Twice 40 × 14.4 / 12.15 = 47.41 A are 94.81 A."""
        check = judged(dc_dc("a", 40.0), dc_dc("b", 40.0))
        assert "Together 94.81 A" in check.sentence
        assert ") + 40 × 14.4/" in check.substituted
        assert "together" in check.title

    def test_the_sum_at_the_bank_adds_no_units_kept_apart(self):
        """50 A of sun and one of two 40 A units: 90 A at most, of 150 A that three batteries take."""
        check = sized(dc_dc("a", 40.0), dc_dc("b", 40.0, excluded_with=("a",))).check("bank/charge_sum")
        assert check.value == pytest.approx(90.0)
        assert check.sentence.startswith("At most 90 A at a time; the bank takes 150 A.")
        assert " + " not in check.substituted

    def test_a_rating_given_once_serves_both_and_the_lower_counts(self):
        check = judged(dc_dc("a", 20.0, alternator_rating_a=None), dc_dc("b", 20.0, alternator_rating_a=90.0))
        assert check.limit == pytest.approx(45.0)

    def test_nobody_knows_the_alternator(self):
        assert judged(dc_dc(alternator_rating_a=None)).verdict is Verdict.NOT_ENOUGH_DATA


class TestDerating:
    def test_hot_idle_as_measured_wins_over_the_share(self):
        check = judged(dc_dc(alternator_idle_a=40.0))
        assert (check.limit, check.verdict, check.provenance) == (40.0, Verdict.PASS, Provenance.MAKER)
        assert judged(dc_dc(alternator_idle_a=30.0)).verdict is Verdict.CAUTION

    def test_the_shops_own_share(self):
        assert judged(dc_dc(), alternator_idle_fraction=0.4).limit == pytest.approx(60.0)

    def test_what_the_vehicle_draws_is_not_there_to_take(self):
        """75 - 45 = 30 A left for 35.56 A; of 150 - 120 = 30 A it asks for more than there is at all."""
        check = judged(dc_dc(alternator_load_a=45.0))
        assert (check.limit, check.verdict) == (30.0, Verdict.CAUTION)
        assert judged(dc_dc(alternator_load_a=120.0)).verdict is Verdict.BLOCK

    def test_exactly_at_it_there_is_no_room(self):
        """12.15 V × 37.5 A / 14.4 V = 31.640625 A out asks for 37.5 A, which a 75 A alternator spares."""
        check = judged(dc_dc(output_a=31.640625, alternator_rating_a=75.0))
        assert (check.verdict, check.margin) == (Verdict.CAUTION, 0.0)


class TestRelayIntoLithium:
    def test_it_blocks_where_the_bank_takes_more_than_the_alternator_spares(self):
        """Three batteries take 150 A; a 150 A alternator spares 75 A idling hot."""
        check = judged(relay())
        assert (check.value, check.limit, check.verdict) == (150.0, 75.0, Verdict.BLOCK)
        assert "DC-DC" in check.sentence

    def test_an_unknown_acceptance_is_not_enough_data(self):
        assert judged(relay(), bank=lfp_bank(3, max_charge_a=None)).verdict is Verdict.NOT_ENOUGH_DATA

    def test_a_stated_limit_is_judged_like_any_charger(self):
        check = judged(relay(limited_to_a=60.0))
        assert (check.value, check.verdict) == (60.0, Verdict.PASS)

    def test_the_bank_gets_all_the_alternator_gives(self):
        """150 A of alternator into one battery that takes 50 A, whatever is printed on the relay."""
        check = sized(relay(output_a=40.0), bank=lfp_bank(1)).check("bank/charge_sum")
        assert check.verdict is Verdict.BLOCK
        assert check.value >= 150.0

    @pytest.mark.parametrize(("ratings", "rating_a"), [((150.0,), 150.0), ((150.0, 120.0, None), 120.0)])
    def test_the_rating_stated_at_a_sister_is_its_alternators_too(self, ratings, rating_a):
        """The relay lets through all the alternator gives, 20 A come from each sister, 50 A from the sun.

        One battery takes 50 A; of two ratings of one alternator the least is believed.
        """
        sisters = tuple(
            dc_dc(f"sister {place}", 20.0, alternator_rating_a=one) for place, one in enumerate(ratings)
        )
        unrated = relay(output_a=40.0, alternator_rating_a=None)
        check = sized(unrated, *sisters, bank=lfp_bank(1)).check("bank/charge_sum")
        assert check.verdict is Verdict.BLOCK
        assert check.value == pytest.approx(rating_a + 20.0 * len(sisters) + 50.0)

    def test_the_rating_of_another_alternator_tells_nothing(self):
        other = dc_dc("other", 20.0, alternator_id="second")
        unrated = relay(output_a=40.0, alternator_rating_a=None)
        check = sized(unrated, other, bank=lfp_bank(4)).check("bank/charge_sum")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA

    def test_its_cable_carries_what_a_sisters_alternator_gives(self):
        """150 A of alternator through a relay marked 100 A: the cable from it is built for 150 A."""
        cable = CircuitInput("C9", CircuitKind.DC_DC_TO_BUS, 1.5, serves="source:relay")
        unrated = relay(alternator_rating_a=None)
        design = replace(golden(), sources=(unrated, dc_dc("sister", 20.0)), circuits=(cable,))
        (row,) = sizing.size_system(design).circuits
        assert row.continuous_a == pytest.approx(150.0)

    def test_it_has_no_profile_and_no_stop(self):
        result = sized(relay())
        assert result.check("source:relay/profile").verdict is Verdict.CAUTION
        assert result.check("source:relay/cold_charge").verdict is Verdict.BLOCK

    def test_into_lead_it_is_the_usual_wiring(self):
        """Lead takes what its resistance lets it: the relay's own 60 A of 75 A."""
        result = sized(relay(output_a=60.0), bank=LEAD)
        assert result.check("source:relay/alternator").verdict is Verdict.PASS
        assert result.check("source:relay/profile").verdict is Verdict.PASS


class TestThrough:
    """A generator on an inverter-charger charges through it."""

    GENERATOR = ChargeSourceInput("gen", SourceKind.GENERATOR, "generator", 60.0, shore_hours_per_day=2.0)
    CHARGER = ChargeSourceInput("inv", SourceKind.INVERTER_CHARGER, "inverter-charger", 100.0, absorb_v=14.4)

    def test_it_counts_once(self):
        alone = sized(self.GENERATOR, self.CHARGER, controllers=(), strings=(), panels=())
        assert alone.check("bank/charge_sum").value == pytest.approx(160.0)
        through = sized(
            replace(self.GENERATOR, through="inv"), self.CHARGER, controllers=(), strings=(), panels=()
        )
        assert through.check("bank/charge_sum").value == pytest.approx(100.0)
        assert not [check for check in through.checks if check.subject == "source:gen"]

    def test_two_that_feed_each_other_do_not_vanish(self):
        result = sized(
            replace(self.GENERATOR, through="inv"),
            replace(self.CHARGER, through="gen"),
            controllers=(),
            strings=(),
            panels=(),
        )
        assert result.check("bank/charge_sum").value == pytest.approx(160.0)

    def test_its_energy_is_what_the_charger_takes(self):
        """60 A generator through a charger limited to 40 A: 40 × 13.6 × 2 = 1088 Wh."""
        charger = replace(self.CHARGER, limited_to_a=40.0)
        figures = {f.key: f.value for f in sized(replace(self.GENERATOR, through="inv"), charger).figures}
        assert figures["source:gen/shore"] == pytest.approx(1088.0)

    @pytest.mark.parametrize("name", ["gen", "nobody"])
    def test_a_name_that_is_no_other_source_is_refused(self, name):
        with pytest.raises(InputOutOfRange, match=r"sources\[0\].through"):
            sized(replace(self.GENERATOR, through=name), self.CHARGER)

    def test_a_transfer_switch_leaves_the_larger(self):
        either = sized(
            replace(self.GENERATOR, excluded_with=("inv",)),
            self.CHARGER,
            controllers=(),
            strings=(),
            panels=(),
        )
        assert either.check("bank/charge_sum").value == pytest.approx(100.0)


class TestCompensation:
    """Left on: absorption + k·(25 - T) against the bank's highest, 14.6 V per 12 V (the maker's range)."""

    @pytest.mark.parametrize(
        ("v_nominal_v", "in_series", "per_12_v"), [(12.0, 1, 1.0), (24.0, 2, 2.0), (48.0, 4, 4.0)]
    )
    def test_24_mv_per_kelvin_overcharge_lithium(self, v_nominal_v, in_series, per_12_v):
        """14.2 + 0.024 × (25 - (-28)) = 15.472 V; the same per cell at 24 and 48 V."""
        unit = dc_dc(absorb_v=14.2 * per_12_v, temp_comp_mv_per_c=-24.0 * per_12_v)
        bank = lfp_bank(4, in_series=in_series)
        check = sized(unit, bank=bank, v_nominal_v=v_nominal_v).check("source:dcdc/compensation")
        assert check.value == pytest.approx(15.472 * per_12_v)
        assert check.limit == pytest.approx(14.6 * per_12_v)
        assert check.verdict is Verdict.BLOCK

    def test_within_the_range_it_still_is_a_caution(self):
        """14.2 + 0.024 × (25 - 15) = 14.44 V of 14.6 V."""
        check = sized(dc_dc(absorb_v=14.2, temp_comp_mv_per_c=24.0), bank=lfp_bank(3, tmin_c=15.0)).check(
            "source:dcdc/compensation"
        )
        assert check.value == pytest.approx(14.44)
        assert check.verdict is Verdict.CAUTION

    def test_a_controllers_counts_too(self):
        design = golden()
        unit = replace(design.controllers[0], temp_comp_mv_per_c=-24.0)
        check = sizing.size_system(replace(design, controllers=(unit,))).check("controller:A/compensation")
        assert check.verdict is Verdict.BLOCK

    def test_switched_off_or_on_lead_there_is_nothing_to_say(self):
        off = sized(dc_dc(temp_comp_mv_per_c=0.0))
        lead = sized(dc_dc(temp_comp_mv_per_c=-24.0), bank=LEAD)
        assert not [c for result in (off, lead) for c in result.checks if c.key.endswith("/compensation")]

    def test_nobody_knows_how_cold_it_gets(self):
        check = sized(
            dc_dc(temp_comp_mv_per_c=24.0),
            tmin_travel_c=None,
            tmin_storage_c=None,
            bank=lfp_bank(3, is_inside=False),
        ).check("source:dcdc/compensation")
        assert check.verdict is Verdict.NOT_ENOUGH_DATA


def test_a_relay_of_unknown_amps_makes_what_is_too_much_no_better():
    """Two units take 84 A of an alternator of 60 A; a relay beside them, its amps not known, only adds."""
    units = (
        ChargeSourceInput("a", SourceKind.DC_DC, "a", 10.0),
        ChargeSourceInput("b", SourceKind.DC_DC, "b", 60.0, alternator_rating_a=60.0),
    )
    relay = ChargeSourceInput("r", SourceKind.RELAY, "relay", 10.0)
    bank = BankInput(Chemistry.LFP, 12.0, 100.0, 4)
    for sources in (units, (*units, relay)):
        result = sizing.size_system(replace(golden(), circuits=(), bank=bank, sources=sources))
        assert result.check("source:b/alternator").verdict is Verdict.BLOCK
    few = (replace(units[0], alternator_rating_a=150.0), relay)
    result = sizing.size_system(replace(golden(), circuits=(), bank=bank, sources=few))
    assert result.check("source:a/alternator").verdict is Verdict.NOT_ENOUGH_DATA


def test_a_small_lithium_bank_does_not_hold_back_a_relay():
    """50 A is what its maker allows, not what flows: the alternator of 150 A gives what it has."""
    check = judged(relay(), bank=lfp_bank(1))
    assert (check.value, check.limit, check.verdict) == (150.0, 75.0, Verdict.BLOCK)


def test_the_sum_of_charge_is_not_known_behind_a_relay_on_an_unknown_alternator():
    """Controller 50 A and relay 80 A are within the 150 A of the bank, and nobody knows the alternator."""
    free = relay(output_a=80.0, alternator_rating_a=None)
    assert sized(free).check("bank/charge_sum").verdict is Verdict.NOT_ENOUGH_DATA
    assert sized(free, bank=lfp_bank(2)).check("bank/charge_sum").verdict is Verdict.BLOCK  # 130 A on 100 A
    assert sized(free, bank=LEAD).check("bank/charge_sum").verdict is not Verdict.NOT_ENOUGH_DATA


def test_the_vehicle_takes_more_than_the_alternator_spares():
    check = judged(dc_dc(output_a=1.0, alternator_rating_a=100.0, alternator_load_a=80.0))
    assert "max(0, 50 - 80) = 0 A" in check.substituted
