"""Changing the parts of a draft revision in the browser."""

from __future__ import annotations

import html
import re
import uuid

import pytest
from django.urls import reverse

from jobs.design.revision import design_create, design_freeze, design_size
from jobs.design.string_plan import plan_words, string_rows
from jobs.engine.stored import latest_run
from jobs.models import Design, ExistingItem, Part
from jobs.shop.actor import ByName
from tests.replay import replayed

pytestmark = pytest.mark.django_db
PARTS = ["panels", "strings", "power", "circuits", "basis"]


@pytest.fixture
def design(golden_job, now) -> Design:
    """Return the golden design, sized."""
    design = golden_job.designs.get()
    replayed(
        f"sized {design.pk} {now}",
        lambda: design_size(design=design, actor=ByName("test"), at=now) and None,
    )
    return golden_job.designs.get()


def url(design, part: str) -> str:
    """Return the page of a part."""
    return reverse("jobs:design_edit", args=[design.pk, part])


def form_of(client, design, part: str, act: str = "") -> dict[str, str]:
    """Return what the browser would send from the page as it was opened."""
    page = client.get(url(design, part)).content.decode()
    for form in re.findall(r"<form.*?</form>", page, flags=re.S):
        found = re.search(r'name="act" value="([^"]*)"', form)
        if (found[1] if found else "") == act and "logout" not in form and "language" not in form:
            return _fields(re.sub(r"<template.*?</template>", "", form, flags=re.S))
    raise AssertionError(f"no form for {act!r}")


def _fields(form: str) -> dict[str, str]:
    data: dict[str, str] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r' name="([^"]*)"', tag)
        if name is None or 'type="submit"' in tag:
            continue
        value = re.search(r' value="([^"]*)"', tag)
        if 'type="checkbox"' in tag:
            if " checked" in tag:
                data[name[1]] = html.unescape(value[1]) if value else "on"
        else:
            data[name[1]] = html.unescape(value[1]) if value else ""
    for name, body in re.findall(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', form, flags=re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', body)
        data[name] = html.unescape(chosen[1]) if chosen else ""
    for name, body in re.findall(r'<textarea[^>]* name="([^"]*)"[^>]*>(.*?)</textarea>', form, flags=re.S):
        data[name] = html.unescape(body).strip()
    return data


