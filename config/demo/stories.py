"""Makes the demo's jobs at every stage, from the booked survey to the care afterwards, by the services."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any, Final

from django.db import transaction
from django.utils import timezone

from checklists.models import Checklist
from common.units import tidy
from config.demo.prices import quote_priced
from config.demo.shop import JOB_IN_WORK, NOTED, SHOP_NAME
from config.demo.walk import Day, sign_and_issue, walk
from jobs.autolayout.question import LayoutOptions
from jobs.autolayout.run import layout_search_ask, layout_search_work
from jobs.customers.customer import vehicle_save
from jobs.customers.intake import job_intake
from jobs.customers.job import job_change, job_move, job_move_by_hand, job_note
from jobs.design.copy import copy_parts
from jobs.design.noted import checks_note
from jobs.design.packages import package_keep
from jobs.design.revision import Change, design_change, design_create
from jobs.design.survey_saved import survey_save
from jobs.ledger.payment import deposit_record
from jobs.models import Customer, Design, ExistingItem, Job, Membership, Part, Survey, Vehicle
from jobs.quote.answer import quote_accept
from jobs.quote.send import quote_send
from jobs.survey.changes import PartChanges, RowChanges

DAY: Final = dt.timedelta(days=1)
SURVEY_BOOKED: Final = "2026-011"
REFUSED: Final = "2026-014"
CHOICE_OF_LAYOUTS: Final = "2026-002"
#: Five of eight feet found a rafter: the owner has to look at the wind again.
FOUND_IN_WORK: Final = {"layout_marked.feet_on_rafter": 5}
_ROWS: Final = ("obstacles", "wire_legs", "loads", "stops", "existing_items", "soft_spots")
_MASSES: Final = (
    "gvwr_kg", "gawr_front_kg", "gawr_rear_kg", "gawr_tag_kg", "hitch_limit_kg", "uvw_kg", "cargo_label_kg",
    "scale_front_kg", "scale_rear_kg",
)  # fmt: skip
_NOT_COPIED: Final = {
    "id", "survey_id", "job_id", "key", "position", "guessed_fields", "absent_kinds", "flags", "created_at",
}  # fmt: skip


@dataclass(frozen=True)
class Sold:
    """A job that was sold and built: whose, which trailer, how long ago the work began."""

    customer: str
    phone: str
    year: int
    plate: str
    vin: str
    title: str
    days_ago: int
    is_in_care: bool = False


SOLD: Final = (
    Sold(
        "Odile Farrow",
        "+1 303 555 0176",
        2022,
        "TRL-2218",
        "1CC22TA17N0007342",
        "Two panels before the desert",
        6,
    ),
    Sold(
        "Per and Anneke Lund",
        "+1 303 555 0177",
        2019,
        "TRL-1904",
        "1CC22TA14K0004815",
        "Lights and fridge, no hook-up",
        400,
        True,
    ),
)


@dataclass(frozen=True)
class Crew:
    """The people of the shop by their part."""

    owner: Any
    lead: Any
    technician: Any

    @classmethod
    def of_shop(cls) -> Crew:
        """Return the crew of the invented shop."""
        members = Membership.objects.select_related("user").filter(shop__name=SHOP_NAME)
        role = Membership.Role
        return cls(
            *(members.get(role=each).user for each in (role.OWNER, role.LEAD_TECHNICIAN, role.TECHNICIAN))
        )


def stories_tell() -> None:
    """Bring every job to its stage; a job that stands there already is left alone."""
    crew, now = Crew.of_shop(), timezone.now()
    _take_calls(crew, now)
    _work_half(crew, now)
    _keep_package(crew, now)
    for sold in SOLD:
        _sell_and_build(sold, crew, now)


def weights_round(units: str) -> None:
    """Have the vehicles just loaded weigh round numbers of the shop's units, as plates say them."""
    owner, now = Crew.of_shop().owner, timezone.now()
    for vehicle in Vehicle.objects.filter(shop__name=SHOP_NAME).select_related("shop", "customer"):
        masses = {name: getattr(vehicle, name) for name in _MASSES if getattr(vehicle, name) is not None}
        for name, mass_kg in masses.items():
            setattr(vehicle, name, tidy(mass_kg, "kg", units))
        if masses:
            vehicle_save(vehicle=vehicle, actor=owner, at=now)


