"""What a person may type on the survey's pages: units, ranges, rows, towns."""

from __future__ import annotations

import re
import uuid

import pytest
from django.core.exceptions import SuspiciousOperation
from django.http import QueryDict

from jobs.forms.survey import (
    SurveyPage,
    starting_texts,
    typed_texts,
    with_added_row,
    with_starting_rows,
    with_usual_values,
)
from jobs.models import Survey, Vehicle
from jobs.survey import PARTS, hints

KEY = uuid.UUID("0f2d7b1c5e8a4c11b6a2d4e6f8091a2b")


def page_of(survey, slug, data=None, units="imperial", **more):
    """Return a page with these fields changed from what it shows."""
    part = PARTS[slug]
    if data is None:
        return SurveyPage(part, survey, units=units, **more)
    return SurveyPage(part, survey, units=units, data=sent(survey, slug, data, units), **more)


def sent(survey, slug, changes=(), units="imperial"):
    """Return what a browser sends: the page as shown, with changes on top."""
    page = SurveyPage(PARTS[slug], survey, units=units)
    out = QueryDict(mutable=True)
    for form in [page.form, *[row for rows in page.lists for row in rows.forms]]:
        for bound in form:
            for text in typed_texts(bound.field, bound.initial):
                out.appendlist(bound.html_name, text)
    for rows in page.lists:
        for row in rows.forms:
            out.appendlist(f"{rows.sheet.prefix}-key", row.key.hex)
    for name, value in dict(changes).items():
        if name.endswith("-key"):
            out.appendlist(name, value)
        elif value is None:
            out.pop(name, None)
        else:
            out.setlist(name, value if isinstance(value, list) else [value])
    return out


def row_data(prefix, **fields):
    """Return a new row as sent."""
    return {f"{prefix}-key": KEY.hex} | {f"{prefix}-{KEY.hex}-{name}": text for name, text in fields.items()}


@pytest.fixture
def survey(golden_job):
    return golden_job.survey


