"""Filling in a survey page by page: saving, refusing, asking twice, reading only."""

from __future__ import annotations

import re
import uuid

import pytest

from jobs.models import LoadItem, LogEntry, Shop, Survey
from jobs.survey import PARTS

KEY = uuid.UUID("0f2d7b1c5e8a4c11b6a2d4e6f8091a2b").hex


@pytest.fixture
def survey(golden_job):
    return golden_job.survey


@pytest.fixture
def path_of(golden_job):
    return lambda part: f"/jobs/{golden_job.pk}/survey/{part}/"


def fields_of(page):
    """Return what a browser would send for the page's form: read from its markup, not from our code."""
    text = page.content.decode()
    form = text[text.index('id="survey-form"') : text.index("</form>", text.index('id="survey-form"'))]
    form = re.sub(r"<template.*?</template>", "", form, flags=re.S)
    data: dict[str, list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        found = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        kind = found.get("type", "text")
        if "name" in found and (kind not in {"checkbox", "radio"} or "checked" in tag):
            data.setdefault(found["name"], []).append(
                _plain(found.get("value", "on" if kind == "checkbox" else ""))
            )
    for name, body in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', form, flags=re.S):
        chosen = re.findall(r'<option value="([^"]*)"[^>]*selected', body)
        data[name] = chosen or re.findall(r'<option value="([^"]*)"', body)[:1]
    for name, body in re.findall(r'<textarea name="([^"]+)"[^>]*>(.*?)</textarea>', form, flags=re.S):
        data[name] = [_plain(body).strip()]
    return data


def _plain(text):
    return text.replace("&quot;", '"').replace("&#x27;", "'").replace("&amp;", "&")


class TestSurveyEdit:
    @pytest.mark.parametrize("part", list(PARTS))
    def test_it_works_untouched(self, client_of, erin, path_of, part):
        client = client_of(erin)
        page = client.get(path_of(part))
        assert page.status_code == 200
        answer = client.post(path_of(part), fields_of(page) | {"act": "save"})
        assert answer.status_code == 302, answer.content.decode()[:3000]
        assert not LogEntry.objects.filter(verb="survey changed").exists()

    def test_it_stores_si_and_goes_on_to_the_next_page(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof")))
        data |= {"roof_length_m": "26' 3\"", "max_person_kg": "200 lb", "guess_crown_mm": "on", "go": "next"}
        answer = client.post(path_of("roof"), data)
        assert answer.headers["Location"] == path_of("obstacles")
        survey.refresh_from_db()
        assert survey.roof_length_m == pytest.approx(8.001)  # 315 in × 25.4 mm
        assert survey.max_person_kg == pytest.approx(90.718474)  # 1 lb = 0.45359237 kg exactly
        assert "roof.crown" in survey.guessed_fields
        assert survey.rafter_spacing_mm == 406  # shown as 16 in, kept to the last digit

    def test_it_works_in_metric(self, client_of, erin, path_of, survey, shop):
        Shop.objects.filter(pk=shop.pk).update(units="metric")
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof")))
        assert data["roof_length_m"] == ["7.9 m"]
        client.post(path_of("roof"), data | {"roof_length_m": "8,1"})
        survey.refresh_from_db()
        assert survey.roof_length_m == 8.1

    def test_it_refuses_what_cannot_be_right_and_keeps_the_text(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof"))) | {
            "roof_length_m": "-3 m",
            "prior_repairs": "Patch at the rear",
        }
        page = client.post(path_of("roof"), data)
        assert page.status_code == 422
        text = page.content.decode()
        assert "Roof length must be" in text
        assert 'value="-3 m"' in text
        assert "Patch at the rear" in text
        survey.refresh_from_db()
        assert survey.roof_length_m == 7.9

    def test_it_asks_twice_about_an_unusual_value(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof"))) | {"roof_length_m": "15 m"}
        page = client.post(path_of("roof"), data)
        assert page.status_code == 422
        assert "Are you sure?" in page.content.decode()
        key = re.search(r'name="sure" value="(\w+)"', page.content.decode())[1]
        assert client.post(path_of("roof"), data | {"sure": key}).status_code == 302
        survey.refresh_from_db()
        assert survey.roof_length_m == 15
        assert "roof_length_m" in survey.flags
        assert "Confirmed outside the usual range" in client.get(path_of("roof")).content.decode()

    def test_sent_twice_it_keeps_one_row(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        before = survey.loads.count()
        data = fields_of(client.get(path_of("loads")))
        (key,) = [
            key for key in data["loads-key"] if not LoadItem.objects.filter(key=uuid.UUID(key)).exists()
        ]
        data |= {
            f"loads-{key}-name": "Kettle",
            f"loads-{key}-power_w": "1000",
            f"loads-{key}-hours_per_day": "0.1",
        }
        for _ in range(2):
            assert client.post(path_of("loads"), data).status_code == 302
        assert survey.loads.count() == before + 1
        assert survey.loads.last().name == "Kettle"

    def test_a_row_is_taken_away(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        fridge = survey.loads.first()
        data = fields_of(client.get(path_of("loads"))) | {f"loads-{fridge.key.hex}-remove": "on"}
        client.post(path_of("loads"), data)
        assert not survey.loads.filter(pk=fridge.pk).exists()

    @pytest.mark.parametrize(
        ("part", "act", "code", "name", "value"),
        [
            ("loads", "add:loads:chosen", "kettle", "name", "Kettle"),
            ("loads", "add:loads", "", "duty_fraction", "100%"),
            ("obstacles", "add:obstacles:chosen", "skylight", "length_m", "2&#x27; 6&quot;"),
        ],
    )
    def test_a_row_is_added_without_script_and_nothing_is_stored(
        self, client_of, erin, path_of, survey, part, act, code, name, value
    ):
        client = client_of(erin)
        data = fields_of(client.get(path_of(part)))
        page = client.post(path_of(part), data | {"act": act, "add_code": code})
        assert page.status_code == 200
        assert len(fields_of(page)[f"{part}-key"]) == len(data[f"{part}-key"]) + 1
        assert f'value="{value}"' in page.content.decode()
        assert "Please look at this again" not in page.content.decode()
        assert not LogEntry.objects.filter(verb="survey changed").exists()

    def test_blanks_are_filled_without_script(self, client_of, erin, path_of, survey):
        Survey.objects.filter(pk=survey.pk).update(crown_mm=None)
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof"))) | {"roof_length_m": "rubbish", "act": "usual"}
        fields = fields_of(client.post(path_of("roof"), data))
        assert fields["crown_mm"] == ["2 in"]  # 25 to 75 mm for a trailer, the middle: 50 mm
        assert fields["guess_crown_mm"] == ["on"]
        assert fields["roof_length_m"] == ["rubbish"]

    def test_the_total_follows_what_is_typed_without_storing_it(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("loads")))
        for row in survey.loads.all():
            data[f"loads-{row.key.hex}-remove"] = "on"
        fan = {"name": "Fan", "bus": "dc", "power_w": "97", "duty_fraction": "50", "hours_per_day": "20"}
        fan |= {"quantity": "1", "surge_factor": "1"}
        data |= {"loads-key": [*data["loads-key"], KEY]}
        data |= {f"loads-{KEY}-{name}": text for name, text in fan.items()}
        page = client.post(path_of("loads") + "?preview=1", data)
        assert page.status_code == 200
        # 97 W × 0.5 × 20 h / 0.97 + 25 W × 8 h of the design's inverter = 1 000 + 200 Wh
        assert "1,200 Wh" in page.content.decode()
        assert "<html" not in page.content.decode()
        assert survey.loads.count() == 11

    def test_a_half_typed_row_leaves_the_total_standing(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        fridge = survey.loads.first()
        data = fields_of(client.get(path_of("loads"))) | {f"loads-{fridge.key.hex}-power_w": "6x"}
        assert client.post(path_of("loads") + "?preview=1", data).status_code == 200

    def test_a_roof_not_measured_yet_says_where_to_measure_it(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("obstacles")))
        survey.roof_length_m = None
        survey.save(update_fields=["roof_length_m"])
        page = client.post(path_of("obstacles") + "?preview=1", data)
        assert page.status_code == 200
        assert f'href="{path_of("roof")}#id_roof_length_m"' in page.content.decode()

    def test_the_sketch_follows_what_is_typed(self, client_of, erin, path_of, survey):
        client = client_of(erin)
        data = fields_of(client.get(path_of("obstacles")))
        vent = survey.obstacles.get(label="Bath vent")
        data |= {f"obstacles-{vent.key.hex}-label": "Moved vent"}
        page = client.post(path_of("obstacles") + "?preview=1", data).content.decode()
        assert "Moved vent" in page
        assert "Bath vent" not in page

    @pytest.mark.parametrize(
        ("person", "part"), [("bob", "roof"), ("lena", "loads"), *(("ken", part) for part in PARTS)]
    )
    def test_those_who_do_not_survey_read_it_without_buttons(self, client_of, path_of, part, person, request):
        page = client_of(request.getfixturevalue(person)).get(path_of(part))
        assert page.status_code == 200
        text = page.content.decode()
        assert "You can read this survey" in text
        assert 'name="act" value="add' not in text
        assert '<fieldset class="plain" disabled>' in text

    @pytest.mark.parametrize("person", ["bob", "lena", "ken"])
    def test_it_refuses_those_who_do_not_survey(self, client_of, path_of, survey, person, request):
        answer = client_of(request.getfixturevalue(person)).post(path_of("roof"), {"roof_length_m": "5 m"})
        assert answer.status_code == 403
        survey.refresh_from_db()
        assert survey.roof_length_m == 7.9

    def test_a_closed_jobs_survey_is_read_only(self, client_of, erin, path_of, golden_job):
        client = client_of(erin)
        data = fields_of(client.get(path_of("roof"))) | {"roof_length_m": "8 m"}
        type(golden_job).objects.filter(pk=golden_job.pk).update(state="released")
        page = client.post(path_of("roof"), data)
        assert page.status_code == 422
        assert "stays as it was" in page.content.decode()
        assert "disabled" in client.get(path_of("roof")).content.decode()

    def test_after_acceptance_it_says_what_a_change_does_not_do(self, client_of, erin, path_of, golden_job):
        type(golden_job).objects.filter(pk=golden_job.pk).update(state="accepted")
        assert "does not change the accepted design" in client_of(erin).get(path_of("roof")).content.decode()

    @pytest.mark.parametrize("count", [10, 1000])
    @pytest.mark.parametrize("part", ["loads", "wire", "roof", "travel"])
    def test_it_takes_few_queries(
        self, client_of, erin, path_of, survey, part, count, django_assert_max_num_queries
    ):
        if part == "loads":
            count = min(count, 190)  # a survey holds at most 200 rows of a kind
        LoadItem.objects.bulk_create(
            LoadItem(survey=survey, name=f"Row {n}", power_w=1, hours_per_day=1) for n in range(count)
        )
        client = client_of(erin)
        with django_assert_max_num_queries(12):
            client.get(path_of(part))

    def test_a_page_that_is_none_is_not_found(self, client_of, erin, path_of):
        assert client_of(erin).get(path_of("cellar")).status_code == 404

    def test_a_made_up_row_key_is_refused(self, client_of, erin, path_of):
        assert client_of(erin).post(path_of("loads"), {"loads-key": "drop table"}).status_code == 400

    @pytest.mark.parametrize("part", list(PARTS))
    def test_it_hides_the_survey_from_a_stranger(self, client_of, charlie, path_of, part):
        client = client_of(charlie)
        assert client.get(path_of(part)).status_code == 404
        assert client.post(path_of(part), {}).status_code == 404
        assert client.post(path_of(part) + "?preview=1", {}).status_code == 404
