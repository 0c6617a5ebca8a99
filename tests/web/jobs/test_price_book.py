"""The pages of the price book: suppliers, typed parts, what a part cost before."""

from __future__ import annotations

import pytest

from jobs.models import Part, PriceChange, Supplier

SUPPLIERS = "/price-book/suppliers/"
CABLE = {
    "sku": "PV10", "name": "PV wire", "unit": "ft", "cost": "0.64", "mass_kg": "0.05", "pack_size": "500",
    "shelf": "B 3", "is_active": "on", "sheet-size": "10", "sheet-standard": "awg", "sheet-family": "pv_wire",
    "sheet-conductors": "1", "sheet-rated_v": "2000", "sheet-insulation_c": "90",
}  # fmt: skip


class TestSuppliers:
    def test_one_is_added_and_changed(self, client_of, erin, shop):
        client = client_of(erin)
        client.post(f"{SUPPLIERS}new/", {"name": "Ridgeline Wire", "lead_days": "4"})
        supplier = Supplier.objects.get(shop=shop)
        assert "Ridgeline Wire" in client.get(SUPPLIERS).text
        client.post(f"{SUPPLIERS}{supplier.pk}/", {"name": "Ridgeline", "lead_days": "5"})
        supplier.refresh_from_db()
        assert (supplier.name, supplier.lead_days) == ("Ridgeline", 5)

    def test_refusals(self, client_of, erin, shop):
        Supplier.objects.create(shop=shop, name="Ridgeline")
        page = client_of(erin).post(f"{SUPPLIERS}new/", {"name": "ridgeline", "lead_days": "366"})
        assert page.status_code == 422
        assert "There is a supplier called ridgeline already." in page.text
        assert "Lead time must be 0 to 365 days; you typed 366." in page.text

    def test_charlie_gets_404_and_a_technician_403(self, client_of, charlie, bob, shop):
        pk = Supplier.objects.create(shop=shop, name="Ridgeline").pk
        assert client_of(charlie).get(f"{SUPPLIERS}{pk}/").status_code == 404
        assert client_of(bob).get(SUPPLIERS).status_code == 403


class TestPart:
    def test_a_cable_is_typed_and_its_page_says_so(self, client_of, erin, shop):
        client = client_of(erin)
        client.post("/catalogue/new/cable/", CABLE)
        part = Part.objects.get()
        assert (part.cable_sheet.gauge, part.pack_size, part.shelf) == ("10 AWG", 500, "B 3")
        page = client.get(f"/catalogue/{part.pk}/").text
        assert "500 in a pack" in page
        assert "PV wire (UL 4703)" in page

    def test_a_cable_of_which_nothing_is_said_has_no_sheet(self, client_of, erin):
        bare = {name: value for name, value in CABLE.items() if not name.startswith("sheet-")}
        client_of(erin).post("/catalogue/new/cable/", bare | {"sheet-standard": "awg"})
        assert not hasattr(Part.objects.get(), "cable_sheet")

    def test_what_it_cost_before_is_shown_to_who_sees_costs_only(self, client_of, erin, bob, shop):
        client = client_of(erin)
        client.post("/catalogue/new/cable/", CABLE)
        part = Part.objects.get()
        page = client.post(f"/catalogue/{part.pk}/edit/", CABLE | {"cost": "0.71", "why": "Copper went up"})
        assert page.status_code == 302
        assert PriceChange.objects.count() == 2
        page = client.get(f"/catalogue/{part.pk}/").text
        assert "Copper went up" in page
        assert "0.64" in page
        hidden = client_of(bob).get(f"/catalogue/{part.pk}/").text
        assert "Copper went up" not in hidden
        assert "0.64" not in hidden
        assert "0.71" not in hidden


@pytest.mark.usefixtures("golden_job")
def test_the_list_finds_by_supplier(client_of, erin, shop):
    supplier = Supplier.objects.create(shop=shop, name="Ridgeline")
    part = Part.objects.filter(shop=shop).first()
    Part.objects.filter(pk=part.pk).update(supplier=supplier, supplier_number="RW-77")
    for word in ("ridgel", "rw-77"):
        assert part.name in client_of(erin).get("/catalogue/", {"q": word}).text
