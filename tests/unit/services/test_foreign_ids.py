"""Each id of another shop, given to a service beside records of one's own, is refused and changes nothing.

A form offers only what the shop has, and a page finds only what may be seen; a service must not rest on that.
Each row names the argument that belongs to Charlie; Alice, who may do everything in her own shop, calls.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.http import Http404

from checklists.models import Checklist, Device, Photo, SignOff, Step, StepEvent
from checklists.office.hours import hours_correct
from checklists.office.plan_change import plan_change
from checklists.photos.uploads import Announced, upload_open
from checklists.record import pages
from checklists.record.events import Author, Sent, events_record
from checklists.rules.entries import Entry
from checklists.tablet.devices import batch_hold
from checklists.tablet.devices_read import device_rows, held_for_page
from checklists.tablet.download import jobs_to_download
from checklists.tablet.wire import read_batch
from jobs.autolayout.question import LayoutOptions
from jobs.autolayout.run import layout_candidate_take, layout_search_ask
from jobs.board.jobs import job_for_page
from jobs.customers.customer import vehicle_save
from jobs.customers.intake import job_intake
from jobs.customers.job import job_change, job_create
from jobs.design.circuits import circuits_change
from jobs.design.panels import panels_change, panels_place_row
from jobs.design.power import power_change
from jobs.design.revision import Change, design_create
from jobs.design.strings import strings_change
from jobs.design.survey_saved import survey_save
from jobs.models import Customer, Job, LineKind, Vehicle
from jobs.parts.catalogue import part_save
from jobs.quote.change_order import change_order_create
from jobs.quote.draft import quote_create, quote_price, terms_of
from jobs.quote.lines import LineDraft
from jobs.quote.read import quote_for_page, quotes_visible
from jobs.roof.read import roof_state
from jobs.shop.refusals import Refusal
from jobs.survey.changes import PartChanges, RowChanges
from jobs.survey.read import survey_for_page
from jobs.workspace.state import layout_state
from tests.unit.services.calls import hand_over, worked_by
from tests.unit.services.world import (
    FACTS,
    NOW,
    REASON,
    STAGES,
    Side,
    World,
    batch_body,
    ident,
    rows_of_shop,
    rows_written,
)  # fmt: skip

#: What a service may say no with: a sentence for a person, or a programmer's error of a caller.
NO = (Refusal, ValidationError, ValueError)
UNSENT = Sent()
Call = Callable[[Side, Side], Any]


def by(side: Side) -> Change:
    return Change(actor=side.owner, at=NOW)


def panel_row(ours: Side, theirs: Side) -> Any:
    row = {"id": None, "part": theirs.part, "x_m": 0.1, "y_m": 0.1, "feet": 4}
    return panels_change(design=ours.design, rows=[row], change=by(ours))


def placed_row(ours: Side, theirs: Side) -> Any:
    return panels_place_row(
        design=ours.design, part=theirs.part, count=1, x_m=0.1, y_m=0.1, gap_m=0.0, is_turned=False,
        is_along=True, change=by(ours),
    )  # fmt: skip


def power(ours: Side, **rows: Any) -> Any:
    given: dict[str, Any] = {"bank": None, "inverter": None, "sources": []} | rows
    return power_change(design=ours.design, change=by(ours), **given)


def controller(ours: Side, theirs: Side) -> Any:
    part = theirs.design.controllers.get().part
    row = {"id": ours.design.controllers.get().pk, "part": part}
    return strings_change(design=ours.design, controllers=[row], strings=[], change=by(ours))


def laid(ours: Side, theirs: Side) -> Any:
    layout = layout_state(roof_state(ours.design))
    layout["panels"][0]["part"] = theirs.part.pk
    return layout_candidate_take(design=ours.design, candidate={"layout": layout}, change=by(ours))


def intake(ours: Side, theirs: Side, customer: Any) -> Any:
    job = Job(title="Panels", asked_for="Light")
    return job_intake(job=job, vehicle=theirs.job.vehicle, customer=customer, actor=ours.owner, at=NOW)


def obstacle(ours: Side, theirs: Side) -> Any:
    """Send the key of a thing on another vehicle's roof: it makes one here and moves none there."""
    key = theirs.job.survey.obstacles.first().key
    gone = PartChanges(rows={"obstacles": RowChanges(remove=(key,))})
    return survey_save(survey=ours.job.survey, part_title="Roof", changes=gone, actor=ours.owner, at=NOW)