class TestFacts:
    def test_nothing_is_changed_when_the_page_comes_back_untouched(self, survey):
        for slug in PARTS:
            page = page_of(survey, slug, {})
            assert page.is_valid(), (slug, page.problems, page.question)
            changes = page.changes()
            assert (changes.survey, changes.vehicle, changes.rows) == ({}, {}, {}), slug
            assert not any([changes.guesses, changes.absent, changes.flags]), slug

    @pytest.mark.parametrize(
        ("units", "typed", "metres"),
        [
            ("imperial", "25' 6\"", 7.7724),
            ("imperial", "306 in", 7.7724),
            ("imperial", "25 1/2 ft", 7.7724),
            ("imperial", "7.5 m", 7.5),
            ("metric", "7,5", 7.5),
            ("metric", "7500 mm", 7.5),
        ],
    )
    def test_a_length_is_read_as_people_write_it(self, survey, units, typed, metres):
        # 1 in = 25.4 mm exactly: international yard and pound agreement of 1959.
        page = page_of(survey, "roof", {"roof_length_m": typed}, units)
        assert page.is_valid(), page.problems
        assert page.changes().survey["roof_length_m"] == pytest.approx(metres, abs=1e-9)

    def test_a_temperature_in_fahrenheit_is_stored_in_celsius(self, survey):
        page = page_of(survey, "travel", {"tmin_storage_c": "-4 °F"})
        assert page.is_valid(), page.problems
        assert page.changes().survey["tmin_storage_c"] == pytest.approx(-20)  # (-4 - 32) / 1.8

    def test_a_share_is_typed_in_percent(self, survey):
        page = page_of(survey, "site", {"site_slope_fraction": "3"})
        assert page.is_valid(), page.problems
        assert page.changes().survey["site_slope_fraction"] == pytest.approx(0.03)

    @pytest.mark.parametrize(
        ("slug", "name", "typed", "said"),
        [
            ("roof", "roof_length_m", "-3 m", "Roof length must be"),
            ("roof", "roof_length_m", "1e9", "Roof length"),
            ("roof", "crown_mm", "nan", "Crown"),
            ("travel", "tmax_c", "500 °C", "Hottest air must be"),
            ("wire", "gland_screws", "7.5", "must be a whole number"),
            ("site", "site_slope_fraction", "250", "Slope of the ground must be"),
            ("weight", "year", "1066", "Model year must be 1900 to 2100; you typed 1066."),
        ],
    )
    def test_what_cannot_be_right_is_refused_with_its_name(self, survey, slug, name, typed, said):
        page = page_of(survey, slug, {name: typed})
        assert not page.is_valid()
        assert any(said in text for _anchor, _label, text in page.problems)
        assert page.form[name].value() == typed

    @pytest.mark.parametrize(
        # 104 °F is 40 °C; 35 °C is 95 °F
        ("units", "cold", "hot", "said"),
        [("imperial", "104 °F", "95 °F", ("104 °F", "95 °F")), ("metric", "40", "35 °C", ("40 °C", "35 °C"))],
    )
    def test_the_coldest_air_is_not_above_the_hottest(self, survey, units, cold, hot, said):
        page = page_of(survey, "travel", {"tmin_travel_c": cold, "tmax_c": hot}, units)
        assert not page.is_valid()
        words = " ".join(text for _anchor, _label, text in page.problems)
        typed, limit = said
        assert (
            f"Coldest while traveling must not be above “Hottest air” ({limit}); you typed {typed}." in words
        )

    def test_a_steady_climate_is_no_contradiction(self, survey):
        page = page_of(survey, "travel", {"tmin_travel_c": "20 °C", "tmax_c": "20 °C"}, "metric")
        page.is_valid()
        assert not any("must not be above" in text for _anchor, _label, text in page.problems)

    def test_the_limit_is_named_in_the_shops_unit(self, survey):
        page = page_of(survey, "roof", {"roof_length_m": "45 m"}, "metric")
        page.is_valid()
        assert "0.5 m to 30 m" in page.problems[0][2]
        assert "45 m" in page.problems[0][2]

    def test_an_unusual_value_is_asked_about_and_stored_with_a_flag_once_confirmed(self, survey):
        page = page_of(survey, "roof", {"roof_length_m": "15 m"}, "metric")
        assert not page.is_valid()
        assert not page.problems
        assert "15 m (usual: 1.5 m to 14 m)" in page.question["roof_length_m"]
        again = page_of(survey, "roof", {"roof_length_m": "15 m", "sure": page.sure_key}, "metric")
        assert again.is_valid()
        assert "15 m" in again.changes().flags["roof_length_m"]

    @pytest.mark.parametrize(("later", "is_asked"), [(1, False), (2, True)])
    def test_a_model_year_after_the_next_is_asked_about(self, survey, later, is_asked):
        page = page_of(survey, "weight", {"year": str(survey.job.created_at.year + later)})
        assert page.is_valid() is not is_asked
        assert ("year" in page.question) is is_asked

    def test_a_yes_does_not_carry_over_to_another_value(self, survey):
        first = page_of(survey, "roof", {"roof_length_m": "15 m"})
        first.is_valid()
        other = page_of(survey, "roof", {"roof_length_m": "16 m", "sure": first.sure_key})
        assert not other.is_valid()

    def test_a_confirmed_value_is_not_asked_about_again(self, survey):
        page = page_of(survey, "roof", {"roof_length_m": "15 m"})
        page.is_valid()
        survey.roof_length_m, survey.flags = 15.0, dict(page.asked)
        assert page_of(survey, "roof", {"crown_mm": "2 in"}).is_valid()

    def test_a_flag_goes_when_the_value_is_usual_again(self, survey):
        survey.flags = {"roof_length_m": "Roof length 15 m"}
        page = page_of(survey, "roof", {"roof_length_m": "8 m"})
        assert page.is_valid()
        assert page.changes().flags["roof_length_m"] == ""

    def test_a_guess_mark_is_set_and_taken_away(self, survey):
        survey.guessed_fields = ["roof.deck"]
        page = page_of(survey, "roof", {"guess_crown_mm": "on", "guess_deck_thickness_mm": None})
        assert page.is_valid()
        assert page.changes().guesses == {"roof.crown": True, "roof.deck": False}

    def test_equipment_that_is_not_there_is_a_fact_too(self, survey):
        survey.absent_kinds = ["generator", "obstacle"]
        page = page_of(survey, "equipment", {"absent_kinds": ["inverter"]})
        assert page.is_valid()
        absent = page.changes().absent
        assert (absent["inverter"], absent["generator"]) == (True, False)
        assert "obstacle" not in absent


