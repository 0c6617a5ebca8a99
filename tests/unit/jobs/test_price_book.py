"""The price book: typed cable and fuses, suppliers, and every change of a price kept."""

from __future__ import annotations

import csv
import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest

from jobs.forms.part import PartForm
from jobs.forms.part_wiring import _MADE, CableSheetForm, ProtectionSheetForm
from jobs.models import CableSheet, Part, PriceChange, ProtectionSheet, Shop, Supplier
from jobs.parts.catalogue import part_save
from jobs.parts.costs import Because
from jobs.parts.suppliers import supplier_save
from jobs.shop.rights import NotAllowed

NOW = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)


def cable(shop, **data):
    sent = {f"sheet-{name}": value for name, value in data.items()}
    form = CableSheetForm(sent, shop=shop, instance=CableSheet())
    form.is_valid()
    return form


class TestCable:
    # Sizes by NFPA 70, chapter 9, table 8 (AWG, kcmil) and IEC 60228, table 2 (mm²).
    @pytest.mark.parametrize(
        ("typed", "standard", "stored"),
        [
            ("10", "awg", "10 AWG"),
            ("#6", "awg", "6 AWG"),
            ("0000", "awg", "4/0 AWG"),
            ("2/0", "awg", "2/0 AWG"),
            ("250 kcmil", "awg", "250 kcmil"),
            ("16", "metric", "16 mm²"),
            ("2.5 mm2", "awg", "2.5 mm²"),
        ],
    )
    def test_a_gauge_is_stored_as_its_standard_prints_it(self, shop, typed, standard, stored):
        form = cable(shop, size=typed, standard=standard)
        assert not form.errors
        assert form.save(commit=False).gauge == stored

    @pytest.mark.parametrize(
        ("typed", "standard"), [("11", "awg"), ("5/0", "awg"), ("17", "metric"), ("x", "awg")]
    )
    def test_a_gauge_no_table_has_is_refused_with_those_there_are(self, shop, typed, standard):
        (words,) = cable(shop, size=typed, standard=standard).errors["size"]
        assert typed in words
        assert ("4/0" if standard == "awg" else "16") in words

    def test_limits_are_named_with_field_and_unit(self, shop):
        form = cable(shop, size="10", rated_v="5000", conductors="41")
        assert form.errors["rated_v"] == ["Rated voltage must be 0 V to 3,000 V; you typed 5,000 V."]
        assert form.errors["conductors"] == ["Conductors must be 1 to 40; you typed 41."]

    def test_a_metric_shop_counts_in_square_millimeters(self, shop):
        shop.units = Shop.Units.METRIC
        assert cable(shop, size="16").save(commit=False).gauge == "16 mm²"


def device(shop, **data):
    sent = {f"sheet-{name}": value for name, value in data.items()}
    form = ProtectionSheetForm(sent, shop=shop, instance=ProtectionSheet())
    form.is_valid()
    return form


class TestProtection:
    def test_a_class_t_fuse_is_taken_as_printed(self, shop):
        # UL 248-15: class T up to 1200 A; 20 kA DC and 160 V DC are quoted of makers' sheets.
        form = device(shop, family="class_t", rated_a="400", rated_v="160", interrupt_ka="20")
        assert not form.errors
        sheet = form.save(commit=False)
        assert (sheet.rated_a, sheet.rated_v, sheet.interrupt_ka) == (400, 160, 20)

    @pytest.mark.parametrize(
        ("family", "amps", "volts", "asked"),
        [("blade", "60", "32", "made from 1 to 40 A"),  # ISO 8820-3 type C
         ("blade", "30", "58", "made for up to 32 V"),
         ("gpv", "40", "1000", "made from 1 to 32 A")],  # IEC 60269-6, 10 x 38
    )  # fmt: skip
    def test_what_the_family_is_not_made_in_is_asked_about(self, shop, family, amps, volts, asked):
        form = device(shop, family=family, rated_a=amps, rated_v=volts)
        assert asked in form.errors["sure"][0]

    def test_families_reach_as_far_as_the_table_of_ratings(self):
        """Every rating that the engine's table quotes of a family may be typed without a question."""
        starts = {
            "blade_mini": "blade mini", "blade": "blade regular", "blade_maxi": "blade maxi",
            "bolt_small": "bolt-down small", "bolt_large": "bolt-down large", "strip": "strip fuse",
            "post": "terminal fuse", "class_t": "Class T", "gpv": "gPV",
        }  # fmt: skip
        with Path("sizing/tables/ocpd_standard_sizes.csv").open() as file:
            rows = list(csv.DictReader(file))
        for family, (low, high, _volts) in _MADE.items():
            rated = [float(row["rating_a"]) for row in rows if row["family"].startswith(starts[family])]
            assert rated
            assert low <= min(rated)
            assert max(rated) <= high


