"""The catalog: parts with their data sheets, and who sees what they cost."""

from __future__ import annotations

import pytest

from jobs.models import PanelSheet, Part

PANEL = {
    "sku": "P200", "support_phone": "800 555 0190", "name": "Panel 200", "unit": "each", "cost": "168.00",
    "mass_kg": "25 lb", "is_active": "on",
    "sheet-pmp_w": "200", "sheet-vmp_v": "20.4", "sheet-imp_a": "9.8", "sheet-voc_v": "24.3",
    "sheet-isc_a": "10.2",
    "sheet-length_m": "4' 10 11/16\"", "sheet-width_m": "26 3/8 in", "sheet-thickness_m": "35 mm",
    "sheet-beta_voc_percent_per_c": "-0.28", "sheet-alpha_isc_percent_per_c": "0.05",
    "sheet-max_series_fuse_a": "20",
}  # fmt: skip


@pytest.fixture
def panel(shop):
    part = Part.objects.create(shop=shop, sku="OLD", name="Old panel", kind="panel", cost="123.45")
    PanelSheet.objects.create(
        part=part, pmp_w=100, vmp_v=18, imp_a=5.56, voc_v=22, isc_a=5.9, length_m=1.2, width_m=0.54
    )
    return part


class TestPartCreate:
    def test_it_works(self, client_of, erin, shop):
        answer = client_of(erin).post("/catalogue/new/panel/", PANEL)
        part = Part.objects.get()
        assert answer.headers["Location"] == f"/catalogue/{part.pk}/"
        assert (part.shop, part.kind) == (shop, "panel")
        assert part.panel_sheet.voc_v == 24.3
        page = client_of(erin).get(f"/catalogue/{part.pk}/").content.decode()
        assert 'href="tel:8005550190"' in page
        assert part.panel_sheet.length_m == pytest.approx(1.4907, abs=1e-4)
        assert part.panel_sheet.thickness_m == pytest.approx(0.035)

    @pytest.mark.parametrize("kind", ["controller", "battery", "inverter", "charger", "mount"])
    def test_every_kind_has_its_form(self, client_of, erin, kind):
        assert client_of(erin).get(f"/catalogue/new/{kind}/").status_code == 200

    def test_a_controller_keeps_its_share_as_a_fraction(self, client_of, erin):
        data = {
            "sku": "C", "name": "C", "unit": "each", "cost": "1", "mass_kg": "1", "sheet-principle": "mppt",
            "sheet-pv_voltage_limit_v": "100", "sheet-rated_output_a": "50", "sheet-start_margin_v": "5",
            "sheet-run_margin_v": "1", "sheet-efficiency_fraction": "96 %",
        }  # fmt: skip
        client_of(erin).post("/catalogue/new/controller/", data)
        sheet = Part.objects.get().controller_sheet
        assert sheet.efficiency_fraction == pytest.approx(0.96)
        assert (sheet.has_low_t_stop, sheet.low_t_stop_c) == (False, None)  # nobody stated one

    def test_an_inverter_charger_says_its_amps_and_where_it_stops(self, client_of, erin):
        data = {
            "sku": "I", "name": "I", "unit": "each", "cost": "1", "mass_kg": "1", "sheet-power_w": "3000",
            "sheet-idle_w": "25", "sheet-efficiency_fraction": "88 %", "sheet-is_charger": "on",
            "sheet-charge_a": "120", "sheet-has_low_t_stop": "on", "sheet-low_t_stop_c": "32",
        }  # fmt: skip
        client_of(erin).post("/catalogue/new/inverter/", data)
        sheet = Part.objects.get().inverter_sheet
        assert (sheet.charge_a, sheet.has_low_t_stop) == (120.0, True)
        assert sheet.low_t_stop_c == pytest.approx(0.0)  # 32 °F

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"sheet-voc_v": "19"}, "Vmp 20.4 V must be below Voc 19 V"),
            ({"sheet-isc_a": "9"}, "Imp 9.8 A must be below Isc 9 A"),
            ({"sheet-pmp_w": "207"}, "Vmp × Imp is 199.9 W, more than 3% off the 207 W"),  # 3.4 %
            ({"sheet-cells_in_series": "144"}, "144 cells in series would have 0.17 V each"),
            ({"sheet-max_series_fuse_a": "10"}, "a series fuse of 10 A would blow at Isc 10.2 A"),
            ({"sheet-beta_voc_percent_per_c": "0.28"}, "Voc temperature coefficient must be"),
            ({"sheet-voc_v": "nan"}, "cannot be read as a voltage"),
            ({"cost": "-1"}, "greater than or equal to 0"),
            ({"sku": ""}, "This field is required"),
        ],
    )
    def test_a_sheet_that_cannot_be_right_is_refused(self, client_of, erin, change, said):
        page = client_of(erin).post("/catalogue/new/panel/", PANEL | change)
        assert page.status_code == 422
        assert said in page.content.decode()
        assert not Part.objects.exists()

    def test_a_stock_code_is_used_once(self, client_of, erin, panel):
        assert (
            "taken by Old panel"
            in client_of(erin).post("/catalogue/new/panel/", PANEL | {"sku": "old"}).content.decode()
        )

    def test_an_unknown_kind_is_not_found(self, client_of, erin):
        assert client_of(erin).get("/catalogue/new/spaceship/").status_code == 404

    @pytest.mark.parametrize("person", ["bob", "lena", "ken"])
    def test_only_designers_write(self, client_of, request, panel, person):
        client = client_of(request.getfixturevalue(person))
        assert client.post("/catalogue/new/panel/", PANEL).status_code == 403
        assert client.get(f"/catalogue/{panel.pk}/edit/").status_code == 403