ON_A_DESIGN: dict[str, Call] = {
    "design copied from": lambda ours, theirs: design_create(
        job=ours.job, actor=ours.owner, at=NOW, copy_of=theirs.design
    ),
    "panel's part": panel_row,
    "placed panel's part": placed_row,
    "panel of another design": lambda ours, theirs: panels_change(
        design=ours.design, rows=[{"id": theirs.design.panels.first().pk, "feet": 6}], change=by(ours)
    ),
    "circuit of another design": lambda ours, theirs: circuits_change(
        design=ours.design, rows=[{"id": theirs.design.circuits.first().pk, "DELETE": True}], change=by(ours)
    ),
    "bank's part": lambda ours, theirs: power(ours, bank={"part": theirs.design.bank.part, "quantity": 2}),
    "inverter's part": lambda ours, theirs: power(ours, inverter={"part": theirs.design.inverter.part}),
    "charger's part": lambda ours, theirs: power(
        ours, sources=[{"id": None, "part": theirs.design.sources.exclude(part=None).first().part}]
    ),
    "charger that stays": lambda ours, theirs: power(
        ours, sources=[{"id": None, "existing": theirs.job.survey.existing_items.first()}]
    ),
    "controller's part": controller,
    "part laid by a candidate": laid,
    "part searched with": lambda ours, theirs: layout_search_ask(
        design=ours.design, options=LayoutOptions(parts=(theirs.part.pk,)), actor=ours.owner, at=NOW
    ),
    "vehicle's customer": lambda ours, theirs: vehicle_save(
        vehicle=Vehicle(shop=ours.shop, customer=theirs.job.vehicle.customer, kind="bus"),
        actor=ours.owner, at=NOW,
    ),
    "vehicle of an intake": lambda ours, theirs: intake(ours, theirs, ours.job.vehicle.customer),
    "vehicle of an intake, customer new": lambda ours, theirs: intake(
        ours, theirs, Customer(shop=ours.shop, name="New")
    ),
    "vehicle of a job": lambda ours, theirs: job_create(
        shop=ours.shop, vehicle=theirs.job.vehicle, title="X", asked_for="", actor=ours.owner, at=NOW
    ),
    "people of a job": lambda ours, theirs: job_change(
        job=ours.job, people=[theirs.owner], actor=ours.owner, at=NOW
    ),
    "sheet of a part": lambda ours, theirs: part_save(
        part=ours.part, sheet=theirs.part.panel_sheet, actor=ours.owner, at=NOW
    ),
}  # fmt: skip


def price(ours: Side, theirs: Side) -> Any:
    quote = ours.quote
    line = LineDraft(LineKind.PART, "Panel", unit_cost=Decimal(100), part_id=theirs.part.pk)
    return quote_price(
        quote=quote,
        terms=terms_of(quote),
        lines=[line],
        scope=[],
        edits=quote.edits,
        actor=ours.owner,
        at=NOW,
    )


ON_A_QUOTE: dict[str, Call] = {
    "part of a line": price,
    "design quoted": lambda ours, theirs: quote_create(design=theirs.design, actor=ours.owner, at=NOW),
}


def recorded(ours: Side, *entries: Entry, sent: Sent = UNSENT) -> Any:
    return events_record(checklist=ours.checklist, entries=entries, actor=ours.owner, at=NOW, sent=sent)


def photo_event(ours: Side, theirs: Side) -> Any:
    photo = Photo.objects.get(checklist=theirs.checklist)
    return recorded(ours, ours.entry("walk_round", "photo", None, photo=photo.pk))


def used_event(ours: Side, theirs: Side) -> Any:
    return recorded(ours, ours.entry(id=StepEvent.objects.filter(checklist=theirs.checklist).first().pk))


def hold(ours: Side, theirs: Side) -> Any:
    body = batch_body(ours)
    return batch_hold(
        checklist=ours.checklist, batch=read_batch(body), body=body,
        device=Device.objects.get(shop=theirs.shop), person=ours.owner, at=NOW,
    )  # fmt: skip


def announce(ours: Side, theirs: Side) -> Any:
    upload = theirs.checklist.uploads.get()
    announced = Announced(upload.pk, upload.sent_sha256, upload.original_sha256, upload.size, "image/jpeg")
    return upload_open(checklist=ours.checklist, announced=announced, actor=ours.owner, at=NOW)


def order(ours: Side, theirs: Side) -> Any:
    line = LineDraft(LineKind.PART, "Panel", unit_cost=Decimal(100), part_id=theirs.part.pk)
    return change_order_create(job=ours.job, facts=FACTS, lines=[line], actor=ours.owner, at=NOW)


ON_A_RECORD: dict[str, Call] = {
    "step recorded at": lambda ours, theirs: recorded(
        ours, ours.entry(step=theirs.step("battery_before").pk)
    ),
    "photo as evidence": photo_event,
    "id of an event": used_event,
    "tablet it came from": lambda ours, theirs: recorded(
        ours, ours.entry(), sent=Sent(device=Device.objects.get(shop=theirs.shop))
    ),
    "author of the work": lambda ours, theirs: recorded(
        ours, ours.entry(), sent=Sent(author=Author(theirs.owner, "Charlie Test", "owner"))
    ),
    "person of a clock": lambda ours, theirs: recorded(
        ours,
        Entry(
            id=ident("clock"), step=0, verb="start", field="D",
            value={"who": theirs.owner.pk, "name": "Charlie Test"},
        ),
    ),
    "person of hours by hand": lambda ours, theirs: hours_correct(
        checklist=ours.checklist, worked=worked_by(theirs), submission=ident("hours"),
        actor=ours.owner, at=NOW,
    ),
    "tablet whose work is held": hold,
    "id of an upload": announce,
    "design as the plan": lambda ours, theirs: plan_change(
        checklist=ours.checklist, design=theirs.job.designs.order_by("-number").first(), reason=REASON,
        actor=ours.owner, at=NOW,
    ),
    "part of a change's line": order,
    "id of a signature": lambda ours, theirs: hand_over(ours, ours.owner, None),
}  # fmt: skip