@pytest.fixture
def wire_house(shop):
    return Supplier.objects.create(shop=shop, name="Ridgeline Wire", lead_days=4)


def part_data(**more):
    return {"sku": "PV10", "name": "PV wire", "unit": "ft", "cost": "0.64", "mass_kg": "0.05"} | more


class TestSupplier:
    def test_a_part_waits_as_long_as_it_says_else_as_its_supplier_does(self, shop, wire_house):
        part = Part(shop=shop, supplier=wire_house)
        assert part.waits_days == 4
        part.lead_days = 0  # on the shelf next door
        assert part.waits_days == 0
        assert Part(shop=shop).waits_days is None

    def test_a_number_needs_its_supplier_and_is_of_one_part(self, shop, wire_house):
        form = PartForm(part_data(supplier_number="RW-10"), shop=shop, instance=Part(shop=shop, kind="cable"))
        assert form.errors["supplier"] == ["Please choose the supplier whose number this is."]
        same = {"supplier": wire_house, "supplier_number": "RW-10"}
        Part.objects.create(shop=shop, sku="A", name="A", kind="cable", **same)
        sent = part_data(supplier_number="RW-10", supplier=str(wire_house.pk))
        form = PartForm(sent, shop=shop, instance=Part(shop=shop, kind="cable"))
        assert form.errors["supplier_number"] == ["Number RW-10 of Ridgeline Wire is that of A, A."]

    def test_limits_of_lead_time_and_pack(self, shop):
        sent = part_data(lead_days="400", pack_size="0", unit="furlong")
        form = PartForm(sent, shop=shop, instance=Part(shop=shop, kind="cable"))
        assert form.errors["lead_days"] == ["Lead time must be 0 to 365 days; you typed 400."]
        assert form.errors["pack_size"] == ["Units in a pack must be 0.001 to 100,000; you typed 0."]
        assert "unit" in form.errors

    def test_another_shops_supplier_cannot_be_chosen(self, shop, charlie):
        theirs = Supplier.objects.create(shop=charlie.membership.shop, name="Theirs")
        form = PartForm(part_data(supplier=str(theirs.pk)), shop=shop, instance=Part(shop=shop, kind="cable"))
        assert form.errors["supplier"] == ["No supplier of this name is in the price book."]

    def test_a_stranger_writes_none(self, shop, charlie):
        with pytest.raises(NotAllowed):
            supplier_save(supplier=Supplier(shop=shop, name="X"), actor=charlie, at=NOW)


class TestPriceChanges:
    def test_each_change_keeps_old_new_day_who_and_why(self, shop, alice):
        part = Part(shop=shop, sku="P", name="P", kind="other", cost=Decimal("10.00"))
        part_save(part=part, sheet=None, actor=alice, at=NOW)
        part.cost = Decimal("12.50")
        part_save(part=part, sheet=None, actor=alice, at=NOW, because=Because(why="List of December"))
        part.name = "P2"  # no change of the price
        part_save(part=part, sheet=None, actor=alice, at=NOW)
        kept = [(one.old, one.new, one.way, one.why) for one in PriceChange.objects.all()]
        assert kept == [
            (Decimal("10.00"), Decimal("12.50"), "form", "List of December"),
            (None, Decimal("10.00"), "form", ""),
        ]  # fmt: skip