def layouts_offer() -> None:
    """Search layouts for the van's roof, so that there is a choice to take from."""
    design = Design.objects.filter(job__shop__name=SHOP_NAME, job__number=CHOICE_OF_LAYOUTS).first()
    if design is None or design.is_frozen or design.lay_runs.exists():
        return
    panels = Part.objects.of_shop(design.job.shop).filter(kind=Part.Kind.PANEL, is_active=True)
    options = LayoutOptions(parts=tuple(panels.values_list("pk", flat=True)), on_rafters=False)
    run = layout_search_ask(design=design, options=options, actor=Crew.of_shop().owner, at=timezone.now())
    layout_search_work(run.pk, clock=timezone.now)


@transaction.atomic
def _take_calls(crew: Crew, now: dt.datetime) -> None:
    """Book the survey of one caller, and say no to another."""
    calls = {job.number: job for job in Job.objects.filter(shop__name=SHOP_NAME, state=Job.State.ENQUIRY)}
    if job := calls.get(SURVEY_BOOKED):
        job_change(job=job, people=[crew.lead], actor=crew.owner, at=now)
        job_note(
            job=job, text=f"Survey on {now + 3 * DAY:%A} at nine, at their place", actor=crew.owner, at=now
        )
        job_move_by_hand(job=job, to=Job.State.SURVEY_BOOKED, actor=crew.owner, at=now)
    if job := calls.get(REFUSED):
        job_move_by_hand(
            job=job, to=Job.State.REFUSED, reason="Too high for our bay", actor=crew.owner, at=now
        )


@transaction.atomic
def _work_half(crew: Crew, now: dt.datetime) -> None:
    """Have the trailer in work built up to its batteries: photos are in, one deviation is open."""
    record = Checklist.objects.filter(job__shop__name=SHOP_NAME, job__number=JOB_IN_WORK).first()
    if record is None or record.events.exists():
        return
    job = record.job
    job.promised_date = (now + 2 * DAY).date()
    job_change(job=job, people=[crew.lead, crew.technician], actor=crew.owner, at=now - 2 * DAY)
    day = Day(crew.lead, crew.technician.get_full_name(), now - 2 * DAY, FOUND_IN_WORK)
    walk(record, day, "ABCDEFG", until="main_fuse")


def _keep_package(crew: Crew, now: dt.datetime) -> None:
    """Keep what small trailers take under a name, to be placed on the next one."""
    design = Design.objects.filter(job__shop__name=SHOP_NAME, job__number=JOB_IN_WORK).first()
    if design is None or design.packages.exists() or design.unsized_reason or not design.runs.exists():
        return
    note = "Two panels and two batteries for a small trailer"
    package_keep(design=design, name="Weekend pair", note=note, actor=crew.owner, at=now)


@transaction.atomic
def _sell_and_build(sold: Sold, crew: Crew, now: dt.datetime) -> None:
    """Take one job from the call to the signed sheet, and into care where it is long ago."""
    if Customer.objects.filter(shop__name=SHOP_NAME, name=sold.customer).exists():
        return
    begins = now - sold.days_ago * DAY
    job = sell(sold, crew, now)
    record = Checklist.objects.get(job=job)
    day = Day(crew.lead, crew.technician.get_full_name(), begins)
    walk(record, day, "ABCDEFGHIJKLM")
    sign_and_issue(record, day, crew.owner)
    if sold.is_in_care:
        for number, state in enumerate((Job.State.INVOICED, Job.State.PAID, Job.State.IN_CARE), start=4):
            job = Job.objects.get(pk=job.pk)
            job_move_by_hand(job=job, to=state, actor=crew.owner, at=begins + number * DAY)


