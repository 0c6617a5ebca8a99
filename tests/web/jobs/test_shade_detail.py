"""The year of shade on a design's page, asking for it, checking it, its scene as a file."""

from __future__ import annotations

import html
import json
import re

import pytest
from django.urls import reverse
from django.utils import timezone

import sizing
from jobs.models import Design, ShadeRun
from jobs.shade.page import STALLED
from jobs.shade.run import done_run, shade_ask, shade_work
from tests.replay import replayed

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(golden_job) -> Design:
    """Return the golden design."""
    return Design.objects.select_related("job__shop").get(pk=golden_job.designs.get().pk)


@pytest.fixture
def shaded(design, alice, now) -> Design:
    """Return the golden design with its year worked out."""

    def build() -> None:
        run = shade_ask(design=design, actor=alice, at=now)
        shade_work(run.pk, clock=lambda: now)

    replayed(f"shaded {design.pk} {alice.pk} {now}", build)
    return Design.objects.select_related("job__shop").get(pk=design.pk)


def url(name: str, design: Design) -> str:
    """Return a path of a design."""
    return reverse(f"jobs:{name}", args=[design.pk])


def page_of(client, design) -> str:
    """Return the shade part of the page."""
    page = client.get(url("design_detail", design))
    assert page.status_code == 200
    text = page.content.decode()
    return text[text.index('id="shade"') : text.index('id="strings"') if 'id="strings"' in text else None]