class TestRows:
    def test_a_new_row_is_written_and_a_blank_one_is_not(self, survey):
        watts = {"power_w": "1000", "duty_fraction": "100", "hours_per_day": "0.1"}
        row = row_data("loads", name="Kettle", bus="ac", quantity="1", surge_factor="1", **watts)
        page = page_of(survey, "loads", row)
        assert page.is_valid(), page.problems
        ((key, values),) = page.changes().rows["loads"].write
        assert key == KEY
        assert (values["power_w"], values["duty_fraction"]) == (1000, 1)

    def test_only_the_row_that_was_touched_is_written(self, survey):
        fridge = survey.loads.first()
        page = page_of(survey, "loads", {f"loads-{fridge.key.hex}-hours_per_day": "12"})
        assert page.is_valid(), page.problems
        ((key, values),) = page.changes().rows["loads"].write
        assert (key, values["hours_per_day"]) == (fridge.key, 12)

    def test_a_removed_row_is_not_judged(self, survey):
        fridge = survey.loads.first()
        start = f"loads-{fridge.key.hex}"
        page = page_of(survey, "loads", {f"{start}-remove": "on", f"{start}-power_w": "rubbish"})
        assert page.is_valid(), page.problems
        assert page.changes().rows["loads"].remove == (fridge.key,)

    def test_what_is_wrong_in_a_row_names_row_field_and_limit(self, survey):
        fridge = survey.loads.first()
        page = page_of(survey, "loads", {f"loads-{fridge.key.hex}-hours_per_day": "25"})
        assert not page.is_valid()
        anchor, before, text = page.problems[0]
        assert f"{before}{text}".startswith("Appliance 1: Hours a day must be")  # the field is named once
        assert "0 h to 24 h" in text
        assert anchor == f"id_loads-{fridge.key.hex}-hours_per_day"

    def test_an_unusual_row_value_is_flagged_by_its_key(self, survey):
        fridge = survey.loads.first()
        page = page_of(survey, "loads", {f"loads-{fridge.key.hex}-power_w": "6000"})
        assert not page.is_valid()
        assert page.question[f"loads:{fridge.key.hex}:power_w"].startswith(f"{fridge.name}: Watts 6,000 W")

    def test_a_key_that_is_none_is_no_page_of_ours(self, survey):
        with pytest.raises(SuspiciousOperation):
            page_of(survey, "loads", {"loads-key": "../../etc"})

    def test_two_hundred_rows_are_the_most(self, survey):
        data = sent(survey, "loads")
        for _ in range(200):
            data.appendlist("loads-key", uuid.uuid4().hex)
        page = SurveyPage(PARTS["loads"], survey, units="imperial", data=data)
        assert not page.is_valid()
        assert "at most 200 rows" in page.problems[0][2]

    def test_the_blank_row_keeps_its_key_over_a_reload(self, survey):
        first, again = (page_of(survey, "loads", seed="s").lists[0].forms[-1].key for _ in "ab")
        other = page_of(survey, "loads", seed="another sign-in").lists[0].forms[-1].key
        assert first == again != other

    def test_a_blank_size_on_the_roof_takes_the_usual_one_as_a_guess(self, survey):
        row = row_data("obstacles", kind="air_conditioner", x_m="1 m", y_m="0.7 m")
        page = page_of(survey, "obstacles", row)
        assert page.is_valid(), page.problems
        ((_key, values),) = page.changes().rows["obstacles"].write
        # Footprint and height of a standard shroud in inches, common practice, no source: 42, 29, 13; 6.
        assert (values["length_m"], values["width_m"], values["height_m"]) == (1.0668, 0.7366, 0.3302)
        assert values["keep_out_m"] == 0.1524
        assert values["is_guess"]

    def test_a_thing_without_a_usual_size_needs_one(self, survey):
        page = page_of(survey, "obstacles", row_data("obstacles", kind="rack", x_m="1 m", y_m="0.7 m"))
        assert not page.is_valid()
        assert any("no usual size" in text for _a, _l, text in page.problems)

    def test_a_thing_that_reaches_over_the_edge_is_asked_about(self, survey):
        row = row_data("obstacles", kind="skylight", x_m="7.5 m", y_m="1 m")
        page = page_of(survey, "obstacles", row, "metric")
        assert not page.is_valid()
        # 7.5 + 0.76 - 7.9 m of roof
        said = "Skylight or shower dome: reaches 0.36 m over the front edge of the flat roof"
        assert list(page.question.values()) == [said]

    def test_a_town_of_the_list_brings_its_latitude(self, survey):
        page = page_of(
            survey, "travel", row_data("stops", place="Yuma, AZ", months=["1", "2"], shade_habit="open")
        )
        assert page.is_valid(), page.problems
        ((_key, values),) = page.changes().rows["stops"].write
        assert values["latitude_deg"] == pytest.approx(32.7, abs=0.1)  # Yuma lies at 32.7° N
        assert values["months"] == [1, 2]

    def test_the_shops_own_place_brings_its_latitude(self, survey):
        row = row_data("stops", place="dry wash FLATS", months=["1"], shade_habit="open")
        page = page_of(survey, "travel", row, known_places={"Dry Wash flats": (33.4, -112.0)})
        assert page.is_valid(), page.problems
        ((_key, values),) = page.changes().rows["stops"].write
        assert (values["latitude_deg"], values["longitude_deg"]) == (33.4, -112.0)

    @pytest.mark.parametrize(
        ("place", "said"),
        [("Springfield", "There are several: Springfield"), ("Nowhere at all", "not in the list")],
    )
    def test_a_place_that_cannot_be_told_is_refused(self, survey, place, said):
        page = page_of(survey, "travel", row_data("stops", place=place, months=["1"], shade_habit="open"))
        assert not page.is_valid()
        assert said in page.problems[0][2]

    def test_a_place_needs_a_month(self, survey):
        page = page_of(survey, "travel", row_data("stops", place="Yuma, AZ", shade_habit="open"))
        assert not page.is_valid()
        assert page.problems[0][2] == "Tick at least one month."


