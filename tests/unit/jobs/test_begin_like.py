"""A design begun from another job: parts come along, what does not fit is said, a quote keeps its hand edits.

The golden trailer has 12 V, a roof of 7.9 × 2.2 m, four panels of 1.49 × 0.67 m with corners at 1.95 and
4.92 m, 30 A shore service and a lithium converter as a new charger; its survey measured the wires.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from jobs.customers.intake import job_intake
from jobs.design.packages import package_keep, package_remove
from jobs.design.revision import DesignRefused, design_create, design_size
from jobs.design.start import design_begin_like, misfits_seen
from jobs.models import (
    Customer,
    DesignSource,
    ExistingItem,
    Job,
    LineKind,
    LogEntry,
    Package,
    Part,
    Quote,
    Survey,
    Vehicle,
    WireLeg,
)
from jobs.quote.draft import QuoteRefused, quote_create, quote_price, scope_of, terms_of
from jobs.quote.lines import LineDraft, draft_of
from jobs.quote.repeat import quote_repeat, quote_to_repeat
from jobs.shop.rights import NotAllowed

pytestmark = pytest.mark.django_db


@pytest.fixture
def next_job(golden_job, alice, now) -> Job:
    """Return the job of another trailer, whose roof is 5.8 m long and bare."""
    trailer = Vehicle(shop=golden_job.shop, kind="travel_trailer", year=2021, make_text="Invented 19")
    caller = Customer(shop=golden_job.shop, name="Nell Pardee", phone="555-0142")
    told = Job(title="Solar as the neighbor has it")
    job = job_intake(job=told, vehicle=trailer, customer=caller, actor=alice, at=now)
    Survey.objects.filter(job=job).update(roof_length_m=5.8, roof_width_m=2.2, v_nominal_v=12)
    return Job.objects.select_related("shop", "vehicle__customer", "survey").get(pk=job.pk)


def begun(job: Job, like: Any, alice: Any, now: Any) -> Any:
    return design_begin_like(job=job, like=like, actor=alice, at=now)


def test_parts_come_along_and_the_roof_is_judged(golden_job, next_job, alice, now):
    """On paper: 4.92 + 1.49 − 5.80 = 0.61 m, 24.0 in, of panels 2 and 4 hang over the front edge."""
    like = golden_job.designs.get()
    design = begun(next_job, like, alice, now)
    assert (design.number, design.begun_from_id, design.job_id) == (1, like.pk, next_job.pk)
    assert [panel.x_m for panel in design.panels.all()] == [1.95, 4.92, 1.95, 4.92]
    assert design.strings.count() == like.strings.count()
    assert {one.part_id for one in design.controllers.all()} == {
        one.part_id for one in like.controllers.all()
    }
    assert (design.bank.part_id, design.inverter.part_id) == (like.bank.part_id, like.inverter.part_id)
    assert design.runs.exists()
    assert not design.unsized_reason
    over = [words for words in design.misfits if "over the front edge" in words]
    assert [words[:7] for words in over] == ["Panel 2", "Panel 4"]
    assert all("610 mm" in words and "24 in" in words for words in over)
    assert golden_job.designs.count() == 1


def test_wires_are_guesses_until_this_survey_knows_them(golden_job, next_job, alice, now):
    """A leg of 3.1 m that this survey measured counts; all other lengths were the other trailer's."""
    survey = Survey.objects.get(job=next_job)
    WireLeg.objects.create(
        survey=survey, circuit="C2", place="roof", length_m=3.1, confidence="measured", bundle_count=2
    )
    design = begun(next_job, golden_job.designs.get(), alice, now)
    found = {one.label: (one.run_len_m, one.confidence) for one in design.circuits.all()}
    assert found["C2"] == (3.1, "measured")
    assert found["C1"] == (2.4, "guess")
    said = next(words for words in design.misfits if words.startswith("Wire lengths of"))
    assert "C1," in said
    assert "C2" not in said


def test_what_belongs_to_the_other_vehicle_is_left_there(golden_job, next_job, alice, now):
    like = golden_job.designs.get()
    kept = golden_job.survey.existing_items.get(kind="shore")
    charger = DesignSource.objects.create(design=like, existing=kept, label="Kept charger")
    like.circuits.create(kind="C10", label="C10B", serves=f"source:{charger.pk}", run_len_m=2)
    like.sources.filter(part__isnull=False).update(alternator_rating_a=150)
    Part.objects.filter(pk=like.inverter.part_id).update(is_active=False)
    Survey.objects.filter(job=next_job).update(v_nominal_v=24)
    shore = {"kind": "shore", "rating_a": 50, "fate": "keep"}
    ExistingItem.objects.create(survey=Survey.objects.get(job=next_job), **shore)
    job = Job.objects.select_related("shop", "vehicle", "survey").get(pk=next_job.pk)
    design = begun(job, like, alice, now)
    said = " ".join(design.misfits)
    assert "The other vehicle has 12 V, this one 24 V" in said
    assert "shore service of 30 A, this one 50 A" in said
    assert f"{like.inverter.part.name} is no longer in the catalog's list" in said
    assert "Kept charger was kept on the other vehicle" in said
    assert "alternator amps at" in said
    assert not design.sources.filter(existing=kept).exists()
    assert not design.circuits.filter(label="C10B").exists()
    assert not design.sources.filter(alternator_rating_a__isnull=False).exists()


