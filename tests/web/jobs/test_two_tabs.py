"""Two tabs, or two people, at one form: nothing that was saved is undone by a page opened before."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.web.jobs.test_survey_edit import fields_of

pytestmark = pytest.mark.django_db


def opened(client, url: str) -> dict[str, str]:
    """Return what a browser would send back untouched: the hidden record of what the page showed."""
    forms = [client.get(url).context[name] for name in ("form", "page") if name in client.get(url).context]
    form = getattr(forms[0], "form", forms[0])
    data = {"shown": form.fields["shown"].widget.format_value(None)}
    for name in form.fields:
        if name not in {"shown", "sure"} and form._stored(name) not in (False, []):
            data[name] = "on" if form._stored(name) is True else form._stored(name)
    return data


@pytest.fixture
def vehicle(golden_job):
    """Return the vehicle of the golden job, without the VIN that is asked about."""
    golden_job.vehicle.vin = ""
    golden_job.vehicle.save()
    return golden_job.vehicle


def test_an_older_page_keeps_what_another_saved(vehicle, alice, erin, client_of):
    url = reverse("jobs:vehicle_edit", args=[vehicle.pk])
    first, second = opened(client_of(alice), url), opened(client_of(erin), url)
    sent = first | {"make_text": "Lantern 28", "is_lived_in": "on"}
    assert client_of(alice).post(url, sent).status_code == 302
    assert client_of(erin).post(url, second | {"plate": "TAB-2"}).status_code == 302
    vehicle.refresh_from_db()
    assert (vehicle.make_text, vehicle.is_lived_in, vehicle.plate) == ("Lantern 28", True, "TAB-2")


def test_one_field_changed_in_both_is_asked_about_once(vehicle, alice, erin, client_of):
    url = reverse("jobs:vehicle_edit", args=[vehicle.pk])
    first, second = opened(client_of(alice), url), opened(client_of(erin), url)
    client_of(alice).post(url, first | {"make_text": "Lantern 28"})
    answer = client_of(erin).post(url, second | {"make_text": "Lantern 29"})
    assert answer.status_code == 422
    assert "Changed elsewhere to “Lantern 28”" in answer.context["form"].errors["make_text"][0]
    assert 'value="Lantern 29"' in answer.text
    again = opened(client_of(erin), url) | {"make_text": "Lantern 29"}
    assert client_of(erin).post(url, again).status_code == 302
    vehicle.refresh_from_db()
    assert vehicle.make_text == "Lantern 29"


def test_an_older_survey_page_undoes_nothing(golden_job, alice, erin, client_of):
    url = reverse("jobs:survey_edit", args=[golden_job.pk, "roof"])
    first, second = opened(client_of(alice), url), opened(client_of(erin), url)
    saved = client_of(alice).post(url, first | {"roof_length_m": "25' 8\""})
    assert saved.status_code == 302
    assert client_of(erin).post(url, second | {"roof_age_years": "7"}).status_code == 302
    golden_job.survey.refresh_from_db()
    assert golden_job.survey.roof_length_m == pytest.approx(25 * 0.3048 + 8 * 0.0254)
    assert golden_job.survey.roof_age_years == 7


@pytest.mark.parametrize("sent", ["", "[]", "{", "null", '{"make_text": {"a": 1}}'])
def test_a_broken_record_of_what_was_shown_harms_nothing(vehicle, alice, client_of, sent):
    url = reverse("jobs:vehicle_edit", args=[vehicle.pk])
    data = opened(client_of(alice), url) | {"shown": sent, "plate": "OK-1"}
    assert client_of(alice).post(url, data).status_code in {302, 422}


class Loads:
    """The loads' page of a survey, as two people opened it at the same time."""

    def __init__(self, survey, url, clients):
        self.rows, self.url, self.clients = survey.loads, url, clients
        self.key, self.other = survey.loads.first().key.hex, survey.loads.last().key.hex
        self.pages = [fields_of(client.get(url)) for client in clients]

    def send(self, who, key=None, **changes):
        """Return the answer to one person's page with changes to a row."""
        typed = {f"loads-{key or self.key}-{name}": text for name, text in changes.items()}
        return self.clients[who].post(self.url, self.pages[who] | typed)

    def row(self):
        return self.rows.get(key=self.key)


@pytest.fixture
def loads(golden_job, alice, erin, client_of):
    url = reverse("jobs:survey_edit", args=[golden_job.pk, "loads"])
    return Loads(golden_job.survey, url, [client_of(alice), client_of(erin)])


class TestRows:
    def test_an_older_page_keeps_what_another_saved_in_the_same_row(self, loads):
        assert loads.send(0, power_w="61").status_code == 302
        assert loads.send(1, hours_per_day="3.5").status_code == 302
        assert (loads.row().power_w, loads.row().hours_per_day) == (61, 3.5)

    def test_one_field_changed_in_both_is_asked_about_once(self, loads):
        loads.send(0, power_w="61")
        answer = loads.send(1, power_w="62")
        assert answer.status_code == 422
        assert "Changed elsewhere to “61" in answer.text
        again = fields_of(answer)
        assert again[f"loads-{loads.key}-power_w"] == ["62"]
        assert loads.clients[1].post(loads.url, again).status_code == 302
        assert loads.row().power_w == 62

    def test_a_row_removed_elsewhere_and_untouched_here_stays_away(self, loads):
        before = loads.rows.count()
        assert loads.send(0, remove="on").status_code == 302
        assert loads.send(1, key=loads.other, power_w="7").status_code == 302
        assert loads.rows.count() == before - 1
        assert loads.rows.get(key=loads.other).power_w == 7

    def test_a_row_removed_elsewhere_and_changed_here_is_asked_about_once(self, loads):
        loads.send(0, remove="on")
        answer = loads.send(1, power_w="62")
        assert answer.status_code == 422
        assert "Removed elsewhere since this page was opened" in answer.text
        assert loads.clients[1].post(loads.url, fields_of(answer)).status_code == 302
        assert loads.row().power_w == 62
