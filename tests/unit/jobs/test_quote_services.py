"""From a design to a signed offer: what is proposed, what is refused, what is frozen."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from decimal import Decimal

import pytest

from jobs.design.revision import design_size
from jobs.engine.stored import design_in_full
from jobs.engine.system import input_to_json, system_basis, system_input
from jobs.models import Design, GuestLink, Job, LineKind, LogEntry, OutboxMail, Part, Quote, Shop, SizingRun
from jobs.quote.accepted import quote_accepted
from jobs.quote.answer import QuoteNotOpen, quote_accept, quote_decline
from jobs.quote.document import content_sha256
from jobs.quote.draft import QuoteRefused, quote_copy, quote_create, quote_price, quote_review, terms_of
from jobs.quote.guest_link import LinkExpired, LinkUnknown, link_open, link_revoke
from jobs.quote.lines import LineDraft, draft_of
from jobs.quote.proposal import ROOF_ALLOWANCE, Trip
from jobs.quote.scope import ScopeDraft
from jobs.quote.send import quote_link, quote_send, quote_withdraw
from jobs.roof.read import roof_state
from jobs.shop.rights import NotAllowed
from tests.quotes import nothing_missing


@pytest.fixture
def design(golden_job, alice, now) -> Design:
    """Return the trailer's design, sized."""
    design = golden_job.designs.get()
    design_size(design=design, actor=alice, at=now)
    return design


@pytest.fixture
def quote(design, alice, now) -> Quote:
    """Return a draft quote on it."""
    return nothing_missing(quote_create(design=design, actor=alice, at=now), alice, now)


@pytest.fixture
def sent(quote, alice, now) -> Quote:
    """Return it sent."""
    quote_send(quote=quote, actor=alice, at=now)
    return Quote.objects.get(pk=quote.pk)


def quote_of(quote: Quote) -> Quote:
    """Return the quote as it stands in the database."""
    return Quote.objects.get(pk=quote.pk)


def reprice(quote: Quote, actor, at, **changes):
    """Price a quote as it stands, with some terms or lines changed."""
    values = {
        "terms": terms_of(quote),
        "lines": [draft_of(line) for line in quote.lines.all()],
        "scope": [ScopeDraft(item.text, item.answer, item.note) for item in quote.scope_items.all()],
        "edits": Quote.objects.get(pk=quote.pk).edits,
    }
    return quote_price(quote=quote, actor=actor, at=at, **(values | changes))


