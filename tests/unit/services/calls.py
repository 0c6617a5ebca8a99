"""Knows how each service is called on a job, and what it needs that was made before."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from checklists.models import Deviation
from checklists.office.plan_change import plan_change
from checklists.photos.photos import Picture, photo_keep
from checklists.photos.uploads import Announced, upload_append, upload_open
from checklists.record.read import work_of
from checklists.rules.hand_over import FORM, recorded_rows, sha256_of
from checklists.rules.job_entries import Worked
from checklists.sheet.hand_over import Signed, hand_over_sign
from checklists.sheet.issue import sheet_issue
from checklists.sheet.sign import sheet_sign
from checklists.tablet.devices import (
    Call,
    batch_hold,
    device_revoke,
    device_seen,
)
from checklists.tablet.wire import read_batch
from checklists.texts.edit import shop_text_write
from jobs.autolayout.question import LayoutOptions
from jobs.autolayout.run import layout_candidate_take, layout_search_ask
from jobs.customers.customer import customer_save, vehicle_save
from jobs.customers.intake import job_intake
from jobs.customers.job import job_move_by_hand
from jobs.design.circuits import circuits_change
from jobs.design.noted import checks_note
from jobs.design.panels import panels_place_row
from jobs.design.power import power_change
from jobs.design.revision import Change, design_create, design_resize
from jobs.design.strings import plan_take, strings_change
from jobs.design.survey_saved import survey_save
from jobs.models import (
    Bay,
    Booking,
    CalendarLink,
    ChangeOrder,
    Customer,
    Job,
    KitItem,
    Membership,
    Part,
    ScopeText,
    TableRun,
    TaskHours,
    TaxRate,
    Vehicle,
)
from jobs.parts.catalogue import part_save
from jobs.parts.kits import kit_item_set
from jobs.quote.answer import quote_accept, quote_decline
from jobs.quote.change_order import (
    change_order_accept,
    change_order_create,
    change_order_decline,
    change_order_show,
)
from jobs.quote.draft import quote_price, terms_of
from jobs.quote.guest_link import link_mark_used
from jobs.quote.lines import draft_of
from jobs.quote.price_book import scope_text_save, task_hours_save, tax_rate_add
from jobs.quote.prices import prices_fill
from jobs.roof.read import roof_state
from jobs.schedule.book import Wish, booking_create
from jobs.shop.actor import ByName, name_of
from jobs.shop.members import language_choose, member_add, member_change
from jobs.survey.changes import PartChanges
from jobs.survey.photo import roof_photo_add, roof_photo_place
from jobs.workspace.drag_cache import read_design
from jobs.workspace.edit import layout_save, read_layout
from jobs.workspace.obstacles import RoofOfVehicle, save_roof
from jobs.workspace.state import layout_state
from tests.unit.checklists.walk import drawn
from tests.unit.services.world import (
    FACTS,
    NOW,
    PRICED,
    REASON,
    STROKES,
    TABLET,
    Side,
    announce,
    batch_body,
    ident,
    record,
    sign,
    tablet,
)

EVERYBODY = frozenset({"owner", "estimator", "lead", "technician", "bookkeeper"})
DESK = frozenset({"owner", "estimator"})
FIELD = frozenset({"owner", "estimator", "lead", "technician"})
MONEY = frozenset({"owner", "bookkeeper"})
PRICES = frozenset({"owner", "estimator", "bookkeeper"})
OWNER = frozenset({"owner"})


@dataclass(frozen=True)
class Service:
    """One call of a service: on which stage of a job, by whom, and what it needs that was made before."""

    does: Callable[..., Any]
    stage: str
    may: frozenset[str]
    call: Callable[[Side, Any, Any], Any]
    given: Callable[[Side], Any] = lambda side: None
    note: str = ""

    @property
    def name(self) -> str:
        """Return what it is called in an answer of a test."""
        return f"{self.does.__name__}{f' ({self.note})' if self.note else ''}"


def on_design(does: Callable[..., Any], **values: Any) -> Service:
    """Return a change of a draft design by who may design."""
    return Service(
        does, "sized", DESK, lambda side, who, _: does(design=side.design, change=change_by(who), **values)
    )


def change_by(who: Any) -> Change:
    """Return a change by this person."""
    return Change(actor=who, at=NOW)


def bay_of(side: Side) -> Bay:
    """Return the bay of a shop."""
    found = Bay.objects.filter(shop=side.shop).first()
    return found or Bay.objects.create(shop=side.shop, name="Bay 1")


def days_asked(side: Side, day: int = 7) -> Wish:
    """Return a day in pencil, the seventh of December or another."""
    start = NOW.date() + timedelta(days=day + 5)
    return Wish(bay=bay_of(side), starts_on=start, state=Booking.State.PENCILLED, days=1)


def days_held(side: Side) -> Booking:
    """Return a day that is held."""
    wish = days_asked(side)
    return booking_create(job=side.job, wish=wish, actor=side.owner, at=NOW).booking


def days_firm(side: Side) -> Booking:
    """Return a firm booking of a customer who reads e-mail."""
    Customer.objects.filter(pk=side.job.vehicle.customer_id).update(email="nell@pardee.example")
    booking = days_held(side)
    Booking.objects.filter(pk=booking.pk).update(state=Booking.State.BOOKED)
    return booking


def calendar_of_everybody(side: Side) -> None:
    """Give each person of the shop a calendar link."""
    for member in Membership.objects.filter(shop=side.shop):
        sha256 = hashlib.sha256(f"calendar {member.pk}".encode()).hexdigest()
        CalendarLink.objects.create(member=member, token_sha256=sha256, created_at=NOW)


def own_calendar(does: Callable[..., Any]) -> Callable[..., Any]:
    """Return a call on the caller's own calendar link; of who has no place in the shop, on the owner's."""

    def call(side: Side, who: Any, _: Any) -> Any:
        mine = Membership.objects.filter(user=who.pk, shop=side.shop).first()
        return does(member=mine or side.owner.membership, actor=who, at=NOW)

    return call


def moved(to: str, state: str, may: frozenset[str], reason: str = "") -> Service:
    """Return a move of the job by hand from one state to another."""

    def given(side: Side) -> Job:
        Job.objects.filter(pk=side.job.pk).update(state=state)
        return Job.objects.select_related("shop").get(pk=side.job.pk)

    def call(side: Side, who: Any, job: Job) -> Any:
        return job_move_by_hand(job=job, to=to, actor=who, at=NOW, reason=reason)

    return Service(job_move_by_hand, "design", may, call, given, note=f"{state} to {to}")


def note_days(side: Side, who: Any, _: Any = None) -> Any:
    """Take note of the days without charging, which fall short in the golden design."""
    return checks_note(design=side.design, keys=["bank/autonomy"], reason=REASON, actor=who, at=NOW)


def weak_main(side: Side) -> None:
    """Put a device on the main that breaks less than the shop asks, and size."""
    side.design.circuits.filter(label="C4").update(fuse_interrupting_a=1_000.0)
    design_resize(side.design, actor=ByName("test"), at=NOW)


def noted_days(side: Side) -> Any:
    """Return a note that was made before."""
    return note_days(side, side.owner)[0]


def order_of(side: Side) -> ChangeOrder:
    """Write a change order."""
    return change_order_create(job=side.job, facts=FACTS, lines=PRICED, actor=side.owner, at=NOW)


def refused_order(side: Side) -> ChangeOrder:
    """Write a change order on a safety matter that the customer refused."""
    order = change_order_create(
        job=side.job, facts=replace(FACTS, is_safety_critical=True), lines=PRICED, actor=side.owner, at=NOW
    )
    return change_order_decline(order=order, signed_name="Nell Pardee", reason="Too dear", through="", at=NOW)


def on_order(does: Callable[..., Any], may: frozenset[str], given: Any = order_of, **values: Any) -> Service:
    """Return a change of a change order."""
    return Service(
        does, "opened", may, lambda side, who, order: does(order=order, actor=who, at=NOW, **values), given
    )


def on_quote(does: Callable[..., Any], stage: str, given: Any = lambda side: None, **values: Any) -> Service:
    """Return a change of a quote by who may price."""
    return Service(
        does, stage, DESK, lambda side, who, _: does(quote=side.quote, actor=who, at=NOW, **values), given
    )


def worked_by(side: Side) -> Worked:
    """Return an hour of the person of this side that no clock ran for."""
    hour = timedelta(hours=1)
    return Worked("D", NOW - hour, NOW, "tablet was flat", who=side.owner.pk, name=name_of(side.owner))


def member(side: Side) -> Membership:
    """Return the technician's place."""
    return Membership.objects.select_related("shop", "user").get(shop=side.shop, user__username="bob")


