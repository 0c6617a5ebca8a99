"""The field sheet: what it names exists, its ranges make sense, its data files agree with the outside."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

from jobs.forms.survey import part_form_class
from jobs.models import ExistingItem, Obstacle, Survey, Vehicle
from jobs.models.survey import STARTING_GUESSES
from jobs.survey import PARTS, STAGES, defaults, places
from jobs.survey.rows import EQUIPMENT

FACTS = [
    pytest.param(fact, Vehicle if fact.on == "vehicle" else Survey, id=f"{part.slug}-{fact.name}")
    for part in PARTS.values()
    for fact in part.facts
] + [
    pytest.param(fact, Survey._meta.get_field(sheet.prefix).related_model, id=f"{sheet.prefix}-{fact.name}")
    for part in PARTS.values()
    for sheet in part.rows
    for fact in sheet.facts
]

# The ranges a survey is asked in (shop defaults, common practice, no source), typed here once more by hand.
RANGES = [
    ("roof", "roof_length_m", (1.5, 14), "S"),
    ("roof", "roof_width_m", (0.8, 2.6), "S"),
    ("roof", "edge_radius_mm", (0, 300), "S"),
    ("roof", "crown_mm", (0, 300), "S"),
    ("roof", "slope_front_deg", (0, 20), "S"),
    ("roof", "overall_height_m", (1.5, 4.3), "S"),
    ("roof", "deck_thickness_mm", (0, 25), "Q"),
    ("roof", "rafter_spacing_mm", (200, 1200), "Q"),
    ("roof", "max_person_kg", (0, 300), "I"),
    ("weight", "gvwr_kg", (300, 25000), "Q"),
    ("weight", "cargo_label_kg", (0, 9000), "Q"),
    ("weight", "scale_front_kg", (50, 9000), "Q"),
    ("weight", "fresh_water_l", (0, 760), "Q"),
    ("weight", "lp_gas_kg", (0, 60), "Q"),
    ("weight", "wheelbase_m", (1.5, 9), "Q"),
    ("weight", "rear_overhang_m", (0.3, 5), "Q"),
    ("weight", "tag_spacing_m", (1, 1.8), ""),
    ("weight", "hitch_limit_kg", (25, 3000), ""),
    ("weight", "bank_x_m", (0, 14), "Q"),
    ("weight", "equipment_x_m", (0, 14), "Q"),
    ("weight", "gear_x_m", (0, 14), ""),
    ("roof", "is_front_open", None, "Q"),
    ("roof", "screws_per_rafter_foot", (1, 6), ""),
    ("equipment", "battery_tmin_c", (-45, 50), "S"),
    ("travel", "tmin_travel_c", (-50, 15), "S"),
    ("travel", "tmin_storage_c", (-50, 15), "S"),
    ("travel", "tmax_c", (20, 55), "S"),
    ("site", "site_slope_fraction", (0, 0.10), "I"),
]


@pytest.mark.parametrize(("fact", "model"), FACTS)
def test_every_fact_is_a_column_with_a_label(fact, model):
    assert model._meta.get_field(fact.name)
    assert fact.label
    assert fact.need in {"", *STAGES}


@pytest.mark.parametrize(("fact", "model"), FACTS)
def test_what_is_usual_is_possible(fact, model):
    if fact.usual is not None:
        low, high = fact.possible
        assert low is not None
        assert high is not None
        assert low <= fact.usual[0] < fact.usual[1] <= high


@pytest.mark.parametrize(("part", "name", "usual", "need"), RANGES)
def test_a_fact_is_asked_in_its_range_and_before_its_stage(part, name, usual, need):
    fact = next(fact for fact in PARTS[part].facts if fact.name == name)
    assert (fact.usual, fact.need) == (usual, need)


def test_every_starting_guess_is_a_word_of_the_sheet():
    words = {fact.guess for part in PARTS.values() for fact in part.facts}
    assert set(STARTING_GUESSES) <= words


# Amps at 12 V that an owner measured on one coach and published in an energy audit (jdfinley.com).
MEASURED_12V = [("phantom", 1.2), ("fridge_gas", 0.5), ("furnace", 11), ("water_pump", 6), ("cpap", 0.9)]


@pytest.mark.parametrize(("code", "measured_a"), MEASURED_12V)
def test_a_starting_row_is_near_what_was_measured(code, measured_a):
    assert defaults.load_row(code)["power_w"] == pytest.approx(measured_a * 12, rel=0.12)


def test_a_rooftop_air_conditioner_is_near_its_plate():
    # 13 A at 120 V running, from a published maker's plate for 13 500 BTU/h.
    assert defaults.load_row("air_conditioner")["power_w"] == pytest.approx(13 * 120, rel=0.05)


# Wh a day as the trade's audit sheets print them, rounded (common practice, no source).
PRINTED_WH = [
    ("phantom", 360), ("fridge_element", 3840), ("fridge_dc_small", 650), ("fridge_dc_large", 1080),
    ("fridge_house", 1340), ("fridge_chest", 430), ("furnace", 470), ("water_pump", 30), ("lights", 125),
    ("vent_fan", 240), ("tank_heater", 360), ("laptop", 360), ("tv", 180), ("internet_terminal", 1200),
    ("router", 290), ("cpap", 95), ("oxygen", 2400), ("microwave", 260), ("induction", 500),
    ("washer_dryer", 1560), ("air_conditioner", 5400), ("air_conditioner_variable", 2940),
    ("slides_jacks", 30),
]  # fmt: skip


@pytest.mark.parametrize(("code", "printed_wh"), PRINTED_WH)
def test_a_starting_row_uses_what_audit_sheets_print(code, printed_wh):
    row = defaults.load_row(code)
    energy_wh = row["power_w"] * row["duty_fraction"] * row["hours_per_day"] * row["quantity"]
    assert energy_wh == pytest.approx(printed_wh, rel=0.03)


@pytest.mark.parametrize("kind", Vehicle.Kind.values)
def test_every_vehicle_kind_has_usual_figures_and_loads(kind):
    usual = defaults.vehicle_usual(kind)
    assert 1.0 < usual["roof_width_low_m"] < usual["roof_width_high_m"] < 2.6
    assert set(usual["usual_materials"]) <= set(Survey.Material.values)
    for profile in Survey.Profile.values:
        codes = defaults.starter_codes(kind, profile)
        assert codes
        assert len(set(codes)) == len(codes)
        assert all(defaults.load_row(code) for code in codes)


@pytest.mark.parametrize("kind", Obstacle.Kind.values)
def test_every_thing_on_a_roof_has_a_clearance(kind):
    assert defaults.obstacle_usual(kind)["keep_out_m"] >= 0


def test_a_stored_vehicle_only_draws_what_is_always_on():
    assert defaults.starter_codes(Vehicle.Kind.CLASS_A, Survey.Profile.STORED) == ("phantom",)


@pytest.mark.parametrize("profile", Survey.Profile.values)
def test_every_way_of_travelling_has_usual_figures(profile):
    usual = defaults.travel_usual(profile)
    assert 0 <= usual["shore_fraction"] <= 1
    assert 0 <= usual["nights_per_year"] <= 365


def test_kinds_looked_for_are_kinds_of_equipment():
    assert "obstacle" not in ExistingItem.Kind.values  # the word for "nothing on the roof" is nobody's kind


# Station positions from the headers of the US DOE's TMY3 files, airport of each city.
STATIONS = [
    ("Phoenix, AZ", 33.45, -111.98),
    ("Boulder, CO", 40.02, -105.25),
    ("Miami, FL", 25.82, -80.30),
    ("Seattle, WA", 47.47, -122.32),
]


@pytest.mark.parametrize(("name", "latitude_deg", "longitude_deg"), STATIONS)
def test_a_town_lies_where_its_airport_says(name, latitude_deg, longitude_deg):
    (town,) = places.towns_named(name)
    assert town.latitude_deg == pytest.approx(latitude_deg, abs=0.25)
    assert town.longitude_deg == pytest.approx(longitude_deg, abs=0.25)


def test_a_town_is_found_without_accents_points_and_case():
    (town,) = places.towns_named("montreal, qc")
    assert str(town) == "Montréal, QC"
    assert places.towns_named("ST LOUIS, mo") == places.towns_named("St. Louis, MO")


def test_a_name_that_several_towns_bear_gives_them_all_largest_first():
    found = places.towns_named("Springfield")
    assert len(found) >= 3
    assert [town.population for town in found] == sorted((town.population for town in found), reverse=True)


def test_towns_are_offered_from_two_letters_on():
    assert places.towns_like("y") == []
    assert "Yuma, AZ" in [str(town) for town in places.towns_like("yum")]


def test_the_survey_asks_whether_the_vehicle_is_kept_warm():
    """Not asked, yes and no are three answers: the engine takes the first as stored unheated."""
    form = part_form_class(PARTS["equipment"])
    field = form.base_fields["battery_is_kept_warm"]
    assert [field.clean(word) for word in ("", "true", "false")] == [None, True, False]


def test_every_detail_of_equipment_shows_for_some_kind():
    """Script hides what does not belong to a kind; a fact that no rule shows could not be typed at all."""
    css = (Path(settings.BASE_DIR) / "static/css/survey.css").read_text()
    rules = [line for line in css.splitlines() if ".row-details > :is(" in line]
    shown = {name for line in rules for name in re.findall(r"\.cell-(\w+)", line)}
    assert set(EQUIPMENT.details) <= shown
    panels = next(line for line in rules if '[data-kind="panel"]' in line)
    assert {"age_years", "measured_isc_a", "measured_at_w_m2"} <= set(re.findall(r"\.cell-(\w+)", panels))