def words(text: str) -> str:
    """Return what is read, without tags and drawings."""
    text = re.sub(r"<svg.*?</svg>", " ", text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


# --- the page -------------------------------------------------------------------------------------


def test_it_works(shaded, erin, client_of):
    part = page_of(client_of(erin), shaded)
    text = words(part)
    run = done_run(shaded)
    assert "Rules of thumb, tried on this roof" in text
    assert run.result["folk"][0] in text
    main = run.result["year"]["wirings"][0]
    assert f"{main['mean_kwh']:,.0f} kWh a year from the panels" in text
    assert "Hollow Pine camp" in text
    assert re.search(r"Air conditioner \d+ \d+\.\d% ", text)  # cost by roof object
    assert "The air conditioner costs" in text
    assert "as designed" in text
    assert "Left out by the sizing rules: 4S1P (Cold open-circuit voltage)" in text
    assert "CRU CL 2.0" in text
    assert 'class="polar"' in part
    assert "style=" not in part


def test_every_vehicle_of_the_demo_has_all_its_answers(golden_job, alice, client_of, now):
    """Chart, loss of each panel, ranked wirings and sentences; no number of a year may be missing."""
    client = client_of(alice)
    for one in Design.objects.select_related("job__shop"):
        shade_work(shade_ask(design=one, actor=alice, at=now).pk, clock=lambda: now)
        part = page_of(client, one)
        text = words(part)
        assert 'class="polar"' in part, one.job
        assert re.search(r"[\d,]+ kWh a year from the panels, mean of all parking directions", text), one.job
        for panel in one.panels.all():
            assert re.search(rf"Panel {panel.number} [\d,]+ \d+\.\d% \d+\.\d% [\d,]+", text), (one.job, panel)
        assert re.search(r"Wirings of controller A, ranked by the year All \d+ ways", text), one.job
        sentences = text.partition("What costs most, and what to do ")[2]
        assert re.match(r"(The |Parking nose |String |Panel |Nothing on this roof)", sentences), one.job


def test_every_number_of_the_chart_is_in_a_table(shaded, erin, client_of):
    text = words(page_of(client_of(erin), shaded))
    main = done_run(shaded).result["year"]["wirings"][0]
    for turn, kwh in zip(range(0, 360, 15), main["kwh_by_heading"], strict=True):
        assert re.search(rf"\b{turn}° [A-Z]+ {kwh:,.0f} ", text)


def test_not_worked_out_yet(design, erin, client_of):
    text = words(page_of(client_of(erin), design))
    assert "Not worked out for this revision yet" in text
    assert "Work it out" in text


def test_waiting_and_running_ask_again_by_themselves(design, alice, erin, client_of, now):
    run = shade_ask(design=design, actor=alice, at=now)
    part = page_of(client_of(erin), design)
    assert "Waiting for its turn" in part
    assert f'hx-get="{url("shade_detail", design)}"' in part
    assert "Work it out" not in part
    ShadeRun.objects.filter(pk=run.pk).update(
        state="running", doing="Wirings of controller A", touched_at=timezone.now()
    )
    assert "Wirings of controller A" in page_of(client_of(erin), design)


def test_a_run_that_lost_its_worker_can_be_asked_again(design, alice, erin, client_of, now):
    run = shade_ask(design=design, actor=alice, at=now)
    ShadeRun.objects.filter(pk=run.pk).update(state="running", touched_at=timezone.now() - STALLED * 1.1)
    part = page_of(client_of(erin), design)
    assert "The work stopped partway" in part
    assert url("shade_run", design) in part
    again = shade_ask(design=design, actor=alice, at=now)
    shade_work(again.pk, clock=lambda: now)
    assert not ShadeRun.objects.filter(pk=run.pk).exists()


def test_a_changed_design_says_the_numbers_are_old(shaded, erin, client_of):
    assert "changed after this was worked out" not in page_of(client_of(erin), shaded)
    shaded.panels.filter(number=1).update(x_m=1.9)
    assert "changed after this was worked out" in page_of(client_of(erin), shaded)


def test_a_changed_roof_says_so_too(shaded, erin, client_of):
    shaded.job.survey.obstacles.filter(label="Air conditioner").update(height_m=0.2)
    assert "changed after this was worked out" in page_of(client_of(erin), shaded)


def test_an_older_engine_says_so(shaded, erin, client_of):
    ShadeRun.objects.update(engine_version="0.0")
    assert "changed after this was worked out" in page_of(client_of(erin), shaded)


def test_a_failure_is_said(design, alice, erin, client_of, now):
    shade_ask(design=design, actor=alice, at=now)
    ShadeRun.objects.update(state="failed", error="A panel <cannot> be.")
    part = page_of(client_of(erin), design)
    assert "Could not be worked out" in part
    assert "A panel &lt;cannot&gt; be." in part


def test_what_is_missing_is_said(design, erin, client_of):
    design.job.survey.stops.all().delete()
    part = page_of(client_of(erin), design)
    assert "names no place" in part
    assert "Work it out" not in part


def test_guesses_are_named(design, alice, erin, client_of, now):
    sheet = design.panels.first().part.panel_sheet
    sheet.bypass_diodes = None
    sheet.save()
    run = shade_ask(design=design, actor=alice, at=now)
    shade_work(run.pk, clock=lambda: now)
    assert "one for every two rows of cells" in page_of(client_of(erin), design)


def test_unwired_panels_have_a_year_too(design, alice, erin, client_of, now):
    design.panels.update(string=None)
    run = shade_ask(design=design, actor=alice, at=now)
    shade_work(run.pk, clock=lambda: now)
    text = words(page_of(client_of(erin), design))
    assert "each counts as if on a controller of its own" in text
    assert "Check by every hour" not in text


def test_a_technician_reads_and_asks_nothing(shaded, bob, client_of):
    part = page_of(client_of(bob), shaded)
    assert "kWh" in part
    assert url("shade_run", shaded) not in part


def test_few_queries(shaded, erin, client_of, django_assert_max_num_queries):
    client = client_of(erin)
    with django_assert_max_num_queries(12):
        client.get(url("design_detail", shaded))


# --- asked again by the page ----------------------------------------------------------------------


def test_the_page_learns_how_far_it_is(design, alice, erin, client_of, now):
    shade_ask(design=design, actor=alice, at=now)
    answer = client_of(erin).get(url("shade_detail", design), headers={"HX-Request": "true"})
    assert "Waiting for its turn" in answer.content.decode()
    assert "HX-Retarget" not in answer


def test_the_page_takes_the_whole_part_when_it_is_done(shaded, erin, client_of):
    answer = client_of(erin).get(url("shade_detail", shaded), headers={"HX-Request": "true"})
    assert answer["HX-Retarget"] == "#shade"
    assert 'class="polar"' in answer.content.decode()


def test_without_script_the_link_leads_back(shaded, erin, client_of):
    answer = client_of(erin).get(url("shade_detail", shaded))
    assert answer.url == f"{url('design_detail', shaded)}#shade"


def test_the_stranger_learns_nothing(shaded, charlie, client_of):
    assert client_of(charlie).get(url("shade_detail", shaded)).status_code == 404


# --- asking ---------------------------------------------------------------------------------------


def test_asking_puts_it_in_the_queue(golden_job, design, erin, client_of):
    other = golden_job.survey.stops.create(
        place="Far camp", latitude_deg=33.0, longitude_deg=-112.0, months=[1], nights=5
    )
    client_of(erin).post(url("shade_run", design), {"stop": str(other.key)})
    run = design.shade_runs.get()
    assert (run.kind, run.state, run.stop_key, run.by_name) == ("year", "queued", other.key, "Erin Test")


def test_a_word_that_is_no_place_means_most_nights(design, erin, client_of):
    assert client_of(erin).post(url("shade_run", design), {"stop": "x"}).status_code == 302
    assert design.shade_runs.get().stop_key is None


def test_asking_too_early_says_why(design, erin, client_of):
    design.panels.all().delete()
    text = client_of(erin).post(url("shade_run", design), follow=True).content.decode()
    assert "There is no panel on the roof yet." in text


@pytest.mark.parametrize("name", ["shade_run", "shade_check"])
def test_looking_does_not_ask(design, erin, client_of, name):
    assert client_of(erin).get(url(name, design)).status_code == 405


@pytest.mark.parametrize("name", ["shade_run", "shade_check"])
def test_a_technician_may_not(design, bob, client_of, name):
    assert client_of(bob).post(url(name, design)).status_code == 403


@pytest.mark.parametrize("name", ["shade_run", "shade_check"])
def test_the_stranger_finds_nothing_to_ask(design, charlie, client_of, name):
    assert client_of(charlie).post(url(name, design)).status_code == 404


# --- the check ------------------------------------------------------------------------------------


def test_the_check_shows_how_far_the_quick_answer_is_off(shaded, erin, client_of, now):
    client = client_of(erin)
    client.post(url("shade_check", shaded))
    run = shaded.shade_runs.get(kind="check")
    shade_work(run.pk, clock=lambda: now)
    assert "Checked by every hour:" in words(page_of(client, shaded))
    shaded.panels.filter(number=1).update(x_m=1.9)
    again = shade_ask(design=shaded, actor=erin, at=now)
    shade_work(again.pk, clock=lambda: now)
    assert "Checked by every hour:" not in words(page_of(client, shaded))  # it was of another roof


# --- the scene as a file --------------------------------------------------------------------------


def test_the_scene_is_a_file_the_engine_reads(shaded, erin, client_of):
    answer = client_of(erin).get(url("shade_scene", shaded))
    assert 'filename="scene-2026-001-1.json"' in answer["Content-Disposition"]
    assert len(sizing.scene_from_json(json.loads(answer.content)).panels) == 4


def test_there_is_no_file_before(design, erin, client_of):
    text = client_of(erin).get(url("shade_scene", design), follow=True).content.decode()
    assert "was not worked out yet" in text


def test_the_stranger_gets_no_file(shaded, charlie, client_of):
    assert client_of(charlie).get(url("shade_scene", shaded)).status_code == 404


def test_good_and_bad_years_are_told_where_there_are_any(shaded, erin, client_of):
    usual = words(page_of(client_of(erin), shaded))
    assert "no band of good and bad years" in usual
    run = shaded.shade_runs.get(kind="year")
    run.result["band"] = {"n_years": 12, "p90_kwh": 900.0, "p50_kwh": 1000.0, "p10_kwh": 1100.0}
    run.save()
    found = words(page_of(client_of(erin), shaded))
    assert "Over 12 years of weather near there it gives at least 900 kWh in nine years of ten" in found
    assert "no band of good and bad years" not in found
