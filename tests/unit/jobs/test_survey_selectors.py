"""How complete a survey is, which facts are guesses, and what stands beside its fields."""

from __future__ import annotations

import pytest

from jobs.design import survey_preview
from jobs.models import (
    ConfidenceChoice,
    Customer,
    DesignSource,
    ExistingItem,
    Job,
    LoadItem,
    Obstacle,
    Survey,
    Vehicle,
    WireLeg,
)
from jobs.survey.read import completeness, guess_label, guesses, survey_for_page


@pytest.fixture
def survey(golden_job):
    return golden_job.survey


@pytest.fixture
def blank(shop):
    owner = Customer.objects.create(shop=shop, name="Ann Example")
    vehicle = Vehicle.objects.create(shop=shop, customer=owner, kind=Vehicle.Kind.CLASS_C)
    return Survey.objects.create(job=Job.objects.create(shop=shop, vehicle=vehicle, number="1", title="New"))


def missing(survey, stage):
    """Return the names of what a stage still asks for."""
    found = next(one for one in completeness(survey) if one.stage == stage)
    return {gap.label for gap in found.missing}


class TestCompleteness:
    def test_the_golden_survey_is_whole(self, survey):
        stages = completeness(survey)
        assert [stage.stage for stage in stages] == ["S", "Q", "I"]
        assert all(stage.is_complete and not stage.guessed for stage in stages)
        assert all(stage.filled == stage.required > 0 for stage in stages)

    def test_a_new_survey_asks_for_nearly_all(self, blank):
        string_plan, quote, install = completeness(blank)
        assert {"Roof length", "Loads", "Places and months", "Route of the home run (C2)"} <= missing(
            blank, "S"
        )
        assert {"GVWR", "Roof material", "Photos taken", "Generator"} <= missing(blank, "Q")
        assert "Every wire leg measured" in missing(blank, "I")
        assert string_plan.fraction < 0.25
        assert not quote.is_complete
        assert not install.is_complete

    def test_values_nobody_has_looked_at_count_as_guesses(self, blank):
        guessed = {gap.label for stage in completeness(blank) for gap in stage.guessed}
        assert {"Deck thickness", "Rafter spacing", "System voltage", "Hottest air"} <= guessed

    def test_a_missing_fact_leads_to_its_field(self, blank):
        gap = next(gap for gap in completeness(blank)[0].missing if gap.label == "Roof length")
        assert gap.url == f"/jobs/{blank.job_id}/survey/roof/#id_roof_length_m"

    def test_unknown_roof_material_is_missing(self, survey):
        survey.material = Survey.Material.UNKNOWN
        assert missing(survey, "Q") == {"Roof material"}

    def test_a_guessed_leg_is_enough_for_a_string_plan_but_not_for_install_day(self, survey):
        survey.wire_legs.filter(circuit="C2").update(confidence=ConfidenceChoice.GUESS)
        assert missing(survey, "S") == set()
        assert missing(survey, "I") == {"Every wire leg measured"}
        assert "Route of the home run (C2)" in {gap.label for gap in completeness(survey)[0].guessed}

    def test_equipment_looked_for_and_not_there_is_known(self, survey):
        survey.existing_items.filter(kind=ExistingItem.Kind.SHORE).delete()
        assert missing(survey, "Q") == {"Shore service with its amps"}
        survey.absent_kinds.append(ExistingItem.Kind.SHORE)
        assert missing(survey, "Q") == set()

    def test_a_battery_without_its_chemistry_is_missing(self, survey):
        survey.existing_items.filter(kind=ExistingItem.Kind.BATTERY).update(chemistry="")
        assert missing(survey, "Q") == {"Battery now: chemistry, volts, amp-hours"}

    def test_the_tow_wire_is_asked_for_only_where_something_tows(self, survey):
        survey.existing_items.filter(kind=ExistingItem.Kind.TOW_WIRE).delete()
        assert "Tow charge wire: size, length, fuse" in missing(survey, "Q")
        survey.job.vehicle.kind = Vehicle.Kind.CLASS_A
        assert "Tow charge wire: size, length, fuse" not in missing(survey, "Q")

    def test_the_alternator_is_asked_for_when_the_design_charges_from_it(self, survey):
        part = survey.job.shop.parts.get(sku="D40")
        DesignSource.objects.create(design=survey.job.designs.get(), part=part)
        assert missing(survey, "Q") == {"Alternator with its amps"}

    @pytest.mark.parametrize(("mass_kg", "is_asked"), [(59, False), (61, True)])
    def test_the_wheelbase_is_asked_for_with_a_heavy_bank(self, survey, mass_kg, is_asked):
        survey.existing_items.filter(kind=ExistingItem.Kind.BATTERY).update(mass_kg=mass_kg)
        survey.job.vehicle.wheelbase_m = None
        assert ("Wheelbase, or hitch to axle" in missing(survey, "Q")) is is_asked

    def test_connectors_of_leads_that_stay_are_asked_for_before_install(self, survey):
        panel = ExistingItem.objects.create(survey=survey, kind=ExistingItem.Kind.PANEL)
        assert missing(survey, "I") == {"Connectors on leads that stay"}
        ExistingItem.objects.filter(pk=panel.pk).update(connectors="MC style, both ends, same maker")
        assert missing(survey, "I") == set()

    def test_a_soft_spot_needs_its_reading(self, survey):
        survey.soft_spots.create(x_m=1, y_m=1)
        assert missing(survey, "Q") == {"Moisture reading of each soft spot"}

    def test_a_trailer_needs_no_odometer_photo(self, survey):
        survey.photos_taken.remove("odometer")
        assert missing(survey, "Q") == set()
        survey.photos_taken.remove("vin")
        assert missing(survey, "Q") == {"Photos taken"}

    def test_it_asks_the_database_the_same_whatever_the_number_of_rows(
        self, survey, alice, django_assert_num_queries
    ):
        LoadItem.objects.bulk_create(
            LoadItem(survey=survey, name=f"Row {n}", power_w=1, hours_per_day=1) for n in range(1000)
        )
        with django_assert_num_queries(8):
            completeness(survey_for_page(alice, survey.job_id))