def sell(sold: Sold, crew: Crew, now: dt.datetime) -> Job:
    """Take one job from the call to the parts on the shelf, ready when its work begins or by today."""
    source = Design.objects.get(job__shop__name=SHOP_NAME, job__number=JOB_IN_WORK, number=1)
    begins = now - sold.days_ago * DAY
    job = _called(sold, source, crew, begins - 20 * DAY)
    design = _designed(job, source, crew, begins - 18 * DAY)
    _accepted(job, design, crew, begins - 14 * DAY)
    return job


def _called(sold: Sold, source: Design, crew: Crew, at: dt.datetime) -> Job:
    """Write down the call, the trailer and what its survey found: the same kind of trailer as the other."""
    shop, like = source.job.shop, source.job.vehicle
    trailer = Vehicle(
        shop=shop, kind=like.kind, year=sold.year, make_text=like.make_text, plate=sold.plate, vin=sold.vin
    )
    customer = Customer(shop=shop, name=sold.customer, phone=sold.phone)
    told = Job(title=sold.title, asked_for="As the neighbor has it.", work_place="Shop bay")
    job = job_intake(job=told, vehicle=trailer, customer=customer, actor=crew.owner, at=at)
    Job.objects.filter(pk=job.pk).update(created_at=at)
    job_change(job=job, people=[crew.lead, crew.technician], actor=crew.owner, at=at)
    kept = {"shop_id", "customer_id", "kind", "year", "make_text", "vin", "plate", "scale_ticket_date"}
    survey_save(
        survey=Survey.objects.get(job=job),
        part_title="Survey",
        changes=PartChanges(
            survey=_facts(source.job.survey),
            vehicle={k: v for k, v in _facts(like).items() if k not in kept}
            | {"scale_ticket_date": at.date()},
            rows={name: _rows(source.job.survey, name, job) for name in _ROWS},
        ),
        actor=crew.owner,
        at=at + DAY,
    )
    return job_move(job=job, to=Job.State.SURVEYED, actor=crew.owner, at=at + DAY)


def _facts(row: Any) -> dict[str, Any]:
    fields = row._meta.concrete_fields
    return {one.attname: getattr(row, one.attname) for one in fields if one.attname not in _NOT_COPIED}


def _rows(survey: Survey, name: str, job: Job) -> RowChanges:
    rows = getattr(survey, name).all()
    return RowChanges(write=tuple((_key_of(row, job), _facts(row)) for row in rows))


def _key_of(row: Any, job: Job) -> uuid.UUID:
    return uuid.uuid5(row.key, job.number)


def _designed(job: Job, source: Design, crew: Crew, at: dt.datetime) -> Design:
    """Draw the design after the other trailer's: the same parts in the same places."""
    design = design_create(job=job, actor=crew.owner, at=at)
    design_change(
        design, Change(actor=crew.owner, at=at), "design filled", lambda locked: _fill(locked, source)
    )
    key, reason = NOTED[JOB_IN_WORK]
    checks_note(design=design, keys=[key], reason=reason, actor=crew.owner, at=at)
    return Design.objects.get(pk=design.pk)


def _fill(design: Design, source: Design) -> str:
    design.sources.all().delete()
    design.circuits.all().delete()
    copy_parts(source, design)
    for row in design.sources.exclude(existing=None).select_related("existing"):
        key = _key_of(row.existing, design.job)
        row.existing = ExistingItem.objects.get(survey__job=design.job, key=key)
        row.save(update_fields=["existing"])
    return f"after job {source.job.number}"


def _accepted(job: Job, design: Design, crew: Crew, at: dt.datetime) -> None:
    """Quote it; the customer says yes, pays the deposit, and the parts come."""
    quote = quote_priced(design=design, owner=crew.owner, at=at)
    quote_send(quote=quote, actor=crew.owner, at=at)
    name = job.vehicle.customer.name
    quote_accept(quote=quote, signed_name=name, signature_svg="", at=at + DAY)
    job.refresh_from_db()
    deposit_record(job=job, amount=quote.deposit, method="bank", actor=crew.owner, at=at + 2 * DAY)
    for number, state in ((3, Job.State.PARTS_ORDERED), (10, Job.State.READY)):
        job.refresh_from_db()
        job_move(job=job, to=state, actor=crew.owner, at=at + number * DAY)