def add_member(side: Side, who: Any, _: Any) -> Any:
    return member_add(
        shop=side.shop, first_name="Una", last_name="New", email="una@mail.example", role="technician",
        licence_no="", actor=who, at=NOW,
    )  # fmt: skip


def change_member(side: Side, who: Any, row: Membership) -> Any:
    return member_change(member=row, role="technician", is_active=False, licence_no="7", actor=who, at=NOW)


def choose_language(side: Side, who: Any, _: Any) -> Any:
    return language_choose(shop=side.shop, language="es", actor=who, at=NOW)


def write_text(side: Side, who: Any, _: Any) -> Any:
    return shop_text_write(
        shop=side.shop, language="es", source="Battery switch off.", text="Palabras", actor=who, at=NOW
    )


def place_row(side: Side, who: Any, _: Any) -> Any:
    return panels_place_row(
        design=side.design, part=side.part, count=1, x_m=0.1, y_m=0.1, gap_m=0.02, is_turned=False,
        is_along=True, change=change_by(who),
    )  # fmt: skip


def row_of(side: Side) -> dict[str, Any]:
    return {"controller": side.design.controllers.get().label, "panels": [1, 2]}


def rewire(side: Side, who: Any, _: Any) -> Any:
    return strings_change(design=side.design, controllers=[], strings=[row_of(side)], change=change_by(who))