def test_what_did_not_fit_stays_until_seen_and_then_in_the_log(golden_job, next_job, alice, bob, now):
    design = begun(next_job, golden_job.designs.get(), alice, now)
    copy = design_create(job=next_job, actor=alice, at=now, copy_of=design)
    assert copy.misfits == design.misfits
    with pytest.raises(NotAllowed):
        misfits_seen(design=design, actor=bob, at=now)
    misfits_seen(design=design, actor=alice, at=now)
    design.refresh_from_db()
    assert design.misfits == []
    assert "hangs" in LogEntry.objects.get(job=next_job, verb="misfits seen").detail


def test_refusals(golden_job, next_job, alice, charlie, now):
    like = golden_job.designs.get()
    with pytest.raises(DesignRefused, match="copy it instead"):
        begun(golden_job, like, alice, now)
    with pytest.raises(NotAllowed):
        begun(next_job, like, charlie, now)
    assert not next_job.designs.exists()


def priced_by_hand(golden_job: Job, alice: Any, now: Any) -> Quote:
    """Return a quote of the golden job with hours, an allowance, a discount and a scope answer by hand."""
    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    quote = quote_create(design=design, actor=alice, at=now)
    lines = [draft_of(line) for line in quote.lines.all()]
    first = next(n for n, line in enumerate(lines) if line.kind == LineKind.LABOUR)
    lines[first] = replace(lines[first], quantity=Decimal("7.25"))
    lines += [
        LineDraft(LineKind.ALLOWANCE, "Wood under the roof", unit_price=Decimal("120.00")),
        LineDraft(LineKind.DISCOUNT, "For the first job", unit_price=Decimal("-50.00")),
    ]
    scope = scope_of(quote)
    scope[0] = replace(scope[0], note="As told on the telephone")
    return quote_price(
        quote=quote, terms=terms_of(quote), lines=lines, scope=scope, edits=quote.edits, actor=alice, at=now
    )


def test_a_quote_like_the_other_takes_edits_by_hand_and_todays_prices(golden_job, next_job, alice, now):
    """The panel went from 168.00 to 175.00: 30% on top is 227.50. The discount was the other customer's."""
    past = priced_by_hand(golden_job, alice, now)
    hand = past.lines.get(quantity=Decimal("7.25"))
    design = begun(next_job, golden_job.designs.get(), alice, now)
    Part.objects.filter(sku="P200").update(cost=Decimal("175.00"))
    design_size(design=design, actor=alice, at=now)
    assert quote_to_repeat(design) == past
    done = quote_repeat(design=design, actor=alice, at=now)
    lines = done.quote.lines
    assert (done.quote.job_id, done.quote.design_id) == (next_job.pk, design.pk)
    assert lines.get(code=hand.code).quantity == Decimal("7.25")
    assert lines.get(text="Wood under the roof").unit_price == Decimal("120.00")
    assert not lines.filter(kind=LineKind.DISCOUNT).exists()
    assert lines.get(part__sku="P200").unit_price == Decimal("227.50")
    assert done.quote.scope_items.first().note == "As told on the telephone"
    assert any("Discount" in words for words in done.words)
    assert not any("Sealant" in words for words in done.words)  # a share of the parts moves by itself
    assert Quote.objects.get(pk=past.pk).total == past.total
    assert done.quote.total == done.quote.subtotal + done.quote.tax


def test_a_quote_of_an_earlier_release_gives_its_hours(golden_job, next_job, alice, now):
    past = priced_by_hand(golden_job, alice, now)
    Quote.objects.filter(pk=past.pk).update(proposed=None)
    design = begun(next_job, golden_job.designs.get(), alice, now)
    done = quote_repeat(design=design, actor=alice, at=now)
    hand = past.lines.get(quantity=Decimal("7.25"))
    assert done.quote.lines.get(code=hand.code).quantity == Decimal("7.25")
    assert any("does not know how it was proposed" in words for words in done.words)


def test_nothing_to_repeat_is_said(golden_job, next_job, alice, now):
    with pytest.raises(QuoteRefused, match="no quote of this design"):
        quote_repeat(design=begun(next_job, golden_job.designs.get(), alice, now), actor=alice, at=now)


def test_a_package_is_frozen_placed_and_quoted_with_its_hours(golden_job, next_job, alice, now):
    past = priced_by_hand(golden_job, alice, now)
    package = package_keep(
        design=golden_job.designs.get(), name=" Weekend pair ", note="", actor=alice, at=now
    )
    assert (package.name, golden_job.designs.get().is_frozen) == ("Weekend pair", True)
    with pytest.raises(DesignRefused, match="called weekend PAIR already"):
        package_keep(design=golden_job.designs.get(), name="weekend PAIR", note="", actor=alice, at=now)
    design = begun(next_job, package.design, alice, now)
    assert not design.is_frozen
    done = quote_repeat(design=design, actor=alice, at=now)
    assert done.quote.lines.filter(quantity=Decimal("7.25")).count() == 1
    package_remove(package=package, actor=alice, at=now)
    assert Quote.objects.filter(pk=past.pk).exists()
    assert not Package.objects.exists()


def test_a_design_that_is_not_sized_is_no_package(golden_job, alice, now):
    with pytest.raises(DesignRefused, match="not sized"):
        package_keep(design=golden_job.designs.get(), name="Pair", note="", actor=alice, at=now)