def refuses(call: Call, world: World, theirs: Side) -> None:
    """Expect a refusal after which both shops are as before."""
    shops = [world.here.shop, theirs.shop]
    before = [rows_of_shop(shop) for shop in shops]
    with pytest.raises(NO):
        call(world.here, theirs)
    assert [rows_of_shop(shop) for shop in shops] == before


@pytest.mark.parametrize("what", ON_A_DESIGN)
def test_a_design_takes_nothing_of_another_shop(world, what):
    refuses(ON_A_DESIGN[what], world, world.late)


@pytest.mark.parametrize("what", ON_A_QUOTE)
def test_a_quote_takes_nothing_of_another_shop(world, what):
    STAGES["priced"](world.here)
    refuses(ON_A_QUOTE[what], world, world.early)


@pytest.mark.parametrize("what", ON_A_RECORD)
def test_a_record_takes_nothing_of_another_shop(world, what):
    STAGES["built" if what == "id of a signature" else "opened"](world.here)
    SignOff.objects.filter(checklist=world.late.checklist).update(key=ident("hand over"))
    refuses(ON_A_RECORD[what], world, world.late)


def test_nothing_of_another_job_of_the_same_shop_either(world):
    """The neighbor's photo, event and step are of this shop and still no evidence of this job."""
    STAGES["opened"](world.here)
    for what in ("step recorded at", "photo as evidence", "id of an event", "id of an upload"):
        written = rows_written()
        with pytest.raises(NO):
            ON_A_RECORD[what](world.here, world.neighbour)
        assert not StepEvent.objects.filter(checklist=world.here.checklist).exists(), what
        assert rows_written() == written, what


def test_a_key_of_another_roof_takes_nothing_away_there(world):
    before = rows_of_shop(world.late.shop)
    obstacle(world.here, world.late)
    assert rows_of_shop(world.late.shop) == before


READS: dict[str, Callable[[Any, Side], Any]] = {
    "job": lambda who, side: job_for_page(who, side.job.pk),
    "job on the tablet": lambda who, side: pages.job_for_page(who, side.job.pk),
    "survey": lambda who, side: survey_for_page(who, side.job.pk),
    "quote": lambda who, side: quote_for_page(who, side.quote.pk),
    "record": lambda who, side: pages.checklist_or_404(who, side.job.pk),
    "record to send pictures to": lambda who, side: pages.checklist_for_upload(who, side.job.pk),
    "step": lambda who, side: pages.step_for_page(who, Step.objects.filter(checklist__job=side.job)[0].pk),
    "deviation": lambda who, side: pages.deviation_for_page(who, side.checklist.deviations.first().pk),
    "upload": lambda who, side: pages.upload_or_404(who, side.checklist.uploads.get().pk),
    "held batch": lambda who, side: held_for_page(who, side.checklist.held.get().pk),
}
LISTS: dict[str, Callable[[Any], Any]] = {
    "jobs to take along": jobs_to_download,
    "tablets": device_rows,
    "quotes": quotes_visible,
    "records": Checklist.objects.visible_to,
    "jobs": Job.objects.visible_to,
}


@pytest.mark.parametrize("person", ["left", "alice", "nobody", "signed out"])
def test_what_is_another_shops_is_not_found(world, person):
    """Charlie's late job exists for Charlie alone; who left sees no shop's rows any more, the own neither."""
    who, theirs = world.people[person], world.late
    for what, read in READS.items():
        assert read(world.people["charlie"], theirs) is not None, what
        with pytest.raises(Http404):
            read(who, theirs)
    if person != "alice":
        for what, read in READS.items():
            with pytest.raises(Http404):
                read(who, world.neighbour)
            assert read(world.people["alice"], world.neighbour) is not None, what
        assert [list(found(who)) for found in LISTS.values()] == [[]] * len(LISTS)


def test_each_list_holds_the_own_shops_rows_only(world):
    for person, side in (("alice", world.neighbour), ("charlie", world.late)):
        who = world.people[person]
        assert {row.shop_id for row in Job.objects.visible_to(who)} == {side.shop.pk}
        assert {row.shop_id for row in device_rows(who)} == {side.shop.pk}
        assert [row["pk"] for row in jobs_to_download(who)] == [side.job.pk]


def test_no_shop_has_no_rows(world):
    assert not Job.objects.of_shop(None).exists()
    assert Job.objects.of_shop(world.late.shop).count() == 2