def rewire_by_plan(side: Side, who: Any, _: Any) -> Any:
    return plan_take(design=side.design, strings=[row_of(side)], change=change_by(who))


def change_power(side: Side, who: Any, _: Any) -> Any:
    bank = {"part": side.design.bank.part, "quantity": 2}
    return power_change(design=side.design, bank=bank, inverter=None, sources=[], change=change_by(who))


def sent_layout(side: Side) -> Any:
    return layout_state(roof_state(side.design))


def lay(side: Side, who: Any, layout: Any) -> Any:
    known = read_design(side.design)
    edit = read_layout(layout, known.models, [one.label for one in side.design.controllers.all()])
    return layout_save(design=side.design, edit=edit, change=change_by(who))


def take_candidate(side: Side, who: Any, layout: Any) -> Any:
    return layout_candidate_take(design=side.design, candidate={"layout": layout}, change=change_by(who))


def move_gland(side: Side, who: Any, _: Any) -> Any:
    roof = RoofOfVehicle(gland=(1234.0, 567.0), has_gland=True)
    return save_roof(design=side.design, roof=roof, actor=who, at=NOW)


def ask_layout(side: Side, who: Any, _: Any) -> Any:
    options = LayoutOptions(parts=(side.part.pk,))
    return layout_search_ask(design=side.design, options=options, actor=who, at=NOW)


def searched(side: Side) -> None:
    ask_layout(side, side.owner, None)


def save_survey(side: Side, who: Any, _: Any) -> Any:
    changes = PartChanges(survey={"roof_length_m": 8.5}, vehicle={"overall_height_m": 3.4})
    return survey_save(survey=side.job.survey, part_title="Roof", changes=changes, actor=who, at=NOW)


def roof_photo(side: Side, who: Any, _: Any = None) -> Any:
    picture = SimpleNamespace(drawn=drawn())
    return roof_photo_add(survey=side.job.survey, picture=picture, actor=who, at=NOW)


def with_roof_photo(side: Side) -> None:
    roof_photo(side, side.owner)


def place_photo(side: Side, who: Any, _: Any) -> Any:
    data = {"x_mm": 4000, "y_mm": 1100, "turn_deg": 1.5, "opacity": 0.4}
    return roof_photo_place(survey=side.job.survey, data=data, seen=0, actor=who)


