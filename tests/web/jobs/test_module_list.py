"""The open module list: looked up, taken over into the catalog, fitted to a sheet typed by hand."""

from __future__ import annotations

import pytest

import sizing
from jobs.models import PanelSheet, Part
from jobs.parts.panel_curve import curve_stands
from jobs.parts.power_inputs import panel_spec

# Worked data sheet of invented make: 36 cells; the values are the handbook's 200 W class.
SHEET = {
    "pmp_w": 200, "vmp_v": 20.4, "imp_a": 9.8, "voc_v": 24.3, "isc_a": 10.2, "length_m": 1.49,
    "width_m": 0.67, "beta_voc_percent_per_c": -0.30, "alpha_isc_percent_per_c": 0.05,
    "gamma_pmp_percent_per_c": -0.38, "cells_in_series": 36,
}  # fmt: skip


@pytest.fixture(scope="module")
def listed():
    return sizing.find_modules("ablytek", limit=1)[0]


@pytest.fixture
def typed(shop):
    part = Part.objects.create(shop=shop, sku="T200", name="Typed 200", kind="panel", mass_kg=11)
    PanelSheet.objects.create(part=part, **SHEET)
    return part


def taken(client, listed, **changes):
    """Post the form of a row taken over, as the browser would send it back."""
    page = client.get("/catalogue/new/panel/", {"module": listed.name})
    data = {"module": listed.name, "sku": "L1", "unit": "each", "cost": "100", "mass_kg": "30 lb"}
    for form in (page.context["form"], page.context["sheet_form"]):
        for bound in form:
            value = bound.value()
            if value not in (None, "", False) and bound.html_name not in data:
                data[bound.html_name] = bound.field.prepare_value(value)
    data |= {"sheet-length_m": "1.58 m", "sheet-width_m": "0.81 m"}
    return client.post("/catalogue/new/panel/", data | changes)


class TestModuleList:
    def test_it_finds_by_words_and_watts(self, client_of, erin, listed):
        page = client_of(erin).get("/catalogue/modules/", {"q": "ABLYTEK", "from_w": "170", "to_w": "180"})
        rows = page.context["rows"]
        assert listed.name in [row.name for row in rows]
        assert all("ablytek" in row.name.lower() and 170 <= row.pmp_w <= 180 for row in rows)
        assert f"module={listed.name.split()[0]}" in page.content.decode()

    def test_no_more_than_fifty_are_shown_and_it_says_so(self, client_of, erin):
        page = client_of(erin).get("/catalogue/modules/", {"q": ""})
        assert len(page.context["rows"]) == 50
        assert "The first 50 are shown" in page.content.decode()

    def test_nothing_found_is_said(self, client_of, erin):
        page = client_of(erin).get("/catalogue/modules/", {"q": "nobody makes this"})
        assert "No module of the list" in page.content.decode()

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            ({"from_w": "300", "to_w": "200"}, "From must not exceed To (200 W)"),
            ({"from_w": "nan"}, "cannot be read"),
            ({"to_w": "9000"}, "To must be 0 W to 1,000 W"),
        ],
    )
    def test_a_range_that_cannot_be_is_refused(self, client_of, erin, asked, said):
        page = client_of(erin).get("/catalogue/modules/", asked)
        assert page.status_code == 422
        assert said in page.content.decode()

    @pytest.mark.parametrize("person", ["bob", "lena", "ken"])
    def test_only_designers_look(self, client_of, request, person):
        assert client_of(request.getfixturevalue(person)).get("/catalogue/modules/").status_code == 403


class TestTakenOver:
    def test_a_row_becomes_a_panel_with_its_own_model(self, client_of, erin, listed):
        answer = taken(client_of(erin), listed)
        assert answer.status_code == 302, answer.content.decode()
        part = Part.objects.get()
        assert (part.name, part.sku) == (listed.name, "L1")
        assert part.panel_sheet.voc_v == listed.voc_v
        spec = panel_spec(part)
        assert spec.single_diode == listed.single_diode
        assert "NREL SAM" in client_of(erin).get(f"/catalogue/{part.pk}/").content.decode()

    def test_a_row_made_to_say_otherwise_has_no_model(self, client_of, erin, listed):
        changed = f"{listed.voc_v * 1.02:.2f}"
        answer = taken(client_of(erin), listed, **{"sheet-voc_v": changed})
        assert answer.status_code == 302, answer.content.decode()
        assert panel_spec(Part.objects.get()).single_diode is None

    def test_an_unknown_row_is_not_found(self, client_of, erin):
        assert client_of(erin).get("/catalogue/new/panel/", {"module": "none"}).status_code == 404


class TestFit:
    def test_a_typed_sheet_is_fitted_and_the_miss_is_shown(self, client_of, erin, typed):
        client = client_of(erin)
        page = client.post(f"/catalogue/{typed.pk}/fit/", follow=True).content.decode()
        assert "fitted to this sheet" in page.lower()
        assert "is off from the sheet by at most" in page
        typed.panel_sheet.refresh_from_db()
        diode = panel_spec(typed).single_diode
        point = sizing.diode_point(diode, poa_global_w_m2=1000.0, temp_cell_c=25.0)
        assert point.voc_v == pytest.approx(24.3, rel=0.005)  # the sheet itself is what it must meet
        assert point.pmp_w == pytest.approx(200, rel=0.01)

    def test_a_changed_sheet_leaves_its_model_behind(self, client_of, erin, typed):
        client_of(erin).post(f"/catalogue/{typed.pk}/fit/")
        sheet = PanelSheet.objects.get()
        assert curve_stands(sheet)
        sheet.isc_a = 10.4
        sheet.save()
        assert panel_spec(Part.objects.get()).single_diode is None
        assert "has changed since" in client_of(erin).get(f"/catalogue/{typed.pk}/").content.decode()

    @pytest.mark.parametrize(
        ("blank", "said"),
        [
            ("beta_voc_percent_per_c", "the Voc temperature coefficient is blank"),
            ("cells_in_series", "the count of cells in series is blank"),
        ],
    )
    def test_what_a_fit_lacks_is_named(self, client_of, erin, typed, blank, said):
        PanelSheet.objects.update(**{blank: None})
        assert said in client_of(erin).post(f"/catalogue/{typed.pk}/fit/", follow=True).content.decode()

    def test_a_sheet_that_contradicts_itself_is_not_fitted(self, client_of, erin, typed):
        PanelSheet.objects.update(voc_v=20.0)
        page = client_of(erin).post(f"/catalogue/{typed.pk}/fit/", follow=True).content.decode()
        assert "Vmp 20.4 V must be below Voc 20 V" in page

    def test_it_is_for_designers_of_the_shop(self, client_of, bob, charlie, typed):
        assert client_of(bob).post(f"/catalogue/{typed.pk}/fit/").status_code == 403
        assert client_of(charlie).post(f"/catalogue/{typed.pk}/fit/").status_code == 404