class TestGuesses:
    def test_words_are_those_of_the_sizing_face(self, survey):
        survey.guessed_fields = ["roof.deck", "site.tmin_storage"]
        survey.wire_legs.filter(circuit="C2", place="drop").update(confidence=ConfidenceChoice.GUESS)
        assert guesses(survey) == {"roof.deck", "site.tmin_storage", "circuit:C2.run_len"}

    def test_a_usual_size_on_the_roof_makes_the_roofs_things_a_guess(self, survey):
        survey.obstacles.filter(kind=Obstacle.Kind.VENT).update(is_guess=True)
        assert guesses(survey) == {"obstacles"}

    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("roof.deck", "deck thickness"),
            ("weight.label", "cargo label"),
            ("circuit:C2.run_len", "length of C2"),
            ("loads", "appliances"),
            ("legs", "places and months"),
            ("something.else", "something else"),
        ],
    )
    def test_a_guess_has_trade_words(self, name, words):
        assert guess_label(name) == words


class TestBeside:
    def test_a_days_use_follows_from_the_rows(self, survey):
        # By hand: E_day = E_dc/0.97 + E_ac/0.88 + 25 W × 8 h (energy balance; efficiencies common practice).
        loads = list(survey.loads.all())
        dc = sum(x.power_w * x.duty_fraction * x.hours_per_day * x.quantity for x in loads if x.bus == "dc")
        ac = sum(x.power_w * x.duty_fraction * x.hours_per_day * x.quantity for x in loads if x.bus == "ac")
        energy = survey_preview.of_part("loads", survey, None, units="imperial")["energy"]
        assert energy.e_day_wh == pytest.approx(dc / 0.97 + ac / 0.88 + 200)
        assert energy.e_day_wh == pytest.approx(3143.5, abs=10)  # the same sum on rows rounded by hand

    def test_the_hungriest_appliance_stands_first_with_its_caution(self):
        rows = [
            LoadItem(name="LED lights", power_w=25, hours_per_day=5),
            LoadItem(
                name="Absorption fridge on its 12 V element", power_w=200, duty_fraction=0.8, hours_per_day=24
            ),
        ]
        first, second = survey_preview.load_shares(rows)
        assert (first.energy_wh, second.energy_wh) == (3840, 125)
        assert "Never size a bank to this" in first.caution
        assert first.fraction + second.fraction == pytest.approx(1)

    def test_a_guessed_leg_makes_its_circuit_a_quarter_longer(self):
        legs = [
            WireLeg(circuit="C2", place="drop", length_m=2, confidence="measured"),
            WireLeg(circuit="C2", place="floor", length_m=4, confidence="guess"),
            WireLeg(circuit="C3", place="cabinet", length_m=1.2, confidence="measured"),
        ]
        home_run, to_bus = survey_preview.wire_totals(legs, Vehicle.Kind.CLASS_B)
        assert (home_run.run_len_m, home_run.counted_m, home_run.is_guess) == (6, 7.5, True)
        assert (to_bus.run_len_m, to_bus.counted_m, to_bus.is_guess) == (1.2, 1.2, False)

    def test_the_sketch_shows_things_that_are_only_typed(self, survey):
        thing = Obstacle(
            kind="skylight", label="Shower dome", x_m=5, y_m=1, length_m=0.76, width_m=0.56, height_m=0.1
        )
        svg = survey_preview.sketch(survey, [thing], units="imperial")
        assert "Shower dome" in svg
        assert "Bath vent" not in svg
        assert "Bath vent" in survey_preview.sketch(survey, units="imperial")

    def test_there_is_no_sketch_before_the_roof_is_measured(self, blank):
        assert survey_preview.sketch(blank, units="imperial") == ""
