"""The roof's shade clock, beam lost by cell and other wirings: each works, refuses, hides from strangers."""

from __future__ import annotations

import itertools
import math

import pandas as pd
import pvlib
import pytest
from django.urls import reverse

from jobs.models import Design, Membership
from jobs.roof.read import roof_state
from jobs.workspace.state import layout_state
from jobs.workspace.strings import short_order
from tests.web.jobs.test_workspace_roof import post

pytestmark = pytest.mark.django_db
CLOCK = {"date": "2025-06-21", "minute": 9 * 60, "heading": 90.0, "wants": ["day"]}
NAMES = ("workspace_clock", "workspace_heat", "workspace_strings")


def hull_has(corners, x, y, within):
    """Return whether one of the corners, given flat, lies within so many millimeters of a point."""
    return any(math.dist((x, y), spot) <= within for spot in zip(corners[::2], corners[1::2], strict=True))


def test_the_clock_throws_a_shadow_where_the_sun_puts_it(client_of, erin, design, layout):
    """The sun by pvlib's own NREL SPA; the far corner of a box's shadow by plane geometry.

    9:00 at UTC-7 is 16:00 UTC. Nose east: x is east, y is north. The shadow of a box's top corner lies
    (height - panel top) / tan(elevation) away from the sun.
    """
    answer = post(client_of(erin), "workspace_clock", design, layout=layout, clock=CLOCK, sequence=4)
    got = answer.json()
    stop = max(design.job.survey.stops.all(), key=lambda one: one.nights or 0)
    sun = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(["2025-06-21T16:00Z"]), stop.latitude_deg, stop.longitude_deg
    ).iloc[0]
    moment = got["moment"]
    assert got["sequence"] == 4
    assert got["place"]["utc_offset_h"] == round(stop.longitude_deg / 15)
    assert moment["azimuth"] == pytest.approx(sun["azimuth"], abs=0.06)
    assert moment["elevation"] == pytest.approx(sun["apparent_elevation"], abs=0.06)
    thing = design.job.survey.obstacles.get(kind__startswith="air_conditioner")
    panel = design.panels.first()
    over = thing.height_m - panel.height_above_roof_m - panel.part.panel_sheet.thickness_m
    reach = over / math.tan(math.radians(sun["apparent_elevation"]))
    away = math.radians(sun["azimuth"] + 180)
    shift = (1000 * reach * math.sin(away), 1000 * reach * math.cos(away))  # east, north
    shadow = next(one for one in moment["shadows"] if one["name"] == "air conditioner")["corners"]
    for x in (thing.x_m, thing.x_m + thing.length_m):  # the sun stands in the east: the shadow falls west
        for y in (thing.y_m, thing.y_m + thing.width_m):
            corner = (1000 * x + shift[0], 1000 * y + shift[1])
            on_edge = x == thing.x_m or (y == thing.y_m + thing.width_m) == (shift[1] > 0)
            assert hull_has(shadow, *corner, within=6) or not on_edge


