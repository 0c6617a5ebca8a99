"""Prices that are missing in a draft: what counts as missing, who may send it so, and filling them in."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobs.design.revision import design_size
from jobs.models import LineKind, Part, Quote
from jobs.models.quote import is_unpriced
from jobs.quote.draft import QuoteRefused, quote_create
from jobs.quote.lines import LineDraft
from jobs.quote.prices import can_be_asked, kind_of, prices_fill
from jobs.quote.send import quote_send

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(golden_job, alice, now) -> Quote:
    """Return a draft whose catalog lacks two fuses; what old batteries bring is not said."""
    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    return Quote.objects.get(pk=quote_create(design=design, actor=alice, at=now).pk)


def missing(quote: Quote) -> list:
    return [line for line in quote.lines.select_related("part") if line.is_unpriced]


@pytest.mark.parametrize(
    ("kind", "is_missing"),
    [
        (LineKind.PART, True),
        (LineKind.LABOUR, True),
        (LineKind.DISPOSAL, True),
        (LineKind.CUSTOMER_PART, False),
        (LineKind.DISCOUNT, False),
    ],
)
def test_a_line_at_zero_misses_its_price(kind, is_missing):
    assert is_unpriced(LineDraft(kind, "x")) is is_missing
    assert not is_unpriced(LineDraft(kind, "x", free_reason="goodwill"))


def test_a_share_of_no_parts_is_no_missing_price():
    assert not is_unpriced(LineDraft(LineKind.CONSUMABLES, "Sealant", unit="of parts"))


def test_the_owner_alone_sends_it_so_and_is_named(quote, alice, erin, now):
    with pytest.raises(
        QuoteRefused, match=r"Only the owner can send this\. Price missing: Fuse or breaker 70 A"
    ):
        quote_send(quote=quote, actor=erin, at=now, reason="In a hurry")
    with pytest.raises(QuoteRefused, match="Say why"):
        quote_send(quote=quote, actor=alice, at=now)
    quote_send(quote=quote, actor=alice, at=now, reason="Fuses come out of the drawer")
    sent = Quote.objects.get(pk=quote.pk)
    assert (sent.below_margin_ok_by_name, sent.override_reason) == (
        "Alice Test",
        "Fuses come out of the drawer",
    )
    assert sent.margin_fraction is None


def test_prices_go_into_the_lines_and_into_the_catalog(quote, alice, now):
    prices = {line.pk: Decimal("18.00") for line in missing(quote)}
    filled = prices_fill(quote=quote, prices=prices, edits=quote.edits, actor=alice, at=now)
    assert not missing(filled)
    assert filled.margin_fraction is not None
    fuse = filled.lines.get(text="Fuse or breaker 60 A")
    assert fuse.unit_cost == Decimal("18.00")
    assert fuse.unit_price == Decimal("23.40")  # the shop's 30 % on top
    assert (fuse.part.kind, fuse.part.cost) == (Part.Kind.PROTECTION, Decimal("18.00"))
    again = quote_create(design=quote.design, actor=alice, at=now)
    assert again.lines.get(text="Fuse or breaker 60 A").part == fuse.part
    assert filled.total > quote.total


def test_the_catalog_keeps_two_of_one_name_apart(quote, alice, now):
    Part.objects.create(shop=quote.job.shop, sku="FUSE-OR-BREAKER-60-A", name="An old one", kind="other")
    (line,) = (line for line in missing(quote) if line.text.endswith("60 A"))
    filled = prices_fill(quote=quote, prices={line.pk: Decimal(9)}, edits=quote.edits, actor=alice, at=now)
    assert filled.lines.get(text=line.text).part.sku == "FUSE-OR-BREAKER-60-A-2"


def test_what_is_not_asked_stays(quote, alice, now):
    priced_line = quote.lines.exclude(amount=0).filter(kind=LineKind.PART).first()
    filled = prices_fill(
        quote=quote, prices={priced_line.pk: Decimal(1)}, edits=quote.edits, actor=alice, at=now
    )
    assert filled.lines.get(text=priced_line.text).unit_cost == priced_line.unit_cost
    assert len(missing(filled)) == len(missing(quote))


def test_two_people_cannot_overwrite_each_other(quote, alice, now):
    with pytest.raises(QuoteRefused, match="Somebody else changed"):
        prices_fill(quote=quote, prices={}, edits=quote.edits + 1, actor=alice, at=now)


def test_hours_are_not_asked_as_one_amount():
    line = Quote.lines.rel.related_model(kind=LineKind.LABOUR, text="Work", amount=0)
    assert line.is_unpriced
    assert not can_be_asked(line)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Cable 6 AWG", Part.Kind.CABLE),
        ("String fuse and holder", Part.Kind.PROTECTION),
        ("Battery switch", Part.Kind.PROTECTION),
        ("Mounting foot with screws", Part.Kind.MOUNT),
        ("Busbars with covers", Part.Kind.OTHER),
    ],
)
def test_words_tell_the_kind(text, kind):
    assert kind_of(text) == kind