class TestCreate:
    @pytest.mark.parametrize(("units", "unit"), [("imperial", "ft"), ("metric", "m")])
    def test_cable_the_shop_does_not_stock_is_counted_as_the_shop_measures(
        self, design, alice, now, units, unit
    ):
        Shop.objects.filter(pk=design.job.shop_id).update(units=units)
        design.refresh_from_db()
        Part.objects.filter(sku="B20").delete()
        quote = quote_create(design=design, actor=alice, at=now)
        line = quote.lines.get(text="Cable 2/0 AWG")
        assert (line.unit, line.unit_cost) == (unit, 0)

    def test_parts_hours_and_allowance_are_proposed(self, quote, shop):
        kinds = {line.kind for line in quote.lines.all()}
        assert {LineKind.LABOUR, LineKind.PART, LineKind.CONSUMABLES, LineKind.ALLOWANCE} <= kinds
        hours = sum(line.quantity for line in quote.lines.filter(kind=LineKind.LABOUR))
        assert hours == Decimal("28.2")
        pair = quote.lines.get(is_pair=True)
        assert (pair.code, pair.quantity, pair.amount) == (
            "L05",
            Decimal("3.6"),
            Decimal("774.00"),
        )  # 3.6 × 215
        assert quote.lines.get(kind=LineKind.ALLOWANCE).amount == ROOF_ALLOWANCE

    def test_gear_is_bought_at_the_catalogues_cost_and_the_shops_markup(self, quote, shop):
        panels = quote.lines.get(part__sku="P200")
        cost = Part.objects.get(shop=shop, sku="P200").cost
        assert panels.quantity == 4
        assert panels.unit_cost == cost
        assert panels.amount == (4 * cost * Decimal("1.30")).quantize(Decimal("0.01"))
        assert {"L100", "CC50", "I2000", "K45", "FOOT-Z", "GLAND", "PV10", "B20", "FMAIN250"} <= set(
            quote.lines.exclude(part=None).values_list("part__sku", flat=True)
        )
        assert quote.lines.get(part__sku="L100").quantity == 3
        assert quote.lines.get(part__sku="FOOT-Z").quantity == 16
        # C1 2.4 m and C2 7.2 m of 10 AWG, both conductors, a tenth of slack: 5.28 m = 17.32 ft, 15.84 m =
        # 51.97 ft; each run rounded up: 17.4 + 52.0
        assert quote.lines.get(part__sku="PV10").quantity == Decimal("69.4")

    def test_the_vehicle_in_our_bay_pays_no_travel(self, quote):
        assert not quote.lines.filter(kind__in=[LineKind.TRAVEL, LineKind.CALL_OUT]).exists()

    def test_a_trip_brings_call_out_miles_and_set_up(self, design, alice, now):
        quote = quote_create(design=design, actor=alice, at=now, trip=Trip(Decimal(46), Decimal("1.5")))
        assert quote.lines.get(kind=LineKind.CALL_OUT).amount == Decimal("95.00")
        assert quote.lines.get(kind=LineKind.TRAVEL).amount == Decimal("52.50")  # (46 - 25) × 2.50
        assert quote.lines.get(code="L27").amount == Decimal("135.00")
        on_road = quote.lines.get(text__startswith="Time on the road")
        assert on_road.amount == Decimal("67.50")  # 2 × 0.5 h × 67.50

    def test_a_metric_shop_counts_and_charges_kilometers(self, design, alice, now):
        type(design.job.shop).objects.update(units="metric", mile_rate="1.55", mile_cost="0.43")
        design.refresh_from_db()
        quote = quote_create(design=design, actor=alice, at=now, trip=Trip(Decimal(74), Decimal(1)))
        fee, way = quote.lines.get(kind=LineKind.CALL_OUT), quote.lines.get(kind=LineKind.TRAVEL)
        assert "first 40 km" in fee.text
        assert fee.unit_cost == Decimal("17.20")  # 40 × 0.43
        assert (way.quantity, way.unit, way.unit_cost) == (34, "km", Decimal("0.43"))
        assert way.amount == Decimal("52.70")  # (74 - 40) × 1.55

    def test_an_old_roof_adds_a_tenth_of_the_roof_labour(self, design, alice, now):
        type(design.job.survey).objects.filter(job=design.job).update(roof_age_years=12)
        quote = quote_create(design=design, actor=alice, at=now)
        extra = quote.lines.get(text__startswith="Roof older")
        assert extra.amount == Decimal("123.30")  # 0.1 × (1.5 × 135 + 3.6 × 215 + 1.9 × 135) = 0.1 × 1233.00

    def test_cost_bands_give_each_part_its_own_markup(self, design, alice, now):
        quote = quote_create(design=design, actor=alice, at=now, by_band=True)
        foot, inverter = quote.lines.get(part__sku="FOOT-Z"), quote.lines.get(part__sku="I2000")
        assert foot.unit_price == foot.unit_cost * Decimal("1.60")  # under 50
        assert inverter.unit_price == 80 + (inverter.unit_cost - 50) * Decimal("1.40")  # 50 to 500

    def test_the_survey_fee_is_credited(self, design, alice, now):
        quote = quote_create(design=design, actor=alice, at=now, survey_fee_paid=Decimal(120))
        assert quote.lines.get(kind=LineKind.DISCOUNT).amount == Decimal("-120.00")

    def test_sixteen_things_are_said_to_be_in_out_or_allowed(self, quote):
        answers = dict(quote.scope_items.values_list("text", "answer"))
        assert len(answers) == 16
        assert answers["Replacing or disabling the old converter"] == "in"
        assert answers["Rot and soft roof"] == "allowance"
        assert answers["Changing the fridge"] == "out"

    @pytest.mark.parametrize("who", ["bob", "lena", "ken", "charlie"])
    def test_others_may_not(self, request, design, now, who):
        with pytest.raises(NotAllowed, match="owner or an estimator"):
            quote_create(design=design, actor=request.getfixturevalue(who), at=now)


class TestPrice:
    def test_two_people_cannot_overwrite_each_other(self, quote, alice, erin, now):
        reprice(quote, erin, now)
        with pytest.raises(QuoteRefused, match="Somebody else changed"):
            reprice(quote, alice, now, edits=quote.edits)

    def test_more_discount_than_price_is_refused(self, quote, alice, now):
        lines = [LineDraft(LineKind.DISCOUNT, "All of it", unit_price=Decimal(10))]
        with pytest.raises(QuoteRefused, match="less than zero"):
            reprice(quote, alice, now, lines=lines)

    def test_a_sent_quote_is_never_rewritten(self, sent, alice, now):
        with pytest.raises(QuoteRefused, match="Copy it"):
            reprice(sent, alice, now)

    def test_a_copy_starts_with_the_same_lines(self, sent, alice, now):
        copy = quote_copy(quote=sent, actor=alice, at=now)
        assert copy.is_draft
        assert copy.number == sent.number + 1
        assert copy.total == sent.total
        assert copy.lines.count() == sent.lines.count()
        assert copy.scope_items.count() == 16


