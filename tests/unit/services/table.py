"""The table of rights: every service that changes something, how it is called, and which parts may.

Who may is written from what the parts mean, never read from the code. The owner answers for the shop and may
do everything. The estimator surveys, designs and prices. Lead and technician do the work and write down what
they find; the lead moves the job along while it is in work. The bookkeeper enters money received and sees
prices, and touches neither design nor record. Who left, belongs to another shop or to none may do nothing.
"""

from __future__ import annotations

import uuid
from decimal import Decimal

from checklists.office.erasure import customer_erase
from checklists.office.failures import failure_retry
from checklists.office.handed_over import customer_data
from checklists.office.hours import hours_correct
from checklists.office.loads import shortage_settle
from checklists.office.plan_change import plan_change
from checklists.photos.photos import photo_keep
from checklists.photos.uploads import upload_append, upload_finish, upload_open
from checklists.record.deviations import deviation_accept
from checklists.record.events import events_record
from checklists.record.override import hold_override
from checklists.sheet.hand_over import hand_over_sign
from checklists.sheet.issue import sheet_issue
from checklists.sheet.print import sheet_reprint
from checklists.tablet.devices import (
    batch_hold,
    batch_set_aside,
    batch_take_in,
    device_name,
    device_restore,
    device_revoke,
    device_seen,
)
from checklists.tablet.pins import pin_forget, pin_set
from checklists.texts.edit import shop_text_write
from jobs.autolayout.run import layout_candidate_take, layout_search_ask, layout_search_stop
from jobs.customers.customer import customer_save, customers_import, vehicle_save
from jobs.customers.intake import job_intake
from jobs.customers.job import job_change, job_note
from jobs.design.basis import basis_change
from jobs.design.circuits import circuits_change, circuits_propose, devices_take, proposals_take
from jobs.design.noted import checks_note, note_undo
from jobs.design.panels import panels_change, panels_place_row
from jobs.design.power import power_change
from jobs.design.renew import design_renew
from jobs.design.revision import design_change, design_create
from jobs.design.strings import plan_take, strings_change
from jobs.design.survey_saved import survey_save
from jobs.forms.import_run import table_run_ask, table_run_store
from jobs.ledger.invoice import credit_note_issue, invoice_issue
from jobs.ledger.payment import deposit_record, payment_record, payment_undo
from jobs.models import Bay, Customer, Job, Part, Supplier
from jobs.parts.catalogue import panel_fit, part_save, parts_import, prices_import
from jobs.parts.kits import kit_item_remove, kit_item_set
from jobs.parts.suppliers import supplier_save
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
from jobs.quote.draft import quote_copy, quote_create, quote_price, quote_review
from jobs.quote.guest_link import link_mark_used, link_revoke
from jobs.quote.price_book import (
    scope_text_reset,
    scope_text_save,
    task_hours_reset,
    task_hours_save,
    tax_rate_add,
    tax_rate_remove,
)
from jobs.quote.prices import prices_fill
from jobs.quote.send import quote_link, quote_send, quote_withdraw
from jobs.schedule.bays import bay_save
from jobs.schedule.book import booking_change, booking_create, booking_move, booking_off
from jobs.schedule.calendar import calendar_link_create, calendar_link_revoke
from jobs.schedule.visit import visit_tell
from jobs.shade.run import shade_ask
from jobs.shop.members import (
    language_choose,
    member_add,
    member_change,
    member_factors_remove,
    member_link_logged,
)
from jobs.shop.outbox import mail_test
from jobs.shop.settings import shop_save
from jobs.survey.photo import roof_photo_add, roof_photo_place, roof_photo_remove
from jobs.workspace.edit import layout_save
from jobs.workspace.obstacles import save_roof
from tests.unit.services.calls import (
    DESK,
    EVERYBODY,
    FIELD,
    MONEY,
    OWNER,
    PRICES,
    Service,
    add_member,
    add_rate,
    ask_layout,
    bay_of,
    calendar_of_everybody,
    change_by,
    change_member,
    change_plan,
    change_power,
    choose_language,
    days_asked,
    days_firm,
    days_held,
    failed_sheet,
    fill_prices,
    hand_over,
    hold_batch,
    intake,
    keep,
    kit_item,
    late_design,
    late_rate,
    lay,
    looked_at_table,
    member,
    move_gland,
    moved,
    no,
    note_days,
    noted_days,
    on_design,
    on_order,
    on_quote,
    one_price_missing,
    open_upload,
    opened_link,
    order_of,
    order_yes,
    own_calendar,
    own_scope,
    place_photo,
    place_row,
    price,
    read_over,
    refused_order,
    revoked,
    rewire,
    rewire_by_plan,
    roof_photo,
    save_customer,
    save_kit,
    save_part,
    save_scope,
    save_survey,
    save_task,
    save_vehicle,
    searched,
    see_tablet,
    sent_layout,
    signs,
    take_candidate,
    too_long,
    weak_main,
    whole_upload,
    with_roof_photo,
    worked_by,
    write_text,
    written_by_another,
    yes,
)
from tests.unit.services.offers import ASKED_BY_CUSTOMERS, OFFERS
from tests.unit.services.starts import STARTS
from tests.unit.services.world import (
    FACTS,
    NOW,
    PRICED,
    REASON,
    announce,
    held_batch,
    ident,
    new_tablet,
    tablet,
)