def test_the_clock_tells_strings_and_day_within_the_budget(client_of, erin, design, layout):
    answer = post(client_of(erin), "workspace_clock", design, layout=layout, clock=CLOCK)
    got = answer.json()
    assert len(answer.content) <= 30_000
    strings = got["moment"]["strings"]
    assert [one["panels"] for one in strings] == [[1, 2], [3, 4]]
    assert sum(one["power"] for one in strings) == pytest.approx(got["moment"]["power"], abs=2)
    assert all(0 < one["power"] <= one["bare"] for one in strings)
    day = got["day"]
    assert len(day["power"]) == len(day["bare"]) == 96
    assert day["power"][36] == pytest.approx(got["moment"]["power"], abs=2)  # 9:00
    worst = day["worst"]
    lost = [bare - power for bare, power in zip(day["bare"], day["power"], strict=True)]
    assert lost[worst["minute"] // 15] == pytest.approx(max(lost[2::4]), abs=2)
    assert {one["name"] for one in got["stops"]} == {one.place for one in design.job.survey.stops.all()}


def test_the_worst_hour_of_the_year_is_no_better_than_that_of_a_day(client_of, erin, design, layout):
    clock = CLOCK | {"wants": ["day", "worst_year"]}
    got = post(client_of(erin), "workspace_clock", design, layout=layout, clock=clock).json()
    worst = got["worst_year"]
    assert worst["date"].startswith("2025-")
    assert worst["minute"] % 60 == 30
    assert worst["lost_wh"] >= got["day"]["worst"]["lost_wh"]


def test_the_clock_can_stand_anywhere_by_latitude_and_longitude(client_of, erin, design, layout):
    """At noon of an equinox, the sun over the equator stands near the zenith (declination about 0)."""
    design.job.survey.stops.all().delete()  # not even a travel plan is needed
    clock = {"date": "2025-03-20", "minute": 12 * 60, "heading": 0, "latitude": 0.0, "longitude": 30.0}
    got = post(client_of(erin), "workspace_clock", design, layout=layout, clock=clock).json()
    assert got["moment"]["elevation"] > 87
    assert got["place"]["utc_offset_h"] == 2  # 30° / 15° an hour


def test_a_place_without_climate_says_so(client_of, erin, design, layout):
    clock = CLOCK | {"latitude": -40.0, "longitude": -120.0}
    got = post(client_of(erin), "workspace_clock", design, layout=layout, clock=clock).json()
    assert got["moment"] is None
    assert "outside the climate table" in got["reason"]


def test_panels_in_no_string_count_by_themselves(client_of, erin, design, layout):
    layout["strings"] = []
    got = post(client_of(erin), "workspace_clock", design, layout=layout, clock=CLOCK).json()
    assert [(one["number"], one["panels"]) for one in got["moment"]["strings"]] == [
        (0, [row["number"]]) for row in layout["panels"]
    ]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"date": "yesterday"}, "Date: must be a day"),
        ({"date": None}, "Date: must be a day"),
        ({"date": "1900-01-01"}, "Date: must lie in the years 1950 to 2100"),
        ({"minute": 1440}, "Time: must be from 0 to 1439 minutes"),
        ({"minute": "noon"}, "Time: must be from"),
        ({"heading": -1}, "Nose points to: must be from 0 to 360°"),
        ({"heading": float("nan")}, "Nose points to: must be from"),
        ({"latitude": 91, "longitude": 0}, "Latitude: must be from -90 to 90°"),
        ({"latitude": 45}, "Longitude: must be from -180 to 180°"),
        ({"latitude": True, "longitude": 0}, "Latitude: must be from"),
    ],
)
def test_a_clock_that_cannot_be_set_is_refused_by_name(client_of, erin, design, layout, changed, said):
    answer = post(client_of(erin), "workspace_clock", design, layout=layout, clock=CLOCK | changed)
    assert answer.status_code == 422
    assert said in answer.json()["error"]


def test_a_clock_that_is_none_is_refused(client_of, erin, design, layout):
    for clock in (None, [], "noon"):
        answer = post(client_of(erin), "workspace_clock", design, layout=layout, clock=clock)
        assert answer.status_code == 422


def test_cells_next_to_what_stands_high_lose_most(client_of, erin, design, layout):
    """The air conditioner stands between the panels: by geometry, cells nearer to it lose more."""
    answer = post(client_of(erin), "workspace_heat", design, layout=layout)
    got = answer.json()
    assert len(answer.content) <= 30_000
    sheet = design.panels.first().part.panel_sheet
    for panel in got["panels"]:
        assert panel["columns"] == sheet.cell_columns
        assert len(panel["lost"]) == sheet.cell_columns * sheet.cell_rows
        assert all(0 <= one <= 1000 for one in panel["lost"])
    thing = design.job.survey.obstacles.get(kind__startswith="air_conditioner")
    for panel in got["panels"]:
        row = next(one for one in layout["panels"] if one["number"] == panel["number"])
        is_behind = row["x_mm"] + 1000 * sheet.length_m <= 1000 * thing.x_m + 1
        ends = [panel["lost"][place :: panel["columns"]] for place in (0, panel["columns"] - 1)]
        near, far = (ends[1], ends[0]) if is_behind else (ends[0], ends[1])
        assert sum(near) > sum(far)
    poorest = got["poorest"]
    lost = {panel["number"]: panel for panel in got["panels"]}[poorest["panel"]]
    spot = (poorest["row"] - 1) * lost["columns"] + poorest["column"] - 1
    assert lost["lost"][spot] == poorest["lost"] == max(max(panel["lost"]) for panel in got["panels"])