class TestSend:
    def test_it_freezes_words_design_and_validity(self, quote, alice, now):
        link, _ = quote_send(quote=quote, actor=alice, at=now)
        quote.refresh_from_db()
        assert quote.state == Quote.State.SENT
        assert quote.sent_at == now
        assert quote.valid_until_date == dt.date(2026, 12, 25)  # 30 days after November 25
        assert quote.content_sha256 == content_sha256(quote.snapshot)
        assert quote.design.is_frozen
        assert quote.job.state == Job.State.QUOTED
        assert link.quote == quote

    def test_the_token_is_256_bits_and_only_its_hash_is_kept(self, quote, alice, now):
        link, token = quote_send(quote=quote, actor=alice, at=now)
        assert len(token) >= 43  # 32 bytes in base64
        assert link.token_sha256 == hashlib.sha256(token.encode()).hexdigest()
        stored = json.dumps([str(value) for row in GuestLink.objects.values() for value in row.values()])
        assert token not in stored
        assert not LogEntry.objects.filter(detail__contains=token).exists()

    def test_the_letter_brings_the_link(self, quote, alice, now):
        _, token = quote_send(quote=quote, actor=alice, at=now, site_url="https://shop.example")
        letter = OutboxMail.objects.get()
        assert (letter.to, letter.about) == ("pardee@mail.example", f"Quote {quote.number}")
        assert f"https://shop.example/q/{token}/" in letter.body

    def test_no_address_no_letter(self, quote, alice, now):
        type(quote.job.vehicle.customer).objects.update(email="")
        quote_send(quote=quote, actor=alice, at=now)
        assert not OutboxMail.objects.exists()

    def test_a_blocked_design_waits_for_the_owner(self, quote, erin, alice, now):
        make_blocked(quote, erin, now)
        with pytest.raises(QuoteRefused, match=r"Only the owner.*blocked"):
            quote_send(quote=quote, actor=erin, at=now)
        with pytest.raises(QuoteRefused, match="Say why"):
            quote_send(quote=quote, actor=alice, at=now)
        quote_send(quote=quote, actor=alice, at=now, reason="Customer moves the array to a bigger controller")
        quote.refresh_from_db()
        assert quote.override_reason.startswith("Customer moves")
        assert quote.below_margin_ok_by_name == "Alice Test"
        assert any(item["verdict"] == "block" for item in quote.snapshot["findings"])

    def test_a_thin_margin_waits_for_the_owner(self, quote, erin, alice, now):
        lines = [draft_of(line) for line in quote.lines.all()]
        cheap = [LineDraft(LineKind.PART, "Given away", unit_cost=Decimal(9000), markup=Decimal(0)), *lines]
        reprice(quote, erin, now, lines=cheap)
        with pytest.raises(QuoteRefused, match=r"margin is .* under the shop's floor of 20%"):
            quote_send(quote=quote, actor=erin, at=now)
        quote_send(quote=quote, actor=alice, at=now, reason="A favor to a friend of the shop")

    def test_a_large_quote_is_read_over_by_a_second_person(self, design, erin, make_person, shop, now):
        quote = quote_create(design=design, actor=erin, at=now)
        quote = nothing_missing(quote, erin, now)
        extra = LineDraft(LineKind.SUBCONTRACT, "Crane", unit_price=Decimal(9000), unit_cost=Decimal(100))
        reprice(quote, erin, now, lines=[*[draft_of(line) for line in quote.lines.all()], extra])
        with pytest.raises(QuoteRefused, match="second person"):
            quote_send(quote=quote, actor=erin, at=now)
        quote.refresh_from_db()
        with pytest.raises(QuoteRefused, match="Somebody else"):
            quote_review(quote=quote, actor=erin, at=now)
        quote_review(quote=quote, actor=make_person("edda", shop, "estimator"), at=now)
        quote_send(quote=quote, actor=erin, at=now)

    def test_an_empty_quote_is_refused(self, quote, alice, now):
        reprice(quote, alice, now, lines=[])
        with pytest.raises(QuoteRefused, match="no lines"):
            quote_send(quote=quote, actor=alice, at=now)

    def test_options_stay_open_side_by_side_and_a_newer_one_replaces_its_own(self, sent, design, alice, now):
        other = Design.objects.create(job=design.job, number=9, option="lantern")
        full = design_in_full(other.pk)
        asked = input_to_json(system_input(roof_state(full), system_basis(full)))
        SizingRun.objects.create(
            design=other, inputs=asked, result=sent.run.result, verdict="pass", engine_version="1", at=now
        )
        other.state = Design.State.FROZEN
        other.save()
        lantern = quote_create(design=other, actor=alice, at=now)
        lantern = nothing_missing(lantern, alice, now)
        reprice(
            lantern,
            alice,
            now,
            lines=[LineDraft(LineKind.LABOUR, "Work", quantity=Decimal(4), unit_price=Decimal(135))],
        )
        quote_send(quote=lantern, actor=alice, at=now)
        sent.refresh_from_db()
        assert sent.is_sent
        newer = quote_copy(quote=sent, actor=alice, at=now)
        quote_send(quote=newer, actor=alice, at=now)
        sent.refresh_from_db()
        lantern.refresh_from_db()
        assert sent.state == Quote.State.SUPERSEDED
        assert lantern.is_sent


