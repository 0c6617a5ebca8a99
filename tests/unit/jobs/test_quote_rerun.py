"""A draft proposed anew: what nobody touched follows, what a hand changed stays, and both are said."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from jobs.design.revision import design_create, design_size
from jobs.models import LineKind, Part, Quote
from jobs.quote.draft import QuoteRefused, quote_copy, quote_create, quote_price, scope_of, terms_of
from jobs.quote.lines import LineDraft, draft_of
from jobs.quote.rerun import moved_words, quote_rerun, rerun_of


@pytest.fixture
def quote(golden_job, alice, now) -> Quote:
    """Return a draft as it was proposed."""
    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    return quote_create(design=design, actor=alice, at=now)


def fresh(quote: Quote) -> Quote:
    return Quote.objects.select_related("job__shop", "design").get(pk=quote.pk)


def change(quote: Quote, actor, at, **by_text):
    """Change lines by hand: None takes a line out, a dict changes its fields."""
    quote, lines = fresh(quote), []
    for line in quote.lines.all():
        how = by_text.get(line.code or str(line.part_id), {})
        if how is not None:
            lines.append(replace(draft_of(line), **how))
    lines += by_text.get("more", [])
    return quote_price(
        quote=quote, terms=terms_of(quote), lines=lines, scope=scope_of(quote), edits=quote.edits,
        actor=actor, at=at,
    )  # fmt: skip


def kinds(quote: Quote) -> dict[str, str]:
    found = rerun_of(fresh(quote))
    return {each.text: each.kind for each in found.changes}


def test_nothing_changes_where_nothing_moved(quote):
    assert kinds(quote) == {}


def test_a_dearer_part_is_followed(quote, alice, now):
    """On paper: the panel's cost goes from 168.00 to 175.00; at 30% on top it sells for 227.50."""
    part = Part.objects.get(sku="P200")
    Part.objects.filter(pk=part.pk).update(cost=Decimal("175.00"))
    found = {each.text: each for each in rerun_of(fresh(quote)).changes}
    assert found[part.name].kind == "changed"
    assert "$227.50" in found[part.name].now
    done = quote_rerun(quote=quote, edits=fresh(quote).edits, actor=alice, at=now)
    line = done.lines.get(part=part)
    assert (line.unit_cost, line.unit_price) == (Decimal("175.00"), Decimal("227.50"))
    assert kinds(done) == {}


def test_an_edit_by_hand_stays_and_the_new_price_comes_all_the_same(quote, alice, now):
    part = Part.objects.get(sku="P200")
    change(quote, alice, now, **{str(part.pk): {"quantity": Decimal(6)}, "L09": {"quantity": Decimal(3)}})
    Part.objects.filter(pk=part.pk).update(cost=Decimal("175.00"))
    share = quote.lines.get(kind=LineKind.CONSUMABLES).text
    assert kinds(quote)[share] == "changed"  # follows the parts' cost; no hand changed the share itself
    done = quote_rerun(quote=quote, edits=fresh(quote).edits, actor=alice, at=now)
    line = done.lines.get(part=part)
    assert (line.quantity, line.unit_cost) == (6, Decimal("175.00"))
    assert done.lines.get(code="L09").quantity == 3


def test_a_line_taken_out_does_not_come_back_and_one_added_stays(quote, alice, now):
    extra = LineDraft(LineKind.SUBCONTRACT, "Welder", unit_price=Decimal(80))
    change(quote, alice, now, L23=None, more=[extra])
    done = quote_rerun(quote=quote, edits=fresh(quote).edits, actor=alice, at=now)
    assert not done.lines.filter(code="L23").exists()
    assert done.lines.filter(text="Welder").exists()


def test_a_smaller_design_takes_lines_away_but_not_what_was_changed_by_hand(quote, alice, now):
    second = design_create(job=quote.job, actor=alice, at=now, copy_of=quote.design)
    second.inverter.delete()
    second = type(second).objects.get(pk=second.pk)
    change(quote, alice, now, L15={"unit_price": Decimal(150)})
    design_size(design=second, actor=alice, at=now)
    found = {each.text: each for each in rerun_of(fresh(quote)).changes}
    inverter = quote.design.inverter.part.name
    assert found[inverter].kind == "removed"
    assert any(each.kind == "kept" and "no longer proposed" in each.note for each in found.values())


def test_a_page_made_before_anothers_change_is_refused(quote, alice, now):
    edits = fresh(quote).edits
    change(quote, alice, now, L09={"quantity": Decimal(3)})
    with pytest.raises(QuoteRefused, match="Somebody else changed"):
        quote_rerun(quote=quote, edits=edits, actor=alice, at=now)


def test_a_copy_remembers_how_it_was_proposed(quote, alice, now):
    Part.objects.filter(sku="P200").update(cost=Decimal("175.00"))
    Quote.objects.filter(pk=quote.pk).update(state=Quote.State.EXPIRED)
    with pytest.raises(QuoteRefused, match="has been sent"):
        quote_rerun(quote=quote, edits=0, actor=alice, at=now)
    copy = quote_copy(quote=fresh(quote), actor=alice, at=now)
    assert set(kinds(copy).values()) == {"changed"}


def test_what_moved_under_a_sent_quote_is_said(quote):
    assert moved_words(fresh(quote)) == []
    Part.objects.filter(sku="P200").update(cost=Decimal("175.00"))
    (words,) = moved_words(fresh(quote))
    assert "$168.00 → $175.00" in words