class TestButtons:
    """What is typed as the buttons beside Save change it; nothing of this is stored."""

    def test_blanks_are_filled_with_usual_values_as_guesses(self, shop):
        survey = blank_survey(shop)
        data = with_usual_values(sent(survey, "roof"), PARTS["roof"], survey, "metric")
        # A travel trailer's flat roof is 1.9 to 2.35 m wide (common practice, no source): the middle.
        assert data["roof_width_m"] == "2.125 m"
        assert data["guess_roof_width_m"] == "on"

    def test_what_is_typed_stays_when_blanks_are_filled(self, shop):
        survey = blank_survey(shop)
        typed = sent(survey, "roof", {"roof_width_m": "7 ft"})
        assert with_usual_values(typed, PARTS["roof"], survey, "imperial")["roof_width_m"] == "7 ft"

    @pytest.mark.parametrize("units", ["imperial", "metric"])
    @pytest.mark.parametrize("slug", list(PARTS))
    def test_the_usual_rows_and_values_of_a_page_are_right_as_they_come(self, shop, slug, units):
        survey = blank_survey(shop)
        data = with_starting_rows(sent(survey, slug, units=units), PARTS[slug], survey, units)
        data = with_usual_values(data, PARTS[slug], survey, units)
        page = SurveyPage(PARTS[slug], survey, units=units, data=data)
        assert page.is_valid(), (page.problems, page.question)

    @pytest.mark.parametrize("what", ["loads:kettle", "loads:oxygen", "loads"])
    def test_a_row_is_added_to_what_is_typed(self, survey, what):
        before = sent(survey, "loads")
        after = with_added_row(before, PARTS["loads"], what, "imperial")
        assert len(after.getlist("loads-key")) == len(before.getlist("loads-key")) + 1

    def test_a_thing_is_added_with_its_usual_size(self, survey):
        data = with_added_row(sent(survey, "obstacles"), PARTS["obstacles"], "obstacles:skylight", "metric")
        key = data.getlist("obstacles-key")[-1]
        assert data[f"obstacles-{key}-length_m"] == "0.76 m"
        assert data[f"obstacles-{key}-is_guess"] == "on"

    def test_usual_rows_that_are_there_already_are_not_added_again(self, survey):
        assert starting_texts(PARTS["equipment"], survey, "imperial")["existing_items"] == []


