"""Knows every service that a person calls to change something, how it is called, and who may.

Who may is written from what the parts mean, never read from the code. The owner answers for the shop and may
do everything. The estimator surveys, designs and prices. Lead and technician do the work and write down what
they find; the lead moves the job along while it is in work. The bookkeeper enters money received and sees
prices, and touches neither design nor record. Who left, belongs to another shop or to none may do nothing.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from checklists.models import Deviation
from checklists.office.plan_change import plan_change
from checklists.photos.photos import Picture, photo_keep
from checklists.photos.uploads import Announced, upload_append, upload_finish, upload_open
from checklists.record.deviations import deviation_accept
from checklists.record.events import events_record
from checklists.record.override import hold_override
from checklists.record.read import work_of
from checklists.rules.hand_over import FORM, recorded_rows, sha256_of
from checklists.sheet.hand_over import Signed, hand_over_sign
from checklists.sheet.issue import sheet_issue
from checklists.sheet.print import sheet_reprint
from checklists.sheet.sign import sheet_sign
from checklists.tablet.devices import (
    Call,
    batch_hold,
    batch_set_aside,
    batch_take_in,
    device_restore,
    device_revoke,
    device_seen,
)
from checklists.tablet.wire import read_batch
from jobs.autolayout.question import LayoutOptions
from jobs.autolayout.run import layout_candidate_take, layout_search_ask, layout_search_stop
from jobs.customers.customer import customer_save, vehicle_save
from jobs.customers.intake import job_intake
from jobs.customers.job import job_change, job_move_by_hand, job_note
from jobs.design.basis import basis_change
from jobs.design.circuits import circuits_change, circuits_propose, devices_take, proposals_take
from jobs.design.noted import checks_note, note_undo
from jobs.design.panels import panels_change, panels_place_row
from jobs.design.power import power_change
from jobs.design.revision import Change, design_change, design_create, design_resize
from jobs.design.strings import plan_take, strings_change
from jobs.design.survey_saved import survey_save
from jobs.models import ChangeOrder, Customer, Job, Membership, Part, Vehicle
from jobs.parts.catalogue import panel_fit, part_save
from jobs.quote.answer import quote_accept, quote_decline
from jobs.quote.change_order import (
    change_order_accept,
    change_order_create,
    change_order_decide,
    change_order_decline,
    change_order_price,
    change_order_send,
    change_order_show,
    change_order_verbal,
    change_order_withdraw,
)
from jobs.quote.deposit import deposit_record
from jobs.quote.draft import quote_copy, quote_create, quote_price, quote_review, terms_of
from jobs.quote.guest_link import link_mark_used, link_revoke
from jobs.quote.lines import draft_of
from jobs.quote.send import quote_link, quote_send, quote_withdraw
from jobs.roof.read import roof_state
from jobs.shade.run import shade_ask
from jobs.shop.actor import ByName
from jobs.shop.members import member_add, member_change, member_link_logged
from jobs.shop.settings import shop_save
from jobs.survey.changes import PartChanges
from jobs.survey.photo import roof_photo_add, roof_photo_place, roof_photo_remove
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
    held_batch,
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
    record(side, side.entry("wire_length", "run_len_m", 14.0, subject="circuit:C2"))
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


SERVICES: tuple[Service, ...] = (
    # the shop and its people
    Service(
        shop_save, "design", OWNER,
        lambda side, who, _: shop_save(shop=side.shop, changed=["labour rate"], actor=who, at=NOW),
    ),
    Service(member_add, "design", OWNER, add_member),
    Service(member_change, "design", OWNER, change_member, member),
    Service(
        member_link_logged, "design", OWNER,
        lambda side, who, row: member_link_logged(member=row, actor=who, at=NOW), member,
    ),
    # customers, vehicles, jobs, catalogue
    Service(customer_save, "design", DESK, save_customer),
    Service(vehicle_save, "design", DESK, save_vehicle),
    Service(job_intake, "design", DESK, intake),
    Service(
        job_change, "design", DESK,
        lambda side, who, _: job_change(job=side.job, people=[side.owner], actor=who, at=NOW),
    ),
    Service(
        job_note, "design", EVERYBODY,
        lambda side, who, _: job_note(job=side.job, text="Called back", actor=who, at=NOW),
    ),
    moved("surveyed", "enquiry", DESK),
    moved("deposit_paid", "accepted", MONEY),
    moved("parts_ordered", "deposit_paid", DESK),
    moved("in_work", "ready", DESK | {"lead"}),
    moved("paused", "in_work", DESK | {"lead"}),
    moved("commissioning", "in_work", DESK | {"lead"}),
    moved("invoiced", "released", DESK | {"bookkeeper"}),
    moved("paid", "invoiced", MONEY),
    moved("in_care", "released", DESK),
    moved("cancelled", "ready", DESK, reason="Sold the coach"),
    Service(part_save, "design", DESK, save_part),
    Service(
        panel_fit, "design", DESK, lambda side, who, _: panel_fit(part=side.part, actor=who, at=NOW)
    ),
    # survey and roof
    Service(survey_save, "design", DESK, save_survey),
    Service(roof_photo_add, "design", DESK, roof_photo),
    Service(
        roof_photo_remove, "design", DESK,
        lambda side, who, _: roof_photo_remove(survey=side.job.survey, actor=who, at=NOW), with_roof_photo,
    ),
    Service(roof_photo_place, "design", DESK, place_photo, with_roof_photo),
    # design
    Service(
        design_create, "sized", DESK,
        lambda side, who, _: design_create(job=side.job, actor=who, at=NOW, copy_of=side.design),
    ),
    Service(
        design_change, "sized", DESK,
        lambda side, who, _: design_change(side.design, change_by(who), "looked at", lambda locked: None),
    ),
    on_design(basis_change, basis={"note": "Later"}),
    on_design(circuits_change, rows=[]),
    Service(checks_note, "sized", DESK, note_days),
    Service(
        note_undo, "sized", DESK, lambda side, who, note: note_undo(note=note, actor=who, at=NOW), noted_days
    ),
    on_design(circuits_propose),
    on_design(proposals_take),
    Service(
        devices_take, "sized", DESK,
        lambda side, who, _: devices_take(design=side.design, change=change_by(who), labels=["C4"]),
        weak_main,
    ),
    on_design(panels_change, rows=[]),
    Service(panels_place_row, "sized", DESK, place_row),
    Service(power_change, "sized", DESK, change_power),
    Service(strings_change, "sized", DESK, rewire),
    Service(plan_take, "sized", DESK, rewire_by_plan),
    Service(layout_save, "sized", DESK, lay, sent_layout),
    Service(save_roof, "sized", DESK, move_gland),
    Service(layout_search_ask, "sized", DESK, ask_layout),
    Service(
        layout_search_stop, "sized", DESK,
        lambda side, who, _: layout_search_stop(design=side.design, actor=who, at=NOW), searched,
    ),
    Service(layout_candidate_take, "sized", DESK, take_candidate, sent_layout),
    Service(
        shade_ask, "sized", DESK, lambda side, who, _: shade_ask(design=side.design, actor=who, at=NOW)
    ),
    # quote
    Service(
        quote_create, "sized", DESK,
        lambda side, who, _: quote_create(design=side.design, actor=who, at=NOW),
    ),
    on_quote(quote_copy, "priced"),
    Service(quote_price, "priced", DESK, price),
    on_quote(quote_review, "priced", written_by_another),
    on_quote(quote_send, "priced", read_over, reason="As agreed on the phone"),
    on_quote(quote_link, "offered"),
    on_quote(quote_withdraw, "offered", reason="Wrong panel"),
    Service(
        link_revoke, "offered", DESK,
        lambda side, who, link: link_revoke(link=link, actor=who, at=NOW),
        lambda side: side.quote.links.select_related("job__shop").get(),
    ),
    Service(
        deposit_record, "opened", MONEY,
        lambda side, who, _: deposit_record(job=side.job, amount=Decimal(100), actor=who, at=NOW),
    ),
    # change orders: who finds writes down, who sees prices shows, the desk prices and sends
    Service(
        change_order_create, "opened", FIELD,
        lambda side, who, _: change_order_create(job=side.job, facts=FACTS, lines=[], actor=who, at=NOW),
    ),
    on_order(change_order_price, DESK, facts=FACTS, lines=PRICED),
    on_order(change_order_send, DESK),
    on_order(change_order_show, PRICES),
    on_order(change_order_verbal, FIELD, said_by="Nell Pardee", through="phone"),
    on_order(change_order_decide, OWNER, refused_order, decision="Not done: the roof is not walked on"),
    on_order(change_order_withdraw, DESK, reason="Found another way"),
    # the record
    Service(
        events_record, "opened", FIELD,
        lambda side, who, _: events_record(
            checklist=side.checklist, entries=[side.entry(id=uuid.uuid4())], actor=who, at=NOW
        ),
    ),
    Service(
        events_record, "opened", FIELD,
        lambda side, who, _: events_record(
            checklist=side.checklist, entries=[side.entry("frames_bonded", "resistance_ohm", 0.05)],
            actor=who, at=NOW,
        ),
        note="late",
    ),
    Service(
        events_record, "opened", FIELD,
        lambda side, who, _: events_record(
            checklist=side.checklist,
            entries=[side.entry("protection", "protection", "none", subject="circuit:C3")],
            actor=who, at=NOW,
        ),
        too_long, note="again out of plan",
    ),
    Service(photo_keep, "opened", FIELD, keep),
    Service(upload_open, "opened", FIELD, open_upload),
    Service(
        upload_append, "opened", FIELD,
        lambda side, who, upload: upload_append(upload=upload, offset=0, data=b"not", actor=who, at=NOW),
        announce,
    ),
    Service(
        upload_finish, "opened", FIELD,
        lambda side, who, upload: upload_finish(upload=upload, actor=who, at=NOW), whole_upload,
    ),
    Service(
        hold_override, "opened", OWNER,
        lambda side, who, _: hold_override(step=side.step("custody"), reason=REASON, actor=who, at=NOW),
    ),
    Service(
        deviation_accept, "opened", OWNER,
        lambda side, who, row: deviation_accept(deviation=row, reason=REASON, actor=who, at=NOW), too_long,
    ),
    Service(plan_change, "opened", DESK, change_plan, late_design),
    # sheet and signatures
    Service(
        sheet_issue, "opened", FIELD,
        lambda side, who, _: sheet_issue(checklist=side.checklist, actor=who, at=NOW),
    ),
    Service(
        sheet_reprint, "opened", FIELD,
        lambda side, who, sheet: sheet_reprint(sheet=sheet, actor=who, at=NOW), failed_sheet,
    ),
    signs("technician", FIELD),
    signs("customer", FIELD),
    signs("owner", OWNER),
    Service(hand_over_sign, "built", FIELD, hand_over),
    # tablets
    Service(device_seen, "opened", EVERYBODY, see_tablet, tablet),
    Service(batch_hold, "opened", FIELD, hold_batch, revoked),
    Service(
        device_revoke, "opened", OWNER,
        lambda side, who, device: device_revoke(device=device, actor=who, at=NOW), tablet,
    ),
    Service(
        device_restore, "opened", OWNER,
        lambda side, who, device: device_restore(device=device, actor=who, at=NOW), revoked,
    ),
    Service(
        batch_take_in, "opened", OWNER,
        lambda side, who, held: batch_take_in(held=held, actor=who, at=NOW), held_batch,
    ),
    Service(
        batch_set_aside, "opened", OWNER,
        lambda side, who, held: batch_set_aside(held=held, reason=REASON, actor=who, at=NOW), held_batch,
    ),
)  # fmt: skip


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


NOBODY: frozenset[str] = frozenset()
#: What the customer does by a link: no person of a shop stands behind it, so no right is asked.
OF_CUSTOMERS: tuple[Service, ...] = (
    Service(quote_accept, "offered", NOBODY, yes),
    Service(quote_decline, "offered", NOBODY, no),
    Service(link_mark_used, "offered", NOBODY, opened_link),
    Service(change_order_accept, "opened", NOBODY, order_yes, order_of),
    Service(change_order_decline, "opened", NOBODY, lambda side, who, _: refused_order(side)),
)

#: Who takes an actor, changes something and asks no right of its own, with the reason why.
FOLLOWS = {
    "design_resize": "follows a change that asked",
    "design_size": "follows a change that asked; also run by Coachlight when a record opens",
    "design_size_built": "follows a recorded value",
    "design_freeze": "follows a quote sent or accepted, by the customer too",
    "shade_follow": "follows a change that asked",
    "job_create": "the second half of an intake",
    "job_move": "follows an act, the customer's too; by hand it is job_move_by_hand",
    "job_follows": "follows a recorded value",
    "job_walk": "follows a recorded value or a sheet",
    "deviations_refresh": "follows a recorded value",
    "log": "writes the line of a change that asked",
    "require": "asks the right itself",
    "name_of": "changes nothing",
    "content_of": "changes nothing",
}