class TestDocument:
    def test_it_holds_no_cost_and_no_margin(self, odd_costs, design, alice, now):
        quote = quote_create(design=design, actor=alice, at=now, trip=Trip(Decimal(46)))
        quote = nothing_missing(quote, alice, now)
        quote_send(quote=quote, actor=alice, at=now)
        text = json.dumps(quote_of(quote).snapshot)
        assert not odd_costs(text)
        assert str(quote_of(quote).direct_cost) not in text
        assert "margin" not in text.lower()
        assert "markup" not in text.lower()
        assert odd_costs(f"Cost {quote.lines.get(part__sku='P200').unit_cost:.2f}")  # the finder finds

    def test_key_numbers_name_month_and_place(self, sent):
        figures = {figure["label"]: figure for figure in sent.snapshot["figures"]}
        assert figures["Array"]["text"] == "800 W"
        assert figures["Holes in the roof"]["text"] == "73"  # 16 × 4 + 8 screws, 1 for cable
        assert "June" in figures["Daily harvest"]["note"]
        places = [stop.place for stop in sent.job.survey.stops.all() if 6 in stop.months]
        assert any(place in figures["Daily harvest"]["note"] for place in places)

    def test_tax_deposit_and_balance_are_spelled_out(self, sent):
        totals = sent.snapshot["totals"]
        assert totals["tax_text"] == "Sales tax 7.75% on parts"
        assert Decimal(totals["deposit"]) + Decimal(totals["balance"]) == sent.total

    def test_what_is_free_says_why(self, sent):
        nothing = [line for line in sent.snapshot["lines"] if Decimal(line["amount"]) == 0]
        assert {line["note"] for line in nothing} == {"No charge: part of the job"}

    def test_a_line_without_a_price_is_not_shown(self, design, alice, now):
        quote = quote_create(design=design, actor=alice, at=now)
        assert quote.lines.filter(amount=0).exists()
        quote_send(quote=quote, actor=alice, at=now, reason="They know the rest is on us")
        shown = Quote.objects.get(pk=quote.pk).snapshot["lines"]
        assert not [line for line in shown if Decimal(line["amount"]) == 0]

    def test_clipping_is_told_to_the_customer(self, sent):
        import dataclasses

        import sizing
        from jobs.engine.stored import result_of
        from jobs.quote.document import findings

        result = result_of(sent.run)
        clip = dataclasses.replace(
            result.check("controller:A/clip"), value=1 - 852 / 1020, verdict=sizing.Verdict.CAUTION
        )
        checks = tuple(clip if check.key == clip.key else check for check in result.checks)
        told = [item["sentence"] for item in findings(dataclasses.replace(result, checks=checks))]
        assert any("16.5% of the array's power" in sentence for sentence in told)


class TestLink:
    def test_a_token_opens_its_quote_only_until_it_runs_out(self, quote, alice, now):
        link, token = quote_send(quote=quote, actor=alice, at=now)
        assert link_open(token=token, at=now).quote == quote
        with pytest.raises(LinkUnknown):
            link_open(token=token + "x", at=now)
        with pytest.raises(LinkExpired):
            link_open(token=token, at=link.expires_at + dt.timedelta(seconds=1))

    def test_a_link_taken_back_is_unknown(self, quote, alice, now):
        link, token = quote_send(quote=quote, actor=alice, at=now)
        link_revoke(link=link, actor=alice, at=now)
        with pytest.raises(LinkUnknown):
            link_open(token=token, at=now)

    def test_a_new_link_ends_the_old_one(self, quote, alice, now):
        _, old = quote_send(quote=quote, actor=alice, at=now)
        _, new = quote_link(quote=Quote.objects.get(pk=quote.pk), actor=alice, at=now)
        with pytest.raises(LinkUnknown):
            link_open(token=old, at=now)
        assert link_open(token=new, at=now).quote_id == quote.pk

    def test_a_stranger_takes_nothing_back(self, quote, alice, charlie, now):
        link, _ = quote_send(quote=quote, actor=alice, at=now)
        with pytest.raises(NotAllowed):
            link_revoke(link=link, actor=charlie, at=now)