class TestPartEdit:
    def test_it_works(self, client_of, erin, panel):
        client_of(erin).post(f"/catalogue/{panel.pk}/edit/", PANEL)
        panel.refresh_from_db()
        assert (panel.name, panel.panel_sheet.pmp_w) == ("Panel 200", 200)
        assert PanelSheet.objects.count() == 1

    @pytest.mark.parametrize("path", ["", "edit/"])
    def test_it_hides_the_part_from_a_stranger(self, client_of, charlie, panel, path):
        assert client_of(charlie).get(f"/catalogue/{panel.pk}/{path}").status_code == 404


class TestPartList:
    @pytest.mark.parametrize(
        ("person", "sees"), [("alice", True), ("ken", True), ("bob", False), ("lena", False)]
    )
    def test_costs_are_for_those_who_may_see_them(self, client_of, request, panel, person, sees):
        client = client_of(request.getfixturevalue(person))
        for url in ("/catalogue/", f"/catalogue/{panel.pk}/"):
            assert ("123.45" in client.get(url).content.decode()) is sees

    def test_it_filters(self, client_of, bob, shop, panel):
        Part.objects.create(shop=shop, sku="M1", name="Foot", kind="mount")
        assert [p.name for p in client_of(bob).get("/catalogue/?kind=mount").context["page"]] == ["Foot"]
        assert [p.name for p in client_of(bob).get("/catalogue/?q=old").context["page"]] == ["Old panel"]

    def test_queries_do_not_grow(self, client_of, bob, shop, panel, django_assert_num_queries):
        client = client_of(bob)
        for count in (10, 990):
            start = Part.objects.count()
            Part.objects.bulk_create(
                Part(shop=shop, sku=f"S{start + i}", name=f"Part {i}", kind="panel") for i in range(count)
            )
            with django_assert_num_queries(4):
                client.get("/catalogue/")

    def test_a_sheet_reads_in_the_shops_units(self, client_of, bob, panel):
        text = client_of(bob).get(f"/catalogue/{panel.pk}/").content.decode()
        assert "22.0 V" in text
        assert "3&#x27; 11 1/4&quot;" in text

    def test_a_stranger_sees_none(self, client_of, charlie, panel):
        assert not client_of(charlie).get("/catalogue/").context["page"].object_list