def price(side: Side, who: Any, _: Any) -> Any:
    quote = side.quote
    terms = replace(terms_of(quote), deposit_fraction=Decimal("0.25"))
    lines = [draft_of(line) for line in quote.lines.all()]
    return quote_price(quote=quote, terms=terms, lines=lines, scope=[], edits=quote.edits, actor=who, at=NOW)


def one_price_missing(side: Side) -> Any:
    """Take the price off one part."""
    line = side.quote.lines.filter(kind="part").first()
    type(line).objects.filter(pk=line.pk).update(unit_cost=0, unit_price=0, amount=0)
    return line


def fill_prices(side: Side, who: Any, line: Any) -> Any:
    quote = side.quote
    return prices_fill(quote=quote, prices={line.pk: Decimal("12.50")}, edits=quote.edits, actor=who, at=NOW)


def written_by_another(side: Side) -> None:
    """Let nobody of the table be the one who wrote the quote: who wrote it may not read it over."""
    type(side.quote).objects.filter(pk=side.quote.pk).update(written_by=None)


def read_over(side: Side) -> None:
    """Have a second person read it over, so that an estimator may send it."""
    type(side.quote).objects.filter(pk=side.quote.pk).update(reviewed_at=NOW, reviewed_by_name="Una New")


def intake(side: Side, who: Any, _: Any) -> Any:
    customer = Customer(shop=side.shop, name="New Customer")
    job = Job(title="Panels", asked_for="Light")
    return job_intake(
        job=job,
        vehicle=Vehicle(kind="travel_trailer", make_text="Trailer"),
        customer=customer,
        actor=who,
        at=NOW,
    )


def save_customer(side: Side, who: Any, _: Any) -> Any:
    return customer_save(customer=Customer(shop=side.shop, name="New Customer"), actor=who, at=NOW)


def save_vehicle(side: Side, who: Any, _: Any) -> Any:
    customer = side.job.vehicle.customer
    return vehicle_save(
        vehicle=Vehicle(shop=side.shop, customer=customer, kind="travel_trailer", make_text="Trailer"),
        actor=who,
        at=NOW,
    )


def save_part(side: Side, who: Any, _: Any) -> Any:
    part = Part(shop=side.shop, sku="NEW-1", name="New part", kind="other")
    return part_save(part=part, sheet=None, actor=who, at=NOW)


def looked_at_table(side: Side) -> TableRun:
    """Have a table of parts that was looked at."""
    facts = {"at": NOW, "touched_at": NOW, "by": side.owner}
    return TableRun.objects.create(shop=side.shop, kind="parts", name="p.csv", state="ready", **facts)


def save_kit(side: Side, who: Any, _: Any) -> Any:
    head, part = Part.objects.filter(shop=side.shop)[:2]
    return kit_item_set(head=head, part=part, quantity=Decimal(2), per="line", actor=who, at=NOW)


def kit_item(side: Side) -> KitItem:
    """Put two parts of the catalog together."""
    head, part = Part.objects.filter(shop=side.shop).select_related("shop")[:2]
    return KitItem.objects.create(head=head, part=part, quantity=Decimal(2))


def save_task(side: Side, who: Any, _: Any) -> Any:
    task = TaskHours(shop=side.shop, code="L11", task="Controller", low_h=1, plan_h=2, high_h=3)
    return task_hours_save(task=task, actor=who, at=NOW)


def _rate(side: Side) -> TaxRate:
    return TaxRate(shop=side.shop, name="2027", from_date=dt.date(2027, 1, 1), fraction="0.08")


def add_rate(side: Side, who: Any, _: Any) -> Any:
    return tax_rate_add(rate=_rate(side), actor=who, at=NOW)


def late_rate(side: Side) -> TaxRate:
    """Add a tax rate of next year."""
    rate = _rate(side)
    rate.save()
    return rate


def save_scope(side: Side, who: Any, _: Any) -> Any:
    return scope_text_save(text=ScopeText(shop=side.shop, text="Car wash"), actor=who, at=NOW)


def own_scope(side: Side) -> ScopeText:
    """Add a scope line of the shop's own."""
    return ScopeText.objects.create(shop=side.shop, text="Car wash")