def words(answer) -> str:
    """Return the words of an answer."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def test_it_works(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels")
    data["panels-0-x_m"] = "6' 6\""
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 302
    panel = design.panels.get(number=1)
    assert panel.x_m == pytest.approx(78 * 0.0254)
    assert latest_run(design).inputs["panels"][0]["x_m"] == pytest.approx(1.9812)


@pytest.mark.parametrize("part", PARTS)
def test_saving_a_page_untouched_changes_no_number(design, erin, client_of, part):
    client = client_of(erin)
    before = latest_run(design).inputs
    answer = client.post(url(design, part), form_of(client, design, part))
    assert answer.status_code == 302, words(answer)
    assert latest_run(design).pk != before
    assert latest_run(design).inputs == before


@pytest.mark.parametrize("part", PARTS)
def test_few_queries(design, erin, client_of, django_assert_max_num_queries, part):
    client = client_of(erin)
    with django_assert_max_num_queries(12):
        client.get(url(design, part))


def test_a_row_without_script(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels")
    data |= {
        "panels-4-part": str(Part.objects.get(sku="P100").pk),
        "panels-4-x_m": "1 ft",
        "panels-4-y_m": "8 in",
    }
    assert client.post(url(design, "panels"), data).status_code == 302
    assert design.panels.get(number=5).x_m == pytest.approx(0.3048)


def test_taking_a_panel_away(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels") | {"panels-3-DELETE": "on"}
    client.post(url(design, "panels"), data)
    assert sorted(design.panels.values_list("number", flat=True)) == [1, 2, 3]


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("panels-0-x_m", "ninety feet", "From the rear"),
        ("panels-0-x_m", "90 ft", "From the rear must be"),
        ("panels-0-feet", "4.5", "Feet must be a whole number"),
        ("panels-0-feet", "-4", "Feet must be 0 to 20"),
        ("panels-0-y_m", "1e9", "From the right"),
        ("basis-feet_on_rafter", "nan", "Feet screwed into rafters"),
    ],
)
def test_what_cannot_be_is_refused_by_name_and_kept(design, erin, client_of, field, typed, said):
    client = client_of(erin)
    data = form_of(client, design, "panels") | {field: typed}
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert said in html.unescape(text)
    assert "Panel 1: " in text or "basis" in field
    assert f'value="{html.escape(typed)}"' in text
    assert design.panels.get(number=1).feet == 4


def test_an_odd_value_is_asked_about_once(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels") | {"panels-0-feet": "12"}
    asked = client.post(url(design, "panels"), data)
    assert asked.status_code == 422
    assert "Please check" in asked.content.decode()
    box = re.search(r'<input[^>]*name="panels-0-sure"[^>]*>', asked.content.decode())[0]
    data["panels-0-sure"] = re.search(r'value="([0-9a-f]{16})"', box)[1]
    assert client.post(url(design, "panels"), data).status_code == 302
    assert design.panels.get(number=1).feet == 12


def test_placing_a_row(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels", "place") | {
        "place-part": str(Part.objects.get(sku="P100").pk),
        "place-count": "2",
        "place-x_m": "5 in",
        "place-y_m": "6 in",
        "place-gap_m": "1 in",
    }
    answer = client.post(url(design, "panels"), data, follow=True)
    assert "2 panels placed." in words(answer)
    first, second = design.panels.filter(number__gt=4)
    assert second.x_m - first.x_m == pytest.approx(1.05 + 0.0254, abs=1e-4)


def test_placing_a_row_says_what_is_missing(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels", "place") | {"place-count": "2.5"}
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 422
    assert "How many must be a whole number" in words(answer)
    assert design.panels.count() == 4


def test_a_plan_is_taken_with_one_button(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "strings", "plan") | {"plan": "1S4P"}
    answer = client.post(url(design, "strings"), data, follow=True)
    assert "Wired 1S4P." in words(answer)
    assert plan_words(string_rows(design)) == "1S4P on A"
    assert "28.0 V module coefficient" in words(answer)  # 24.3 × (1 + 0.0028 × 55)


@pytest.mark.parametrize("plan", ["4S1P", "", "<b>x</b>", "2S2P" * 40])
def test_a_plan_that_does_not_work_is_refused(design, erin, client_of, plan):
    client = client_of(erin)
    data = form_of(client, design, "strings", "plan") | {"plan": plan}
    answer = client.post(url(design, "strings"), data)
    assert answer.status_code == 422
    assert "no longer works" in words(answer)
    assert plan_words(string_rows(design)) == "2S2P on A"


def test_the_ways_to_wire_say_why_and_why_not(design, erin, client_of):
    text = words(client_of(erin).get(url(design, "strings")))
    assert "2S2P is the first choice" in text
    assert "Compared with the first choice" in text
    assert "in series: 112.2 V at -22 °F, above the controller's 100 V" in text


def test_strings_by_hand(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "strings") | {"strings-0-panels": "1 3", "strings-1-panels": "2+4"}
    assert client.post(url(design, "strings"), data).status_code == 302
    rows = [list(string.panels.values_list("number", flat=True)) for string in design.strings.all()]
    assert rows == [[1, 3], [2, 4]]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"strings-0-panels": "one, two"}, "Panels in series must be numbers"),
        ({"strings-0-panels": "1, 9"}, "panel 9 is not there"),
        ({"strings-0-panels": "1, 3"}, "panel 3 is not there or is wired twice"),
        ({"strings-0-controller": "F"}, "there is no controller F"),
        ({"controllers-1-part": "P", "controllers-1-label": "A"}, "Two controllers have the same letter"),
        ({"plugs-branch_plug_rating_a": "0"}, "Branch connector rating"),
    ],
)
def test_strings_that_cannot_be_are_refused(design, erin, client_of, changes, said):
    client = client_of(erin)
    part = str(Part.objects.get(sku="CC28").pk)
    changes = {name: part if value == "P" else value for name, value in changes.items()}
    answer = client.post(url(design, "strings"), form_of(client, design, "strings") | changes)
    assert answer.status_code == 422
    assert said in words(answer)
    assert plan_words(string_rows(design)) == "2S2P on A"


def test_power(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "power") | {
        "bank-quantity": "4",
        "sources-1-what": f"part:{Part.objects.get(sku='D40').pk}",
        "sources-1-alternator_rating_a": "180",
        "sources-1-driving_hours_per_day": "1",
    }
    assert client.post(url(design, "power"), data).status_code == 302
    design = Design.objects.get(pk=design.pk)
    assert design.bank.quantity == 4
    # 50 A solar + 45 A converter + 40 A DC-DC = 135 A against half of 400 Ah.
    check = {c["key"]: c for c in latest_run(design).result["checks"]}["bank/charge_sum"]
    assert (check["value"], check["limit"]) == (135.0, 200.0)


def test_what_a_charger_hangs_on_is_typed_and_judged(design, erin, client_of):
    """A DC-DC unit on a second alternator, kept apart from the converter, compensation left on, in °F."""
    client = client_of(erin)
    data = form_of(client, design, "power") | {
        "sources-0-either_or": "transfer switch",
        "sources-1-what": f"part:{Part.objects.get(sku='D40').pk}",
        "sources-1-either_or": "Transfer switch",
        "sources-1-alternator": "Second",
        "sources-1-alternator_rating_a": "180",
        "sources-1-alternator_idle_a": "70",
        "sources-1-alternator_load_a": "20",
        "sources-1-low_t_stop_c": "41",
        "sources-1-temp_comp_mv_per_c": "-24",
    }
    assert client.post(url(design, "power"), data).status_code == 302
    stored = design.sources.order_by("pk").last()
    assert (stored.either_or, stored.alternator, stored.temp_comp_mv_per_c) == (
        "Transfer switch", "Second", -24.0
    )  # fmt: skip
    assert stored.low_t_stop_c == pytest.approx(5.0)  # 41 °F
    checks = {c["key"]: c for c in latest_run(design).result["checks"]}
    # 50 A of sun and the larger of 45 and 40 A.
    assert checks["bank/charge_sum"]["value"] == 95.0
    assert checks[f"source:{stored.pk}/compensation"]["verdict"] == "block"
    # 70 A idling hot less 20 A of the vehicle's own.
    assert checks[f"source:{stored.pk}/alternator"]["limit"] == 50.0


def test_a_charger_may_feed_another_that_is_there(design, erin, client_of):
    client = client_of(erin)
    label = design.sources.get().label
    more = {"sources-1-what": f"part:{Part.objects.get(sku='D40').pk}", "sources-1-through": "Nobody"}
    answer = client.post(url(design, "power"), form_of(client, design, "power") | more)
    assert answer.status_code == 422
    assert "There is no charger “Nobody”" in words(answer)
    assert label in words(answer)
    more["sources-1-through"] = label.upper()
    assert client.post(url(design, "power"), form_of(client, design, "power") | more).status_code == 302
    # 50 A of sun and 45 A of the converter, which what feeds it does not raise.
    check = {c["key"]: c for c in latest_run(design).result["checks"]}["bank/charge_sum"]
    assert check["value"] == 95.0


def test_batteries_that_do_not_divide_are_refused(design, erin, client_of):
    client = client_of(erin)
    answer = client.post(url(design, "power"), form_of(client, design, "power") | {"bank-in_series": "2"})
    assert answer.status_code == 422
    assert "In series must divide 3 batteries" in words(answer)


def test_another_shops_part_is_no_choice(design, erin, client_of, charlie):
    theirs = Part.objects.create(shop=charlie.membership.shop, sku="X", name="Theirs", kind="panel")
    client = client_of(erin)
    data = form_of(client, design, "panels") | {"panels-0-part": str(theirs.pk)}
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 422
    assert design.panels.filter(part=theirs).count() == 0


def test_a_row_of_another_design_is_refused(golden_job, design, erin, client_of, now):
    other = design_create(job=golden_job, actor=erin, at=now, copy_of=design)
    client = client_of(erin)
    data = form_of(client, design, "panels") | {"panels-0-id": str(other.panels.first().pk)}
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 422
    assert "no longer in this design" in words(answer)


def test_circuits(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "circuits")
    row = next(name.removesuffix("-label") for name, value in data.items() if value == "C2")
    data |= {f"{row}-run_len_m": "34 ft", f"{row}-size": "8 AWG"}
    assert client.post(url(design, "circuits"), data).status_code == 302
    circuit = design.circuits.get(label="C2")
    assert circuit.run_len_m == pytest.approx(34 * 0.3048)
    assert circuit.size == "8"


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("size", "11", "Size must be one of 18, 16"),
        ("run_len_m", "400 ft", "Path, one way must be"),
        ("fuse_a", "-5", "Fuse or breaker must be 0.5 A to 800 A"),
        ("has_no_protection", "on", "either a fuse or no protection"),
        ("bundle_count", "2.5", "must be whole"),
    ],
)
def test_circuits_that_cannot_be_are_refused(design, erin, client_of, name, typed, said):
    client = client_of(erin)
    data = form_of(client, design, "circuits")
    row = next(field.removesuffix("-label") for field, value in data.items() if value == "C2")
    answer = client.post(url(design, "circuits"), data | {f"{row}-{name}": typed})
    assert answer.status_code == 422
    assert said in words(answer)
    assert "C2: " in words(answer)


def test_one_label_on_two_cables_is_refused(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "circuits")
    last = int(data["circuits-TOTAL_FORMS"]) - 1
    data |= {f"circuits-{last}-kind": "C2", f"circuits-{last}-label": "c2"}
    answer = client.post(url(design, "circuits"), data)
    assert answer.status_code == 422
    assert "C2 is used twice" in words(answer)


def test_missing_circuits_are_added_and_proposals_taken(design, erin, client_of):
    design.circuits.filter(kind="C3").delete()
    client = client_of(erin)
    page = words(client.get(url(design, "circuits")))
    assert re.search(r"The chosen parts also need [^.]*C3", page)
    client.post(url(design, "circuits"), form_of(client, design, "circuits", "propose"))
    added = design.circuits.get(kind="C3")
    assert (added.run_len_m, added.size, added.fuse_a) == (1.2, "", None)  # the survey's leg
    page = client.get(url(design, "circuits")).content.decode()
    assert re.search(r'placeholder="[^"]+ proposed"', page)
    client.post(url(design, "circuits"), form_of(client, design, "circuits", "take"))
    added.refresh_from_db()
    assert added.size
    assert added.fuse_a == 70  # 1.25 × 50 A = 62.5 A, next of NFPA 70 (2017) 240.6(A)


def test_the_basis(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "basis") | {"basis-rule_set": "code_75c", "basis-gear_mass_kg": "22 lb"}
    client.post(url(design, "basis"), data)
    design.refresh_from_db()
    assert design.rule_set == "code_75c"
    assert design.gear_mass_kg == pytest.approx(22 * 0.45359237)


def test_two_people_do_not_overwrite_one_another(design, erin, alice, client_of):
    mine, hers = client_of(erin), client_of(alice)
    data = form_of(mine, design, "basis") | {"basis-note": "mine"}
    hers.post(url(design, "basis"), form_of(hers, design, "basis") | {"basis-note": "hers"})
    refused = mine.post(url(design, "basis"), data)
    assert refused.status_code == 422
    assert "Somebody changed this revision" in words(refused)
    assert "mine</textarea>" in refused.content.decode()
    design.refresh_from_db()
    assert design.note == "hers"
    again = _fields(refused.content.decode().split('action="/account/logout/"')[-1])
    mine.post(url(design, "basis"), data | {"seen": again["seen"], "key": again["key"]})
    design.refresh_from_db()
    assert design.note == "mine"


def test_a_double_press_is_one_change(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels", "place") | {
        "place-part": str(Part.objects.get(sku="P100").pk),
        "place-x_m": "5 in",
        "place-y_m": "6 in",
    }
    assert [client.post(url(design, "panels"), data).status_code for _ in range(2)] == [302, 302]
    assert design.panels.count() == 6


def test_a_form_without_its_stamp_is_asked_again(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "basis") | {"key": "", "basis-note": "typed"}
    answer = client.post(url(design, "basis"), data)
    assert answer.status_code == 422
    assert "out of date" in words(answer)
    assert "typed</textarea>" in answer.content.decode()


def test_broken_row_counts_do_not_break_the_page(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "panels") | {"panels-TOTAL_FORMS": "x"}
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 422
    assert design.panels.count() == 4


def test_staying_on_the_page(design, erin, client_of):
    client = client_of(erin)
    answer = client.post(url(design, "basis"), form_of(client, design, "basis") | {"stay": "1"})
    assert answer.url == url(design, "basis")


@pytest.mark.parametrize("part", PARTS)
def test_a_frozen_revision_is_not_opened(design, erin, client_of, now, part):
    design_freeze(design=design, actor=ByName("customer"), at=now)
    answer = client_of(erin).get(url(design, part), follow=True)
    assert "is frozen" in words(answer)
    posted = client_of(erin).post(url(design, part), {"seen": "0", "key": str(uuid.uuid4())})
    assert posted.status_code == 302


def test_there_is_no_such_part(design, erin, client_of):
    assert client_of(erin).get(url(design, "colour")).status_code == 404


def test_a_technician_may_not(design, bob, client_of):
    assert client_of(bob).get(url(design, "panels")).status_code == 403


@pytest.mark.parametrize("part", PARTS)
def test_the_stranger_finds_nothing(design, charlie, client_of, part):
    assert client_of(charlie).get(url(design, part)).status_code == 404


def test_a_used_panel_is_chosen_from_the_survey(design, erin, client_of):
    client = client_of(erin)
    assert "panels-0-existing" not in form_of(client, design, "panels")  # nothing stays: nothing is asked
    kept = ExistingItem.objects.create(survey=design.job.survey, kind="panel", name="Old one", age_years=12)
    data = form_of(client, design, "panels")
    data["panels-1-existing"] = str(kept.pk)
    answer = client.post(url(design, "panels"), data)
    assert answer.status_code == 302, words(answer)
    asked = latest_run(design).inputs["panels"]
    assert [(each["is_used"], each["age_years"]) for each in asked[:2]] == [(False, None), (True, 12)]


def test_how_a_cable_is_made_and_lies_reaches_the_question(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "circuits")
    row = next(field.removesuffix("-label") for field, value in data.items() if value == "C2")
    typed = {
        "insulation_c": "90", "terminal_c": "60", "roof_clearance_m": "2 in", "conductor_temp_c": "140 °F",
        "parallel_conductors": "2",
    }  # fmt: skip
    data |= {f"{row}-{name}": value for name, value in typed.items()}
    data.pop(f"{row}-in_raceway")
    answer = client.post(url(design, "circuits"), data)
    assert answer.status_code == 302, words(answer)
    asked = next(each for each in latest_run(design).inputs["circuits"] if each["id"] == "C2")
    assert (asked["insulation_c"], asked["terminal_c"], asked["in_raceway"]) == (90, 60, False)
    assert asked["roof_clearance_m"] == pytest.approx(0.0508)  # 2 in
    assert asked["conductor_temp_c"] == pytest.approx(60.0)  # 140 °F
    assert asked["parallel_conductors"] == 2


def test_the_fold_of_laying_opens_where_a_row_is_not_as_usual(design, erin, client_of):
    def open_folds() -> int:
        page = client_of(erin).get(url(design, "circuits")).content.decode()
        shown = re.sub(r"<template.*?</template>", "", page, flags=re.S)
        return len(re.findall(r'<details class="more" open>\s*<summary>Insulation', shown))

    design.circuits.filter(kind__in=["C1", "C2", "C16"]).update(insulation_c=90)
    assert open_folds() == 0
    design.circuits.filter(label="C3").update(terminal_c=60)
    assert open_folds() == 1
    design.circuits.filter(label="C2").update(insulation_c=75)
    assert open_folds() == 2


def test_the_volts_of_string_fuses_are_judged(design, erin, client_of):
    client = client_of(erin)
    data = form_of(client, design, "strings") | {
        "plugs-string_fuse_voltage_v": "80",
        "strings-0-fuse_a": "15",
    }
    assert client.post(url(design, "strings"), data).status_code == 302
    strings = latest_run(design).inputs["strings"]
    assert {each["fuse_voltage_rating_v"] for each in strings} == {80.0}
