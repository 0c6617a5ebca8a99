"""What the shop's price book does to a new quote: hours, tax of the day, scope, disposal, today's prices.

The sums beside each test are worked by hand.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from jobs.design.revision import design_size
from jobs.models import (
    ExistingItem,
    LineKind,
    Part,
    Quote,
    QuoteLine,
    ScopeText,
    TaskHours,
    TaxRate,
)
from jobs.parts.catalogue import part_save
from jobs.quote import labour, money
from jobs.quote.draft import quote_create
from jobs.quote.lines import LineDraft
from jobs.quote.price_book import PriceBookRefused, task_hours_reset, tax_rate_remove
from jobs.quote.scope import ScopeDraft, as_said
from jobs.quote.tax import also_taxed, rate_of_day


@pytest.fixture
def design(golden_job, alice, now):
    """Return the trailer's design, sized."""
    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    return design


def begin(design, actor, at) -> Quote:
    """Begin a quote on the design as it stands."""
    return quote_create(design=type(design).objects.get(pk=design.pk), actor=actor, at=at)


def task(shop, code, plan, **more):
    hours = {"low_h": Decimal(0), "plan_h": Decimal(plan), "high_h": Decimal(99)}
    return TaskHours.objects.create(shop=shop, code=code, task=f"Ours {code}", **hours | more)


class TestHours:
    def test_a_quote_plans_the_shops_hours(self, design, shop, alice, now):
        task(shop, "L11", "2.0")  # starts at 1.2: one controller
        task(shop, "L05", "0.5", is_pair=True)  # 4 panels x 0.5 = 2.0
        task(shop, "L21", "9.0", is_active=False)  # a thing the shop does not do
        hours = {line.code: line.quantity for line in begin(design, alice, now).lines.filter(kind="labour")}
        assert hours["L11"] == 2
        assert hours["L05"] == 2
        assert "L21" not in hours
        assert hours["L24"] == Decimal("2.5")  # as it starts

    def test_setting_back_gives_the_starting_hours(self, shop, alice, now):
        task(shop, "L11", "2.0")
        task(shop, "S1", "4.0")  # the shop's own
        assert {"L11", "S1"} <= labour.codes_of(shop).keys()
        for code in ("L11", "S1"):
            task_hours_reset(shop=shop, code=code, actor=alice, at=now)
        assert labour.codes_of(shop) == labour.labour_codes()

    def test_another_shops_hours_are_theirs(self, shop, charlie):
        task(charlie.membership.shop, "L11", "7")
        assert labour.codes_of(shop)["L11"].plan_h == Decimal("1.2")