def blank_survey(shop):
    """Return the survey of a trailer nobody has looked at yet."""
    from jobs.models import Customer, Job

    owner = Customer.objects.create(shop=shop, name="Ann Example")
    vehicle = Vehicle.objects.create(shop=shop, customer=owner, kind=Vehicle.Kind.TRAVEL_TRAILER)
    job = Job.objects.create(shop=shop, vehicle=vehicle, number="1", title="Survey me")
    return Survey.objects.create(job=job)


class TestHints:
    @pytest.mark.parametrize(
        # Lowest dry-bulb of the US DOE typical years: TMY3 724699, 727930, 722020 and 722780 (Phoenix, the
        # worst: the cell lies higher and has no city's warmth, so the hint is too cold, the safe side).
        ("latitude_deg", "longitude_deg", "lowest_c", "within_c"),
        [
            (40.13, -105.24, -23.3, 5),
            (47.47, -122.32, -5.6, 5),
            (25.82, -80.30, 5.0, 5),
            (33.45, -111.98, 2.2, 8),
        ],
    )
    def test_the_climate_of_the_places_is_told(self, shop, latitude_deg, longitude_deg, lowest_c, within_c):
        survey = blank_survey(shop)
        survey.stops.create(place="Here", latitude_deg=latitude_deg, longitude_deg=longitude_deg, months=[1])
        shown = hints.of_part(PARTS["travel"], survey, survey.job.vehicle, "metric")
        said = re.search(r"If stored at Here: about (-?\d+) °C", shown["tmin_storage_c"].text)
        assert float(said[1]) == pytest.approx(lowest_c, abs=within_c)
        assert shown["tmin_storage_c"].value <= -20

    def test_a_place_without_longitude_or_at_sea_tells_nothing(self, shop):
        survey = blank_survey(shop)
        survey.stops.create(place="Somewhere", latitude_deg=45, months=[1])
        survey.stops.create(place="At sea", latitude_deg=0, longitude_deg=-150, months=[1])
        assert (
            hints.of_part(PARTS["travel"], survey, survey.job.vehicle, "metric")["tmin_storage_c"].text == ""
        )

    def test_usual_figures_of_the_kind_are_told_in_the_shops_units(self, shop):
        survey = blank_survey(shop)
        said = hints.of_part(PARTS["roof"], survey, survey.job.vehicle, "imperial")["roof_width_m"].text
        assert said == "Usual for this kind (Travel trailer): 6' 2 3/4\" to 7' 8 1/2\""  # 1.90 to 2.35 m
