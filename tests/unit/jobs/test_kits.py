"""What comes onto a quote with a part; the quantities beside each test are worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.models import CableSheet, KitItem, LineKind, Part, ProtectionSheet, Quote
from jobs.parts.kits import KitRefused, kit_item_set
from jobs.quote import materials
from jobs.quote.draft import quote_price, scope_of, terms_of
from jobs.quote.kits import kit_lines
from jobs.quote.lines import LineDraft, draft_of


@pytest.fixture
def cable(shop):
    """Return a cable sold by the foot that comes with two lugs a line, a label every 10 ft and sleeve."""
    made = {
        sku: Part.objects.create(shop=shop, sku=sku, name=name, unit=unit, cost=cost, kind="other")
        for sku, name, unit, cost in (
            ("CBL", "Cable 9/9", "ft", "8"), ("LUG", "Lug", "each", "4.60"), ("LBL", "Label", "each", "0.50"),
            ("SLV", "Sleeve", "ft", "0.30"),
        )
    }  # fmt: skip
    for sku, quantity, per in (("LUG", "2", "line"), ("LBL", "0.1", "unit"), ("SLV", "0.5", "unit")):
        KitItem.objects.create(head=made["CBL"], part=made[sku], quantity=Decimal(quantity), per=per)
    return made["CBL"]


def head(cable, feet, **more):
    return LineDraft(LineKind.PART, cable.name, quantity=Decimal(feet), unit="ft", part_id=cable.pk, **more)


class TestLines:
    def test_each_is_a_line_that_says_why(self, shop, cable):
        """25.3 ft: 2 lugs, 2.53 labels are 3, 12.65 ft of sleeve."""
        found = kit_lines([head(cable, "25.3", markup=Decimal("0.3"), is_optional=True)], shop)
        assert [(line.text, line.quantity, line.unit) for line in found] == [
            ("Lug, goes with Cable 9/9", 2, "each"),
            ("Label, goes with Cable 9/9", 3, "each"),
            ("Sleeve, goes with Cable 9/9", Decimal("12.650"), "ft"),
        ]
        assert {(line.markup, line.is_optional) for line in found} == {(Decimal("0.3"), True)}
        assert found[0].unit_cost == Decimal("4.60")

    def test_what_is_not_offered_any_more_stays_away(self, shop, cable):
        Part.objects.filter(sku="LUG").update(is_active=False)
        assert len(kit_lines([head(cable, 10)], shop)) == 2

    def test_a_customers_own_part_brings_nothing(self, shop, cable):
        line = LineDraft(LineKind.CUSTOMER_PART, "Cable", part_id=cable.pk)
        assert kit_lines([line], shop) == []


class TestQuote:
    def save(self, quote, lines, actor, at):
        quote = Quote.objects.get(pk=quote.pk)
        return quote_price(
            quote=quote, terms=terms_of(quote), lines=lines, scope=scope_of(quote), edits=quote.edits,
            actor=actor, at=at,
        )  # fmt: skip

    def test_a_part_that_is_new_on_the_quote_brings_its_kit_once(self, draft_quote, cable, alice, now):
        before = [draft_of(line) for line in draft_quote.lines.all()]
        self.save(draft_quote, [*before, head(cable, 10)], alice, now)
        texts = [line.text for line in draft_quote.lines.all()]
        assert sum("goes with Cable 9/9" in text for text in texts) == 3
        kept = [draft_of(line) for line in draft_quote.lines.all() if not line.text.startswith("Lug,")]
        self.save(draft_quote, kept, alice, now)  # somebody took the lugs out: they stay out
        assert sum("goes with" in line.text for line in draft_quote.lines.all()) == 2


class TestSet:
    def test_a_part_does_not_come_with_itself(self, cable, alice, now):
        with pytest.raises(KitRefused):
            kit_item_set(head=cable, part=cable, quantity=Decimal(1), per="unit", actor=alice, at=now)

    def test_set_again_it_changes(self, cable, alice, now):
        lug = Part.objects.get(sku="LUG")
        kit_item_set(head=cable, part=lug, quantity=Decimal(4), per="line", actor=alice, at=now)
        assert [item.quantity for item in cable.kit_items.filter(part=lug)] == [4]


class TestTyped:
    """Cable and fuses are found by what was typed about them; a name that says otherwise does not count."""

    def parts(self, shop):
        house = Part.objects.create(shop=shop, sku="A", name="House wire", kind="cable")
        roof = Part.objects.create(shop=shop, sku="B", name="Black reel", kind="cable")
        wrong = Part.objects.create(shop=shop, sku="C", name="PV wire 10 AWG", kind="cable")
        CableSheet.objects.create(part=house, size="10", family="boat")
        CableSheet.objects.create(part=roof, size="10", family="pv_wire")
        CableSheet.objects.create(part=wrong, size="12", family="pv_wire")
        for sku, family, amps in (("F1", "gpv", 30), ("F2", "switch", 30), ("F3", "class_t", 30)):
            device = Part.objects.create(shop=shop, sku=sku, name=f"Device {sku}", kind="protection")
            ProtectionSheet.objects.create(part=device, family=family, rated_a=amps)
        return list(Part.objects.of_shop(shop).order_by("sku"))

    @pytest.mark.parametrize(("circuit", "sku"), [("C2", "B"), ("C6", "A")])
    def test_the_roof_takes_pv_wire_the_inside_another(self, shop, circuit, sku):
        assert materials._cable(self.parts(shop), circuit, "10 AWG").sku == sku

    def test_a_string_fuse_and_a_switch_protect_no_circuit(self, shop):
        found = self.parts(shop)
        assert materials._fuse(found, 30.0).sku == "F3"
        assert materials._fuse(found, 40.0) is None