def test_a_bare_roof_has_no_poorest_cell(client_of, erin, design, layout):
    layout["obstacles"] = []  # taken off with the hand
    got = post(client_of(erin), "workspace_heat", design, layout=layout).json()
    assert got["poorest"] is None
    assert not any(sum(panel["lost"]) for panel in got["panels"])


def test_ways_are_ranked_by_the_engines_year(client_of, erin, design, layout):
    """The gain is the difference of two years, each asked of the live answer by itself."""
    client = client_of(erin)
    answer = post(client, "workspace_strings", design, layout=layout)
    got = answer.json()
    assert len(answer.content) <= 30_000
    own = post(client, "workspace_live", design, layout=layout).json()["year"]["mean_kwh"]
    assert got["own"]["kwh"] == pytest.approx(own, abs=0.11)
    assert got["own"]["loose"] == 0
    for way in got["ways"]:
        assert sorted(panel for string in way["strings"] for panel in string["panels"]) == [1, 2, 3, 4]
        assert way["gain_kwh"] == pytest.approx(way["kwh"] - own, abs=0.21)
        taken = {**layout, "strings": way["strings"]}
        live = post(client, "workspace_live", design, layout=taken).json()  # what the screen says once taken
        assert live["year"]["mean_kwh"] == pytest.approx(way["kwh"], abs=0.11)
        assert live["strings"]["verdict"] == way["verdict"]
    refused = [way["verdict"] == "block" for way in got["ways"]]
    assert refused == sorted(refused)  # what the rules refuse comes last
    assert [way["is_own"] for way in got["ways"]].count(
        True
    ) == 1  # four panels: few ways, its own among them


def test_a_way_that_the_wire_forbids_names_the_wire(client_of, erin, design, layout):
    """Four panels in parallel carry twice the amps of 2S2P: the drop takes four times the share."""
    got = post(client_of(erin), "workspace_strings", design, layout=layout).json()
    parallel = next(way for way in got["ways"] if way["label"] == "1S4P")
    assert parallel["verdict"] == "block"
    assert "Hot working voltage" in parallel["why"]
    assert any(words.startswith("C2 ") and words.endswith("instead of 10 AWG") for words in parallel["needs"])


def test_why_the_plan_loses_is_one_sentence_that_names_the_thing(client_of, erin, design, layout):
    got = post(client_of(erin), "workspace_strings", design, layout=layout).json()
    assert got["own"]["blame"].startswith("String ")
    assert "by the air conditioner: parked nose" in got["own"]["blame"]
    assert got["own"]["blame"].count(". ") == 0


def test_what_is_in_no_string_is_wired_by_every_way(client_of, erin, design, layout):
    layout["strings"] = layout["strings"][:1]
    got = post(client_of(erin), "workspace_strings", design, layout=layout).json()
    assert got["own"]["loose"] == 2
    assert all(
        sum(len(one["panels"]) for one in way["strings"]) == 4 for way in got["ways"] if not way["is_own"]
    )


def test_a_bare_wiring_gets_ways_without_a_gain(client_of, erin, design, layout):
    layout["strings"] = []
    got = post(client_of(erin), "workspace_strings", design, layout=layout).json()
    assert got["own"] is None
    assert got["ways"]
    assert all(way["gain_kwh"] is None for way in got["ways"])


def test_two_controllers_share_three_and_two_by_the_year(client_of, erin, design, layout):
    """No number of strings makes five panels equal: each of the ten shares (5 choose 3) is compared."""
    second = design.controllers.get()
    second.pk, second.label = None, "B"
    second.save()
    turned = {**layout["panels"][-1], "number": 5, "x_mm": 6600, "y_mm": 1000}
    layout["panels"].append(turned)
    layout["strings"] = []
    client = client_of(erin)
    got = post(client, "workspace_strings", design, layout=layout).json()
    assert got["shared"] >= math.comb(5, 3)
    uneven = [way for way in got["ways"] if sorted(len(one["panels"]) for one in way["strings"]) == [2, 3]]
    assert uneven
    years = []
    for rest in itertools.combinations(range(1, 6), 2):  # every share, asked of the live answer by itself
        three = [number for number in range(1, 6) if number not in rest]
        rows = [("A", three), ("B", list(rest))]
        strings = [{"controller": label, "panels": panels, "fuse_a": None} for label, panels in rows]
        tried = post(client, "workspace_live", design, layout={**layout, "strings": strings}).json()
        years.append(tried["year"]["mean_kwh"])
    assert max(years) > min(years)
    stands = [way["kwh"] for way in got["ways"] if way["verdict"] != "block"]
    assert max(stands) >= 0.997 * max(years)  # within what counts as equal, or better