SERVICES: tuple[Service, ...] = (
    *OFFERS,
    *STARTS,
    # the shop and its people
    Service(
        shop_save, "design", OWNER,
        lambda side, who, _: shop_save(shop=side.shop, changed=["labor rate"], actor=who, at=NOW),
    ),
    Service(mail_test, "design", OWNER, lambda side, who, _: mail_test(shop=side.shop, actor=who, at=NOW)),
    Service(member_add, "design", OWNER, add_member),
    Service(member_change, "design", OWNER, change_member, member),
    Service(shop_text_write, "design", OWNER, write_text),
    Service(language_choose, "design", EVERYBODY, choose_language),
    Service(
        member_link_logged, "design", OWNER,
        lambda side, who, row: member_link_logged(member=row, actor=who, at=NOW), member,
    ),
    Service(
        member_factors_remove, "design", OWNER,
        lambda side, who, row: member_factors_remove(member=row, actor=who, at=NOW), member,
    ),
    # customers, vehicles, jobs, catalog
    Service(customer_save, "design", DESK, save_customer),
    Service(
        customer_data, "design", OWNER,
        lambda side, who, _: customer_data(customer=side.job.vehicle.customer, actor=who, at=NOW),
    ),
    Service(
        customer_erase, "design", OWNER,
        lambda side, who, _: customer_erase(
            customer=side.job.vehicle.customer, reason=REASON, actor=who, at=NOW
        ),
        lambda side: Job.objects.filter(vehicle__customer=side.job.vehicle.customer).update(state="in_care"),
    ),
    Service(vehicle_save, "design", DESK, save_vehicle),
    Service(
        customers_import, "design", DESK,
        lambda side, who, _: customers_import(
            shop=side.shop, customers=[Customer(shop=side.shop, name="From a table", phone="303 555 0190")],
            vehicles=[], actor=who, at=NOW,
        ),
    ),
    Service(
        parts_import, "design", DESK,
        lambda side, who, _: parts_import(
            shop=side.shop, rows=[(Part(shop=side.shop, sku="T-1", name="From a table", kind="other"), None)],
            actor=who, at=NOW,
        ),
    ),
    Service(
        prices_import, "design", DESK,
        lambda side, who, _: prices_import(shop=side.shop, parts=[side.part], why="List", actor=who, at=NOW),
    ),
    Service(
        table_run_ask, "design", DESK,
        lambda side, who, _: table_run_ask(
            shop=side.shop, kind="parts", name="parts.csv", data=b"Kind", actor=who, at=NOW
        ),
    ),
    Service(
        table_run_store, "design", DESK,
        lambda side, who, run: table_run_store(run=run, sure=True, actor=who, at=NOW), looked_at_table,
    ),
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
    Service(kit_item_set, "design", DESK, save_kit),
    Service(
        kit_item_remove, "design", DESK,
        lambda side, who, item: kit_item_remove(item=item, actor=who, at=NOW), kit_item,
    ),
    Service(task_hours_save, "design", DESK, save_task),
    Service(
        task_hours_reset, "design", DESK,
        lambda side, who, _: task_hours_reset(shop=side.shop, code="L01", actor=who, at=NOW),
    ),
    Service(tax_rate_add, "design", OWNER, add_rate),
    Service(
        tax_rate_remove, "design", OWNER,
        lambda side, who, rate: tax_rate_remove(rate=rate, actor=who, at=NOW), late_rate,
    ),
    Service(scope_text_save, "design", DESK, save_scope),
    Service(
        scope_text_reset, "design", DESK,
        lambda side, who, text: scope_text_reset(text=text, actor=who, at=NOW), own_scope,
    ),
    Service(
        supplier_save, "design", DESK,
        lambda side, who, _: supplier_save(
            supplier=Supplier(shop=side.shop, name="Ridgeline Wire"), actor=who, at=NOW
        ),
    ),
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
    Service(
        design_renew, "sized", DESK,
        lambda side, who, _: design_renew(design=side.design, actor=who, at=NOW),
        lambda side: side.design.runs.update(engine_version="1"),
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
    Service(prices_fill, "priced", DESK, fill_prices, one_price_missing),
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
    Service(
        payment_record, "opened", MONEY,
        lambda side, who, _: payment_record(
            job=side.job, amount=Decimal(100), method="check", reference="No. 1012", actor=who, at=NOW
        ),
    ),
    Service(
        payment_undo, "opened", MONEY,
        lambda side, who, row: payment_undo(payment=row, reason="Typed twice", actor=who, at=NOW),
        lambda side: payment_record(job=side.job, amount=Decimal(100), actor=side.owner, at=NOW),
    ),
    Service(
        invoice_issue, "opened", MONEY,
        lambda side, who, _: invoice_issue(
            job=side.job, kind="deposit", amount=Decimal(100), actor=who, at=NOW
        ),
    ),
    Service(
        credit_note_issue, "opened", MONEY,
        lambda side, who, row: credit_note_issue(
            invoice=row, amount=Decimal(40), reason="Wrong amount", lowers_price=False, actor=who, at=NOW
        ),
        lambda side: invoice_issue(
            job=side.job, kind="deposit", amount=Decimal(100), actor=side.owner, at=NOW
        ),
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
    # the schedule
    Service(
        bay_save, "opened", DESK,
        lambda side, who, _: bay_save(bay=Bay(shop=side.shop, name="Van", kind="mobile"), actor=who, at=NOW),
    ),
    Service(
        booking_create, "opened", DESK,
        lambda side, who, _: booking_create(job=side.job, wish=days_asked(side), actor=who, at=NOW), bay_of,
    ),
    Service(
        booking_change, "opened", DESK,
        lambda side, who, row: booking_change(
            booking=row, edits=0, wish=days_asked(side, 14), actor=who, at=NOW
        ),
        days_held,
    ),
    Service(
        booking_move, "opened", DESK,
        lambda side, who, row: booking_move(
            booking=row, edits=0, bay=row.bay, starts_on=days_asked(side, 14).starts_on, actor=who, at=NOW
        ),
        days_held,
    ),
    Service(
        booking_off, "opened", DESK,
        lambda side, who, row: booking_off(booking=row, edits=0, reason=REASON, actor=who, at=NOW), days_held,
    ),
    Service(
        visit_tell, "opened", DESK,
        lambda side, who, row: visit_tell(booking=row, actor=who, at=NOW), days_firm,
    ),
    Service(calendar_link_create, "opened", EVERYBODY, own_calendar(calendar_link_create)),
    Service(
        calendar_link_revoke, "opened", EVERYBODY, own_calendar(calendar_link_revoke), calendar_of_everybody
    ),
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
            checklist=side.checklist, entries=[side.entry("bond_continuity", "resistance_ohm", 0.05)],
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
    Service(
        hours_correct, "opened", FIELD,
        lambda side, who, _: hours_correct(
            checklist=side.checklist, worked=worked_by(side), submission=ident("hours"), actor=who, at=NOW
        ),
    ),
    Service(
        shortage_settle, "opened", FIELD,
        lambda side, who, _: shortage_settle(
            checklist=side.checklist, key="screws", note="from the shelf", submission=ident("settled"),
            actor=who, at=NOW,
        ),
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
        failure_retry, "opened", OWNER,
        lambda side, who, sheet: failure_retry(shop=side.shop, kind="sheet", pk=sheet.pk, actor=who, at=NOW),
        failed_sheet,
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
        device_name, "opened", FIELD,
        lambda side, who, device: device_name(device=device, name="Van 2", actor=who, at=NOW), tablet,
    ),
    Service(
        pin_set, "opened", FIELD,
        lambda side, who, device: pin_set(device=device, secret="0" * 64, actor=who, at=NOW), new_tablet,
    ),
    Service(
        pin_forget, "opened", EVERYBODY,
        lambda side, who, device: pin_forget(device=device, actor=who, at=NOW), tablet,
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


NOBODY: frozenset[str] = frozenset()
#: What the customer does by a link: no person of a shop stands behind it, so no right is asked.
OF_CUSTOMERS: tuple[Service, ...] = (
    *ASKED_BY_CUSTOMERS,
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
    "bookings_follow": "follows a job that moved",
    "deviations_refresh": "follows a recorded value",
    "log": "writes the line of a change that asked",
    "require": "asks the right itself",
    "name_of": "changes nothing",
    "content_of": "changes nothing",
    "change_of": "changes nothing: makes the row of a change that asked",
    "cost_changes": "changes nothing: makes the rows of a change that asked",
    "put_out": "half of sending; asks the right",
    "run_of_today": "half of sending: sizes the design",
    "job_to_quoted": "follows a quote sent",
    "locked_draft": "asks the right and changes nothing",
    "pin_lasts": "asked for the person signed in; puts off the end of a PIN that is there",
}