def late_design(side: Side) -> Any:
    """Make a later revision that asks for another length."""
    design = design_create(job=side.job, actor=side.owner, at=NOW, copy_of=side.design)
    row = {"id": design.circuits.get(label="C2").pk, "run_len_m": 6.4}
    circuits_change(design=design, rows=[row], change=change_by(side.owner))
    return type(design).objects.get(pk=design.pk)


def change_plan(side: Side, who: Any, design: Any) -> Any:
    return plan_change(checklist=side.checklist, design=design, reason=REASON, actor=who, at=NOW)


def too_long(side: Side) -> Deviation:
    """Record a wire that is too long."""
    record(side, side.entry("home_run_length", "run_len_m", 14.0, subject="circuit:C2"))
    return side.checklist.deviations.filter(state="open", can_be_accepted=True).first()


def keep(side: Side, who: Any, _: Any) -> Any:
    picture = Picture(ident("kept").hex * 2, drawn())
    return photo_keep(checklist=side.checklist, picture=picture, actor=who, at=NOW)


def open_upload(side: Side, who: Any, _: Any) -> Any:
    announced = Announced(ident("announced"), "a" * 64, "a" * 64, 9, "image/jpeg")
    return upload_open(checklist=side.checklist, announced=announced, actor=who, at=NOW)


def whole_upload(side: Side) -> Any:
    """Have all bytes of a picture here, none of which is one: it is refused when it is looked at."""
    upload = announce(side)
    return upload_append(upload=upload, offset=0, data=b"not a picture", actor=side.owner, at=NOW)


def hand_over(side: Side, who: Any, part: Any) -> Any:
    rows = recorded_rows(work_of(side.checklist).install)
    head = [side.job.number, "Nell Pardee", "", "", "1"]
    content = json.dumps([FORM, head, rows, [], ["Care"]], ensure_ascii=False)
    signed = Signed(
        ident("hand over"), "customer", "Nell Pardee", STROKES, content, sha256_of(content),
        [row.pk for row in side.checklist.events.all()], NOW,
    )  # fmt: skip
    return hand_over_sign(checklist=side.checklist, signed=signed, actor=who, at=NOW)


def signs(part: str, may: frozenset[str]) -> Service:
    """Return a signature under the sheet."""

    def given(side: Side) -> None:
        if part == "owner":  # asked for where something was let pass
            side.checklist.deviations.create(
                step=side.step("torque", "joint:battery-1"), check_key="circuit:C2/drop", title="Drop",
                planned_verdict="pass", as_built_verdict="caution", sentence="Longer", state="accepted",
                raised_at=NOW,
            )  # fmt: skip

    return Service(sheet_sign, "built", may, lambda side, who, _: sign(side, who, part), given, note=part)


def failed_sheet(side: Side) -> Any:
    """Return a sheet whose printing failed."""
    sheet = sheet_issue(checklist=side.checklist, actor=side.owner, at=NOW)
    type(sheet).objects.filter(pk=sheet.pk).update(state="failed")
    return sheet


def see_tablet(side: Side, who: Any, _: Any) -> Any:
    return device_seen(shop=side.shop, call=Call(TABLET, "Other tablet"), person=who, at=NOW)


def hold_batch(side: Side, who: Any, device: Any) -> Any:
    body = batch_body(side)
    return batch_hold(
        checklist=side.checklist, batch=read_batch(body), body=body, device=device, person=who, at=NOW
    )


def revoked(side: Side) -> Any:
    return device_revoke(device=tablet(side), actor=side.owner, at=NOW)


def yes(side: Side, who: Any, _: Any) -> Any:
    return quote_accept(quote=side.quote, signed_name="Nell Pardee", signature_svg="", at=NOW)


def no(side: Side, who: Any, _: Any) -> Any:
    return quote_decline(quote=side.quote, signed_name="Nell Pardee", reason="Too dear", at=NOW)


def order_yes(side: Side, who: Any, order: ChangeOrder) -> Any:
    shown = change_order_show(order=order, actor=side.owner, at=NOW)
    return change_order_accept(
        order=shown, signed_name="Nell Pardee", signature_svg="", through="link", at=NOW
    )


def opened_link(side: Side, who: Any, _: Any) -> Any:
    return link_mark_used(link=side.quote.links.get(), at=NOW)
