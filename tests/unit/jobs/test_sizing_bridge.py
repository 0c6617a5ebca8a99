"""Records become the question to the sizing face: numbers checked against the record, worked by hand."""

from __future__ import annotations

import dataclasses

import pytest

import sizing
from jobs.engine.as_built import AsBuiltKeyUnknown
from jobs.engine.stored import design_in_full
from jobs.engine.system import (
    built_input,
    guesses_of,
    input_from_json,
    input_to_json,
    people_kg,
    question_of,
    result_from_json,
    result_to_json,
    system_basis,
    system_input,
)
from jobs.models import (
    ChargerSheet,
    ControllerSheet,
    Design,
    DesignCircuit,
    DesignInverter,
    DesignSource,
    ExistingItem,
    InverterSheet,
    PanelSheet,
    Shop,
    SizingRun,
    Survey,
)
from jobs.parts.power_inputs import DesignIncomplete
from jobs.roof.read import roof_state

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the first design of the golden job, with everything it asks for."""
    return design_in_full(golden_job.designs.get().pk)


def asked(design: Design, **as_built) -> sizing.SystemInput:
    """Return the question, read afresh."""
    full = design_in_full(design.pk)
    planned = system_input(roof_state(full), system_basis(full))
    return built_input(accepted(planned), as_built) if as_built else planned


def accepted(planned: sizing.SystemInput) -> SizingRun:
    """Return a question as it would be stored when it is accepted, every cable chosen by hand."""
    result = dataclasses.replace(sizing.size_system(planned), circuits=())
    return SizingRun(inputs=input_to_json(planned), result=result_to_json(result))


def test_the_sheet_goes_in_as_fractions(design):
    panel = asked(design).panels[0].panel
    assert (panel.pmp_w, panel.voc_v, panel.isc_a) == (200.0, 24.3, 10.2)
    assert panel.beta_voc_fraction_per_c == pytest.approx(-0.0028)  # -0.28 %/°C
    assert panel.gamma_pmp_fraction_per_c == pytest.approx(-0.0036)
    assert panel.alpha_isc_fraction_per_c == pytest.approx(0.0005)


def test_strings_keep_the_order_of_plugging(design):
    panel = design.panels.get(number=1)
    panel.position_in_string = 9
    panel.save()
    assert [string.panel_ids for string in asked(design).strings] == [("2", "1"), ("3", "4")]


def test_what_charges_and_what_is_added_is_named_once(design):
    # 4 × 11.5 + 3 × 12.7 + 1.8 + 9.0 + 2.7 + 18.5 = 116.1; two batteries of 59 kg go: 57.1 kg net.
    result = sizing.size_system(asked(design))
    assert result.weight.added_kg == pytest.approx(116.1)
    assert result.weight.net_added_kg == pytest.approx(57.1)


def test_a_bank_that_is_there_already_adds_no_weight(design):
    design.bank.is_new = False
    design.bank.save()
    assert sizing.size_system(asked(design)).weight.net_added_kg == pytest.approx(57.1 - 38.1)


def test_heaters_of_all_batteries_add_up(design):
    """Three batteries of 40 W each: 120 W."""
    sheet = design.bank.part.battery_sheet
    sheet.is_heated, sheet.heater_w = True, 40.0
    sheet.save()
    assert (design.bank.quantity, asked(design).bank.heater_w) == (3, 120.0)


def test_people_ride_in_a_motorhome_and_not_in_a_trailer(design):
    survey, vehicle = design.job.survey, design.job.vehicle
    survey.people_on_board_kg = None
    assert people_kg(survey, vehicle) == 0.0
    vehicle.kind = vehicle.Kind.CLASS_C
    assert people_kg(survey, vehicle) == 136.0  # two of 68 kg
    survey.people_on_board_kg = 150.0
    assert people_kg(survey, vehicle) == 150.0


def test_a_guessed_path_counts_a_quarter_longer_and_is_named(design):
    design.circuits.filter(label="C2").update(confidence="guess")
    system = asked(design)
    home_run = next(circuit for circuit in system.circuits if circuit.id == "C2")
    assert (home_run.run_len_m, home_run.confidence) == (7.2, sizing.Confidence.GUESS)  # as somebody gave it
    assert "circuit:C2.run_len" in system.guesses
    result = sizing.size_system(system)
    row = next(each for each in result.circuits if each.id == "C2")
    assert (row.given_len_m, row.run_len_m) == (7.2, pytest.approx(9.0))  # 7.2 × 1.25 = 9.0, by the engine
    told = result.check("circuit:C2/run_len").sentence
    assert "‹7.2 m|23.6 ft› given, ‹9 m|29.5 ft› counted" in told  # 9.0/0.3048 = 29.53
    assert row.note.split("; ")[0] == "length is a guess"  # its two lengths are the row's own


@pytest.mark.parametrize(("version", "length_m"), [("1", 7.2), ("2", 7.2), ("3", 7.2), ("4", 9.0)])
def test_a_path_stored_by_an_older_engine_is_not_lengthened_twice(design, version, length_m):
    """Engines before 4 were handed guessed paths a quarter longer: 7.2 × 1.25 = 9.0 m."""
    design.circuits.filter(label="C2").update(run_len_m=9.0, confidence="guess")
    asked_json = input_to_json(asked(design))
    run = SizingRun(design=design, inputs=asked_json, result={}, engine_version=version)
    lengths = {one.id: one.run_len_m for one in question_of(run).circuits}
    assert lengths["C2"] == pytest.approx(length_m)
    measured = next(one for one in asked_json["circuits"] if one["id"] == "C3")
    assert lengths["C3"] == measured["run_len_m"]


def test_a_measured_path_stays_and_is_no_guess(design):
    system = asked(design)
    assert next(circuit for circuit in system.circuits if circuit.id == "C2").run_len_m == 7.2
    assert "circuit:C2.run_len" not in system.guesses


def test_survey_words_for_guesses_become_those_of_the_face(design):
    survey = design.job.survey
    survey.guessed_fields = ["battery.tmin", "roof.rafter_spacing", "site.tmin_storage", "circuit:C2.run_len"]
    assert guesses_of(survey) == {"bank.tmin", "roof.rafters", "site.tmin_storage"}


def test_what_nobody_weighed_is_a_guess(design):
    design.job.survey.customer_cargo_kg = None
    assert "weight" in guesses_of(design.job.survey)


@pytest.mark.parametrize("warm", [None, False, True])
@pytest.mark.parametrize(("inside", "surveyed"), [(True, None), (False, None), (True, -2.0)])
def test_the_bank_is_told_as_surveyed_and_how_it_is_stored(design, inside, surveyed, warm):
    """What nobody measured is not filled in here: the engine takes it as cold as its storage."""
    Survey.objects.filter(job=design.job_id).update(
        battery_is_inside=inside, battery_tmin_c=surveyed, battery_is_kept_warm=warm
    )
    bank = asked(design).bank
    assert (bank.is_inside, bank.tmin_c, bank.is_kept_warm) == (inside, surveyed, warm)


def test_a_stop_is_credited_only_where_a_sheet_or_the_survey_states_it(design):
    source, controller = design.sources.get(), design.controllers.get()
    ChargerSheet.objects.filter(part=source.part).update(has_low_t_stop=False)
    ControllerSheet.objects.filter(part=controller.part).update(has_low_t_stop=False)
    InverterSheet.objects.filter(part=design.inverter.part).update(is_charger=True, charge_a=80)
    bare = asked(design)
    assert {each.low_t_stop_c for each in (*bare.sources, *bare.controllers)} == {None}
    ChargerSheet.objects.filter(part=source.part).update(has_low_t_stop=True)
    ControllerSheet.objects.filter(part=controller.part).update(low_t_stop_c=1.0)
    InverterSheet.objects.filter(part=design.inverter.part).update(has_low_t_stop=True, low_t_stop_c=-2.0)
    stated = asked(design)
    assert stated.controllers[0].low_t_stop_c == 1.0
    assert {each.id: each.low_t_stop_c for each in stated.sources} == {str(source.pk): 5.0, "inverter": -2.0}
    DesignSource.objects.filter(pk=source.pk).update(low_t_stop_c=3.0)
    assert asked(design).sources[0].low_t_stop_c == 3.0


def test_what_chargers_hang_on_reaches_the_engine(design):
    """A generator through the inverter-charger, a transfer switch, compensation left on."""
    InverterSheet.objects.filter(part=design.inverter.part).update(is_charger=True, charge_a=80)
    DesignInverter.objects.filter(design=design).update(either_or="Transfer", temp_comp_mv_per_c=-17)
    source = design.sources.get()
    DesignSource.objects.filter(pk=source.pk).update(either_or=" transfer ", temp_comp_mv_per_c=-19)
    design.controllers.update(temp_comp_mv_per_c=-23)
    item = ExistingItem.objects.create(
        survey=design.job.survey, kind="generator", name="Generator", rating_a=29, temp_comp_mv_per_c=-31
    )
    generator = DesignSource.objects.create(design=design, existing=item, label="Gen", through="Inverter")
    found = asked(design)
    by_id = {each.id: each for each in found.sources}
    assert by_id[str(generator.pk)].through == "inverter"
    assert by_id[str(generator.pk)].temp_comp_mv_per_c == -31
    assert by_id["inverter"].excluded_with == (str(source.pk),)
    assert by_id[str(source.pk)].excluded_with == ("inverter",)
    assert (by_id[str(source.pk)].temp_comp_mv_per_c, by_id["inverter"].temp_comp_mv_per_c) == (-19, -17)
    assert found.controllers[0].temp_comp_mv_per_c == -23


def test_a_generator_makes_line_voltage_and_charges_through_what_is_there(design):
    """Nobody says what it feeds: the inverter-charger, else the converter; its own name: by itself."""
    converter = design.sources.get()
    item = ExistingItem.objects.create(survey=design.job.survey, kind="generator", name="Gen", rating_a=29)
    generator = DesignSource.objects.create(design=design, existing=item, label="Gen")

    def feeds() -> str:
        return {each.id: each for each in asked(design).sources}[str(generator.pk)].through

    assert feeds() == str(converter.pk)
    InverterSheet.objects.filter(part=design.inverter.part).update(is_charger=True, charge_a=80)
    assert feeds() == "inverter"
    DesignSource.objects.filter(pk=generator.pk).update(through="gen")
    assert feeds() == ""


def test_a_charger_it_feeds_that_is_gone_leaves_it_counted_by_itself(design):
    DesignSource.objects.filter(design=design).update(through="Somebody else")
    assert asked(design).sources[0].through == ""


def test_a_relay_that_was_found_is_a_relay_on_the_surveyed_alternator(design):
    survey = design.job.survey
    ExistingItem.objects.create(survey=survey, kind="alternator", name="Big", rating_a=157, idle_hot_a=83)
    relay = ExistingItem.objects.create(survey=survey, kind="isolator", name="Relay", rating_a=101)
    record = DesignSource.objects.create(design=design, existing=relay, label="Relay", alternator_load_a=37)
    found = next(each for each in asked(design).sources if each.id == str(record.pk))
    assert (found.kind, found.alternator_id) == (sizing.SourceKind.RELAY, "")
    assert (found.alternator_rating_a, found.alternator_idle_a, found.alternator_load_a) == (157, 83, 37)
    DesignSource.objects.filter(pk=record.pk).update(
        alternator_rating_a=163, alternator_idle_a=89, alternator="Second "
    )
    found = next(each for each in asked(design).sources if each.id == str(record.pk))
    assert (found.alternator_id, found.alternator_rating_a, found.alternator_idle_a) == ("second", 163, 89)


def test_two_alternators_are_told_apart_by_name(design):
    survey = design.job.survey
    for name, amps in (("Left", 103), ("Right", 107)):
        ExistingItem.objects.create(survey=survey, kind="alternator", name=name, rating_a=amps)
    relay = ExistingItem.objects.create(survey=survey, kind="dc_dc", name="DC-DC", rating_a=41)
    record = DesignSource.objects.create(design=design, existing=relay, label="DC-DC", alternator="right")
    by_id = {each.id: each for each in asked(design).sources}
    assert by_id[str(record.pk)].alternator_rating_a == 107
    DesignSource.objects.filter(pk=record.pk).update(alternator="")
    assert {each.id: each for each in asked(design).sources}[str(record.pk)].alternator_rating_a is None


def test_the_shop_says_what_it_holds_itself_to(design):
    policy = sizing.PolicyInput(50_000.0, 0.95, 0.4, 0.15)
    Shop.objects.filter(pk=design.job.shop_id).update(
        lithium_main_interrupt_a=50_000.0,
        cold_volts_fraction=0.95,
        foot_use_fraction=0.4,
        cargo_left_fraction=0.15,
    )
    assert asked(design).policy == policy


def test_a_battery_sheet_speaks_of_one_battery(design):
    """Three side by side give three times the stated current; resistance and cranking amps stay of one."""
    sheet = design.bank.part.battery_sheet
    sheet.short_circuit_a, sheet.internal_resistance_mohm, sheet.cca_a = 2_000.0, 3.5, 701.0
    sheet.save()
    bank = asked(design).bank
    assert (bank.quantity, bank.in_series) == (3, 1)
    assert bank.short_circuit_a == 6_000.0
    assert (bank.internal_resistance_ohm, bank.cca_a) == (pytest.approx(0.0035), 701.0)


def test_more_batteries_than_planned_give_more_into_a_short_circuit(design):
    """Stated 2 kA each: three were planned for 6 kA, five were built in for 10 kA."""
    sheet = design.bank.part.battery_sheet
    sheet.short_circuit_a = 2_000.0
    sheet.save()
    assert asked(design, **{"bank.quantity": 5}).bank.short_circuit_a == pytest.approx(10_000.0)


def test_the_shop_says_what_an_alternator_gives_idling_hot(design):
    Shop.objects.filter(pk=design.job.shop_id).update(alternator_idle_fraction=0.37)
    assert asked(design).alternator_idle_fraction == 0.37


def test_circuits_stand_in_the_order_of_the_schedule(design):
    DesignCircuit.objects.create(design=design, kind="C2", label="C2B", run_len_m=1.0)
    order = [circuit.id for circuit in asked(design).circuits]
    assert order[:4] == ["C1", "C2", "C2B", "C3"]
    assert order[-2:] == ["C10", "C11"]


def test_a_circuit_of_something_that_is_gone_belongs_to_nothing(design):
    design.circuits.filter(label="C10").update(serves="source:99")
    assert next(circuit for circuit in asked(design).circuits if circuit.id == "C10").serves == ""


def test_a_kept_charger_is_counted_with_what_was_found(design):
    item = ExistingItem.objects.create(
        survey=design.job.survey, kind="converter", name="Old one", rating_a=55, equalises=True
    )
    DesignSource.objects.create(design=design, existing=item, label="Old one")
    found = next(source for source in asked(design).sources if source.name == "Old one")
    assert (found.kind, found.output_a, found.equalise_on, found.absorb_v, found.mass_kg) == (
        sizing.SourceKind.CONVERTER,
        55,
        True,
        None,
        0.0,
    )


def test_a_kept_charger_of_unknown_amps_cannot_be_asked_about(design):
    item = ExistingItem.objects.create(survey=design.job.survey, kind="converter", name="Old one")
    DesignSource.objects.create(design=design, existing=item)
    with pytest.raises(DesignIncomplete, match=r"Old one.*rated amps"):
        asked(design)


def test_an_inverter_charger_charges_too_once_its_amps_are_known(design):
    InverterSheet.objects.filter(part=design.inverter.part).update(is_charger=True)
    assert "inverter" not in {source.id for source in asked(design).sources}
    InverterSheet.objects.filter(part=design.inverter.part).update(charge_a=80)
    charger = next(source for source in asked(design).sources if source.id == "inverter")
    assert (charger.output_a, charger.kind, charger.mass_kg) == (80, sizing.SourceKind.INVERTER_CHARGER, 0.0)


def test_a_part_without_a_sheet_is_named(design):
    PanelSheet.objects.filter(part=design.panels.first().part).delete()
    with pytest.raises(DesignIncomplete, match="Rigid panel P200"):
        asked(design)


def test_an_unmeasured_roof_is_none(design):
    survey = design.job.survey
    survey.roof_length_m = None
    survey.save()
    assert asked(design).roof is None


def test_panels_without_feet_are_held_by_glue_alone(design):
    design.panels.update(feet=0)
    roof = asked(design).roof
    assert roof.is_bonded_only
    assert roof.bond_area_m2 == pytest.approx(4 * 1.49 * 0.67)


def test_question_and_answer_come_back_as_they_went(design):
    system = asked(design)
    assert input_from_json(input_to_json(system)) == system
    result = sizing.size_system(system)
    assert result_from_json(result_to_json(result)) == result


# --- values as built ------------------------------------------------------------------------------


def circuit_of(system: sizing.SystemInput, label: str) -> sizing.CircuitInput:
    """Return one circuit of a question."""
    return next(circuit for circuit in system.circuits if circuit.id == label)


def test_as_built_values_lie_over_the_planned_circuit(design):
    built = asked(
        design,
        **{
            "circuit:C2.run_len_m": 10.4,
            "circuit:C2.size": "8",
            "circuit:C2.fuse_a": 40.0,
            "circuit:C2.bundle_count": 4,
            "circuit:C4.fuse_distance_m": 0.3,
            "circuit:C4.is_sheathed": True,
            "circuit:C4.fuse_interrupting_a": 6000.0,
        },
    )
    run = circuit_of(built, "C2")
    assert (run.run_len_m, run.size, run.bundle_count, run.ocpd.rating_a) == (10.4, "8", 4, 40.0)
    assert run.ocpd.family == "PV breaker"  # what nobody reported stays as planned
    main = circuit_of(built, "C4").ocpd
    assert (main.distance_to_source_m, main.is_sheathed, main.interrupting_a) == (0.3, True, 6000.0)


def test_a_measured_path_ends_a_guess(design):
    design.circuits.filter(label="C2").update(confidence="guess")
    built = asked(design, **{"circuit:C2.run_len_m": 10.4})
    assert circuit_of(built, "C2").run_len_m == 10.4  # not a quarter longer
    assert circuit_of(built, "C2").confidence is sizing.Confidence.MEASURED
    assert "circuit:C2.run_len" not in built.guesses


def test_found_without_protection(design):
    assert circuit_of(asked(design, **{"circuit:C3.has_no_protection": True}), "C3").has_no_ocpd


def test_a_fuse_where_none_was_planned(design):
    fuse = circuit_of(asked(design, **{"circuit:C1.fuse_a": 20.0}), "C1").ocpd
    assert fuse.rating_a == 20.0


def test_restrung_in_series(design):
    built = asked(design, **{"strings.ns": 4, "strings.np": 1})
    assert [string.panel_ids for string in built.strings] == [("1", "2", "3", "4")]
    assert {panel.string_id for panel in built.panels} == {"1"}
    # 4 × 24.3 V × (1 + 0.0028 × 55 K): NFPA 70 (2017) 690.7(A)(1).
    assert sizing.size_system(built).controllers[0].voc_cold_v == pytest.approx(112.17, abs=0.01)


@pytest.mark.parametrize("plan", [{"strings.ns": 3}, {"strings.ns": 2, "strings.np": 3}, {"strings.ns": 0}])
def test_a_plan_that_leaves_panels_over_is_refused(design, plan):
    with pytest.raises(AsBuiltKeyUnknown, match="panels"):
        asked(design, **plan)


def test_np_alone_says_how_many_in_series(design):
    assert [len(string.panel_ids) for string in asked(design, **{"strings.np": 4}).strings] == [1, 1, 1, 1]


def test_a_string_fuse(design):
    assert asked(design, **{"string:1.fuse_a": 20.0}).strings[0].fuse_a == 20.0


@pytest.mark.parametrize(("total", "feet"), [(20, [5, 5, 5, 5]), (17, [5, 4, 4, 4]), (14, [3, 3, 4, 4])])
def test_feet_as_counted_are_spread_over_the_panels(design, total, feet):
    built = asked(design, **{"roof.feet": total})
    assert [panel.feet for panel in built.panels] == feet
    # Every foot has 4 screws, the gland box 8.
    assert sizing.size_system(built).penetrations.penetrations == total * 4 + 8


def test_feet_below_zero_are_refused(design):
    with pytest.raises(AsBuiltKeyUnknown, match="0 or more"):
        asked(design, **{"roof.feet": -4})


def test_the_roof_as_found(design):
    built = asked(
        design,
        **{
            "roof.fasteners_per_foot": 6,
            "roof.rafter_spacing_mm": 610,
            "roof.feet_on_rafter": 12,
            "roof.gland_screws": 10,
            "roof.cable_holes": 2,
            "roof.material": "epdm",
            "roof.screw": "#10",
        },
    )
    assert {panel.fasteners_per_foot for panel in built.panels} == {6}
    assert built.roof.rafter_spacing_m == pytest.approx(0.61)
    named = (built.roof.feet_on_rafter, built.roof.gland_screws, built.roof.cable_holes)
    assert named == (12, 10, 2)
    assert (built.roof.material, built.roof.screw) == ("epdm", "#10")


def test_a_bank_put_outside_is_as_cold_as_the_air(design):
    built = asked(design, **{"bank.is_inside": False, "bank.quantity": 2})
    assert (built.bank.is_inside, built.bank.tmin_c, built.bank.quantity) == (False, -30.0, 2)


def test_the_label_as_read(design):
    assert asked(design, **{"weight.label_kg": 508.0}).weight.label_kg == 508.0


@pytest.mark.parametrize(
    "key",
    ["circuit:C99.size", "circuit:C2.colour", "string:9.fuse_a", "roof.slope", "bank.colour", "nonsense"],
)
def test_a_value_nobody_would_use_is_refused(design, key):
    with pytest.raises(AsBuiltKeyUnknown, match="reported"):
        asked(design, **{key: 1})


def test_nothing_reported_changes_nothing(design):
    planned = system_input(roof_state(design), system_basis(design))
    built = built_input(accepted(planned), {})
    assert dataclasses.asdict(built) == dataclasses.asdict(planned)


def test_the_skin_lies_below_the_tallest_thing_somebody_measured(design):
    # 3.35 m to the top of the air conditioner, 0.33 m tall: panels 85 mm above the skin do not add to it.
    survey = design.job.survey
    assert asked(design).roof.skin_height_m == pytest.approx(3.02)
    height = next(one for one in sizing.size_system(asked(design)).checks if one.key == "vehicle/height")
    assert height.value == pytest.approx(3.35)
    survey.obstacles.update(is_guess=True)
    assert asked(design).roof.skin_height_m is None  # then the array is put on top of everything
    survey.obstacles.all().delete()
    survey.absent_kinds = [*survey.absent_kinds, "obstacle"]
    survey.save()
    assert asked(design).roof.skin_height_m == pytest.approx(3.35)