def test_more_panels_than_the_controller_takes_says_why(client_of, erin, design, layout):
    """Sixteen of these panels carry far more than the controller's 60 A, in whatever strings."""
    client, first = client_of(erin), layout["panels"][0]
    layout["panels"] += [first | {"number": number} for number in range(5, 17)]
    got = post(client, "workspace_strings", design, layout=layout).json()
    assert "Short-circuit current at the controller" in got["problem"]
    assert got["own"]["loose"] == 12
    assert got["ways"]  # of the panels that are wired
    layout["strings"] = []
    got = post(client, "workspace_strings", design, layout=layout).json()
    assert got["ways"] == []
    assert "No way wires all panels. None of" in got["reason"]


def test_money_is_told_only_to_those_who_see_prices(client_of, erin, design, layout, monkeypatch):
    client = client_of(erin)
    page = client.get(reverse("jobs:workspace", args=[design.pk])).text
    assert 'id="ws-worth"' in page
    assert "from memory" in post(client, "workspace_strings", design, layout=layout).json()["worth"]["source"]
    monkeypatch.setattr(Membership, "sees_prices", property(lambda self: False))
    assert 'id="ws-worth"' not in client.get(reverse("jobs:workspace", args=[design.pk])).text
    assert "worth" not in post(client, "workspace_strings", design, layout=layout).json()


def test_a_currency_without_a_start_value_says_so(client_of, erin, design, layout):
    design.job.shop.__class__.objects.update(currency="NZD")
    worth = post(client_of(erin), "workspace_strings", design, layout=layout).json()["worth"]
    assert worth["amount"] == ""
    assert "type what a kWh is worth" in worth["source"]


@pytest.mark.parametrize("name", ["workspace_clock", "workspace_heat", "workspace_strings"])
def test_an_empty_roof_says_why(client_of, erin, design, name):
    got = post(client_of(erin), name, design, layout={"panels": []}, clock=CLOCK).json()
    assert "no panel" in got["reason"].lower()


def test_without_a_controller_no_way_is_offered(client_of, erin, design, layout):
    design.strings.all().delete()
    design.controllers.all().delete()
    layout["strings"] = []
    got = post(client_of(erin), "workspace_strings", design, layout=layout).json()
    assert got["ways"] == []
    assert got["reason"]


@pytest.mark.parametrize("name", NAMES)
def test_others_are_kept_out(client_of, bob, charlie, design, layout, name):
    assert post(client_of(bob), name, design, layout=layout, clock=CLOCK).status_code == 403
    assert post(client_of(charlie), name, design, layout=layout, clock=CLOCK).status_code == 404
    assert post(client_of(charlie), name, design, layout=None).status_code == 404


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_stored(client_of, erin, design, layout, name):
    before = Design.objects.values().get(pk=design.pk)
    layout["panels"][0]["x_mm"] += 50
    post(client_of(erin), name, design, layout=layout, clock=CLOCK)
    assert Design.objects.values().get(pk=design.pk) == before
    assert layout_state(roof_state(Design.objects.get(pk=design.pk))) != layout


def test_the_shortest_lead_joins_neighbours():
    """On a line the shortest path goes from one end to the other; long strings go step by step."""
    places = {str(n): (float(n), 0.0) for n in range(12)}
    assert short_order(("3", "1", "2", "0"), places) == ("0", "1", "2", "3")
    mixed = ("7", "2", "9", "0", "4", "1", "8", "3", "6", "5")
    assert short_order(mixed, places) == tuple(str(n) for n in range(10))
