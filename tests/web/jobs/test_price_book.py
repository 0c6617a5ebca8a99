"""The pages of the price book: suppliers, typed parts, what a part cost before."""

from __future__ import annotations

import pytest

from jobs.models import Part, PriceChange, ScopeText, Supplier, TaskHours, TaxRate

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


class TestRates:
    def test_the_owner_sets_what_hauling_away_costs(self, client_of, alice, shop):
        sent = {
            "labour_rate": "140", "pair_rate": "220", "labour_cost": "62", "call_fee": "95",
            "mile_rate": "2.5", "mile_cost": "0.7", "markup": "30", "consumables_fraction": "4",
            "old_battery_price": "-9", "old_panel_price": "",
        }  # fmt: skip
        assert client_of(alice).post("/price-book/", sent).status_code == 302
        shop.refresh_from_db()
        assert (shop.labour_rate, shop.old_battery_price, shop.old_panel_price) == (140, -9, None)

    def test_only_the_owner(self, client_of, erin, bob):
        for path in ("/price-book/", "/price-book/tax/"):
            assert client_of(erin).get(path).status_code == 403
        for path in ("/price-book/labor/", "/price-book/scope/", "/price-book/labor/L01/"):
            assert client_of(bob).get(path).status_code == 403


class TestLabour:
    HOURS = {"task": "Controller", "low_h": "1", "plan_h": "2", "high_h": "3", "is_active": "on"}

    def test_a_starting_code_is_changed_and_set_back(self, client_of, erin, shop):
        client = client_of(erin)
        assert ">L27</a>" in client.get("/price-book/labor/").text
        client.post("/price-book/labor/L11/", self.HOURS)
        assert TaskHours.objects.get(shop=shop).plan_h == 2
        assert "yours" in client.get("/price-book/labor/").text
        client.post("/price-book/labor/L11/back/")
        assert not TaskHours.objects.exists()

    def test_refusals(self, client_of, erin):
        client = client_of(erin)
        page = client.post("/price-book/labor/new/", self.HOURS | {"code": "L11", "high_h": "0.5"})
        assert page.status_code == 422
        assert "Code L11 is taken." in page.text
        assert "must not be below" in page.text
        assert client.get("/price-book/labor/L99/").status_code == 404

    def test_an_own_code_can_be_put_on_a_quote(self, client_of, erin, draft_quote):
        client = client_of(erin)
        client.post("/price-book/labor/new/", self.HOURS | {"code": "s1"})
        assert '<option value="S1">' in client.get(f"/quotes/{draft_quote.pk}/edit/").text


class TestTax:
    RATE = {"name": "County 2031", "from_date": "2031-01-01", "fraction": "8.25", "on_parts": "on"}

    def test_a_rate_is_added_and_taken_back_before_its_day(self, client_of, alice, shop):
        client = client_of(alice)
        assert client.post("/price-book/tax/", self.RATE).status_code == 302
        rate = TaxRate.objects.get(shop=shop)
        assert str(rate.fraction) == "0.08250"
        page = client.post("/price-book/tax/", self.RATE)
        assert "There is a rate from 2031-01-01 already." in page.text
        client.post(f"/price-book/tax/{rate.pk}/remove/")
        assert not TaxRate.objects.exists()

    def test_charlie_gets_404(self, client_of, charlie, shop):
        rate = TaxRate.objects.create(shop=shop, name="R", from_date="2031-01-01", fraction="0.1")
        assert client_of(charlie).post(f"/price-book/tax/{rate.pk}/remove/").status_code == 404
        text = ScopeText.objects.create(shop=shop, text="Ours")
        assert client_of(charlie).get(f"/price-book/scope/{text.pk}/").status_code == 404
        assert client_of(charlie).post(f"/price-book/scope/{text.pk}/back/").status_code == 404
        TaskHours.objects.create(shop=shop, code="S1", task="Ours", low_h=1, high_h=2)
        assert client_of(charlie).get("/price-book/labor/S1/").status_code == 404


class TestScope:
    def test_a_line_is_said_otherwise_and_set_back(self, client_of, erin, shop):
        client = client_of(erin)
        sent = {"text": "Storage", "answer": "in", "note": "First week", "is_shown": "on"}
        client.post("/price-book/scope/storage/", sent)
        text = ScopeText.objects.get(shop=shop)
        assert (text.key, text.text) == ("storage", "Storage")
        assert "First week" in client.get("/price-book/scope/").text
        client.post(f"/price-book/scope/{text.pk}/back/")
        assert not ScopeText.objects.exists()
        assert client.get("/price-book/scope/nothing/").status_code == 404


class TestKit:
    def test_put_together_and_taken_apart(self, client_of, erin, charlie, shop):
        head, lug = (
            Part.objects.create(shop=shop, sku=sku, name=sku, kind="other") for sku in ("CBL", "LUG")
        )
        client = client_of(erin)
        client.post(f"/catalogue/{head.pk}/kit/", {"sku": "lug", "quantity": "2", "per": "line"})
        item = head.kit_items.get()
        assert (item.part, item.quantity) == (lug, 2)
        assert "once a line" in client.get(f"/catalogue/{head.pk}/").text
        assert "2 × LUG" in client.get("/price-book/kits/").text
        assert client_of(charlie).post(f"/catalogue/kit/{item.pk}/remove/").status_code == 404
        client.post(f"/catalogue/kit/{item.pk}/remove/")
        assert not head.kit_items.exists()

    def test_what_is_typed_wrong_is_told(self, client_of, erin, shop):
        head = Part.objects.create(shop=shop, sku="CBL", name="Cable", kind="other")
        page = client_of(erin).post(
            f"/catalogue/{head.pk}/kit/", {"sku": "NO", "quantity": "0", "per": "line"}, follow=True
        )
        assert "Stock code NO is not in the catalog." in page.text
        assert "Quantity must be 0.001 to 10,000; you typed 0." in page.text