class TestAccept:
    def test_it_freezes_moves_the_job_and_tells_the_house(self, sent, now):
        heard = []
        receiver = lambda **told: heard.append((told["quote"].pk, told["at"]))  # noqa: E731
        quote_accepted.connect(receiver, weak=False)
        try:
            quote_accept(quote=sent, signed_name=" Nell  Pardee ", signature_svg="<svg/>", at=now)
        finally:
            quote_accepted.disconnect(receiver)
        sent.refresh_from_db()
        assert sent.is_accepted
        assert sent.accepted_by_name == "Nell Pardee"
        assert sent.answered_at == now
        assert sent.design.is_frozen
        assert sent.job.state == Job.State.ACCEPTED
        assert heard == [(sent.pk, now)]
        assert LogEntry.objects.filter(verb="quote accepted", actor_name="Nell Pardee").exists()

    def test_a_failing_receiver_takes_the_acceptance_with_it(self, sent, now):
        def receiver(**told):
            raise RuntimeError("the install record could not be opened")

        quote_accepted.connect(receiver, weak=False)
        try:
            with pytest.raises(RuntimeError):
                quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now)
        finally:
            quote_accepted.disconnect(receiver)
        sent.refresh_from_db()
        assert sent.is_sent
        assert Job.objects.get(pk=sent.job_id).state == Job.State.QUOTED

    def test_the_thirtieth_day_is_in_time_and_the_next_is_not(self, sent, now):
        late = now + dt.timedelta(days=31)
        with pytest.raises(QuoteNotOpen, match=r"Dec 25, 2026.*price it again"):
            quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=late)
        quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now + dt.timedelta(days=30))

    def test_the_day_is_the_shops_day(self, sent):
        # 06:30 UTC on December 26 is still December 25 in Denver.
        at = dt.datetime(2026, 12, 26, 6, 30, tzinfo=dt.UTC)
        assert quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=at).is_accepted

    def test_a_second_yes_is_refused(self, sent, now):
        quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now)
        with pytest.raises(QuoteNotOpen, match="already been accepted"):
            quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now)

    def test_a_draft_cannot_be_accepted(self, quote, now):
        with pytest.raises(QuoteNotOpen, match="not ready"):
            quote_accept(quote=quote, signed_name="Nell Pardee", signature_svg="", at=now)

    def test_a_quote_taken_back_cannot_be_accepted(self, sent, alice, now):
        quote_withdraw(quote=sent, reason="Wrong panels", actor=alice, at=now)
        with pytest.raises(QuoteNotOpen, match="replaced"):
            quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now)

    def test_a_name_is_needed(self, sent, now):
        with pytest.raises(QuoteNotOpen, match="full name"):
            quote_accept(quote=sent, signed_name=" ", signature_svg="", at=now)

    def test_after_it_a_new_quote_cannot_go_out(self, sent, alice, now):
        quote_accept(quote=sent, signed_name="Nell Pardee", signature_svg="", at=now)
        draft = quote_copy(quote=sent, actor=alice, at=now)
        with pytest.raises(QuoteRefused, match="change order"):
            quote_send(quote=draft, actor=alice, at=now)


class TestDecline:
    def test_it_ends_the_job_with_the_reason(self, sent, now):
        quote_decline(quote=sent, signed_name="Gus Pardee", reason="Too dear this year", at=now)
        sent.refresh_from_db()
        assert sent.state == Quote.State.DECLINED
        assert sent.answer_note == "Gus Pardee: Too dear this year"
        assert Job.objects.get(pk=sent.job_id).state == Job.State.DECLINED

    def test_it_wants_a_reason(self, sent, now):
        with pytest.raises(QuoteNotOpen, match="few words"):
            quote_decline(quote=sent, signed_name="Gus Pardee", reason=" ", at=now)


def make_blocked(quote: Quote, actor, at) -> None:
    """Put all four panels of the design in one string: too many volts on a freezing morning."""
    design = quote.design
    first = design.strings.order_by("number").first()
    design.panels.update(string=first)
    design.strings.exclude(pk=first.pk).delete()
    for place, panel in enumerate(design.panels.order_by("number"), start=1):
        panel.position_in_string = place
        panel.save()