class TestTax:
    def test_the_rate_that_began_last_counts(self, shop):
        for day, fraction in (("2026-01-01", "0.05"), ("2026-12-01", "0.06")):
            TaxRate.objects.create(shop=shop, name=day, from_date=day, fraction=fraction)
        found = [rate_of_day(shop, dt.date.fromisoformat(day)) for day in
                 ("2025-12-31", "2026-01-01", "2026-11-30", "2026-12-01", "2027-06-01")]  # fmt: skip
        assert [rate and rate.name for rate in found] == [
            None, "2026-01-01", "2026-01-01", "2026-12-01", "2026-12-01",
        ]  # fmt: skip

    def test_a_new_quote_takes_it_and_keeps_it(self, design, shop, alice, now):
        old = begin(design, alice, now)
        assert old.tax_fraction == shop.tax_fraction
        rate = {"fraction": Decimal("0.06"), "on_labour": True, "on_travel": True}
        TaxRate.objects.create(shop=shop, name="New", from_date=now.date() - dt.timedelta(days=1), **rate)
        new = begin(design, alice, now)
        assert (new.tax_fraction, new.tax_on_labour, new.tax_also) == (
            Decimal("0.06"), True, ["travel", "call_out"],
        )  # fmt: skip
        taxed = sum(
            line.amount for line in new.lines.all()
            if line.kind in {"part", "consumables", "labour", "travel", "call_out"} and not line.is_optional
        )  # fmt: skip
        assert new.tax == money.cent(taxed * Decimal("0.06"))
        assert Quote.objects.get(pk=old.pk).tax_fraction == shop.tax_fraction

    def test_the_day_is_the_shops(self, design, shop, alice):
        """At 05:00 UTC on December 1 it is still November in Denver (UTC-7)."""
        TaxRate.objects.create(shop=shop, name="Dec", from_date="2026-12-01", fraction="0.01")
        early = dt.datetime(2026, 12, 1, 5, tzinfo=dt.UTC)
        assert begin(design, alice, early).tax_fraction == shop.tax_fraction
        assert begin(design, alice, early + dt.timedelta(hours=2)).tax_fraction == Decimal("0.01")

    def test_travel_is_taxed_where_the_rate_says_so(self):
        """Parts 100 and travel 50 at 10 %, labor 200 not: 15.00."""
        lines = [LineDraft(kind, "x", unit_price=Decimal(price)) for kind, price in
                 ((LineKind.PART, 100), (LineKind.TRAVEL, 50), (LineKind.LABOUR, 200))]  # fmt: skip
        rule = also_taxed(money.TaxRule(Decimal("0.10")), ["travel"])
        assert money.totals(lines, tax=rule, deposit_fraction=Decimal(0)).tax == Decimal("15.00")
        exempt = also_taxed(money.TaxRule(Decimal("0.10"), is_exempt=True), ["travel"])
        assert money.totals(lines, tax=exempt, deposit_fraction=Decimal(0)).tax == 0

    def test_what_counted_once_stays(self, shop, alice, now):
        day = dt.date(2026, 1, 1)
        rate = TaxRate.objects.create(shop=shop, name="Old", from_date=day, fraction="0.05")
        with pytest.raises(PriceBookRefused):
            tax_rate_remove(rate=rate, actor=alice, at=now)


def test_a_quote_keeps_its_prices_and_a_new_one_takes_todays(design, alice, now):
    old = begin(design, alice, now)
    line = old.lines.exclude(part=None).first()
    before = line.unit_cost
    part = Part.objects.get(pk=line.part_id)
    part.cost += 11
    part_save(part=part, sheet=None, actor=alice, at=now)
    assert QuoteLine.objects.get(pk=line.pk).unit_cost == before
    assert begin(design, alice, now).lines.get(part=part).unit_cost == before + 11


class TestScope:
    def test_the_shops_words_its_answers_and_what_it_leaves_out(self, shop):
        start = {"a": ScopeDraft("A", "in", "n"), "b": ScopeDraft("B", "out"), "c": ScopeDraft("C", "in")}
        texts = [
            ScopeText(pk=1, key="a", text="Ours", answer="auto"),
            ScopeText(pk=2, key="b", text="B", is_shown=False),
            ScopeText(pk=3, key="c", text="C", answer="out", note="Never"),
            ScopeText(pk=4, text="Wash", answer="in"),
        ]
        assert list(as_said(start, texts).values()) == [
            ScopeDraft("Ours", "in", "n"), ScopeDraft("C", "out", "Never"), ScopeDraft("Wash", "in"),
        ]  # fmt: skip

    def test_a_new_quote_prints_them(self, design, shop, alice, now):
        ScopeText.objects.create(shop=shop, text="Car wash before handover", answer="in", note="Always")
        item = begin(design, alice, now).scope_items.last()
        assert (item.text, item.answer, item.note) == ("Car wash before handover", "in", "Always")


def test_what_is_hauled_away_comes_at_the_shops_rates(design, shop, alice, now):
    """Two lead batteries at -9.00 each and one panel at 12.50: -18.00 and 12.50."""
    survey = design.job.survey
    survey.existing_items.all().delete()
    for kind, count in (("battery", 2), ("panel", 1)):
        ExistingItem.objects.create(survey=survey, kind=kind, quantity=count, fate="remove")
    shop.old_battery_price, shop.old_panel_price = Decimal(-9), Decimal("12.50")
    shop.save()
    design_size(design=type(design).objects.get(pk=design.pk), actor=alice, at=now)
    amounts = [line.amount for line in begin(design, alice, now).lines.filter(kind="disposal")]
    assert amounts == [Decimal("-18.00"), Decimal("12.50")]
