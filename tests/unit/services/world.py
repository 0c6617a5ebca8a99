"""Knows two shops at work side by side: Alice's, where a call is made, and Charlie's, which stands by.

Charlie's shop has the same jobs as Alice's, at every stage a change could touch by mistake: one with a quote
that is out, one being built with values, photos, signatures, tablets and held work. Alice has a second job
being built as well. What one call changes beside its own job is therefore seen in some row.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from copy import copy
from dataclasses import dataclass, field
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.apps import apps
from django.contrib.auth.models import AnonymousUser, User
from django.db import connection, transaction

from checklists.models import Checklist, Device, Photo, SignOff, Upload
from checklists.photos.photos import Picture, photo_keep
from checklists.photos.uploads import Announced, upload_open
from checklists.record.events import events_record
from checklists.record.override import hold_override
from checklists.rules.entries import Entry
from checklists.sheet.draft import sheet_draft
from checklists.sheet.issue import sheet_issue
from checklists.sheet.sign import sheet_sign
from checklists.tablet.devices import Call, batch_hold, device_revoke, device_seen
from checklists.tablet.wire import read_batch
from jobs.design.noted import checks_note
from jobs.design.revision import design_create, design_size
from jobs.engine.stored import latest_run, result_of
from jobs.models import (
    BatterySheet,
    ChargerSheet,
    ControllerSheet,
    Design,
    DesignCircuit,
    InverterSheet,
    Job,
    LayRun,
    LineKind,
    Membership,
    PanelSheet,
    Part,
    Quote,
    Shop,
)
from jobs.quote.answer import quote_accept
from jobs.quote.change_order import ChangeFacts, change_order_create
from jobs.quote.draft import quote_create
from jobs.quote.lines import LineDraft
from jobs.quote.send import quote_send
from jobs.survey.photo import roof_photo_add
from tests.quotes import nothing_missing
from tests.replay import replayed
from tests.roles import step_of
from tests.unit.checklists.walk import complete, drawn

NOW = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)
TABLET = uuid.UUID("0b6f9a52-3a0e-4d1b-9f57-1f6f0a3b7c11")
FACTS = ChangeFacts("Soft wood beside the vent", "Bob Test", ("C", "D"), Decimal(0), schedule_days=1)
PRICED = [LineDraft(LineKind.PART, "Ply and resin", unit_cost=Decimal(92), markup=Decimal("0.30"))]
REASON = "Looked at it himself, photo in the file"
STROKES = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 40"><path d="M 5 30 L 60 50" '
    'stroke-width="2" stroke="#1c2224" fill="none"/></svg>'
)
#: How far the keys of copied records lie from those of the first.
EARLY, LATE, NEIGHBOUR = 100_000, 200_000, 300_000
#: Records of the file that are people and their places: the copies have their own.
_PEOPLE = {"user", "membership", "shop"}
#: Records that all jobs of a shop share.
_CATALOGUE = {Part, PanelSheet, ControllerSheet, BatterySheet, InverterSheet, ChargerSheet}


def ident(what: str) -> uuid.UUID:
    """Return the same id for the same words in every run."""
    return uuid.UUID(bytes=hashlib.sha256(what.encode()).digest()[:16])


@dataclass
class Side:
    """One job of one shop with the person who does everything on it, and what was made of it so far."""

    shop: Shop
    job: Job
    owner: Any
    made: dict[str, Any] = field(default_factory=dict)

    @property
    def design(self) -> Design:
        """Return the first design of the job."""
        return self.job.designs.select_related("job__shop").order_by("number").first()

    @property
    def quote(self) -> Quote:
        """Return the newest quote."""
        return self.job.quotes.select_related("job__shop", "design").first()

    @property
    def checklist(self) -> Checklist:
        """Return the install record."""
        rows = Checklist.objects.select_related("job__shop", "design", "run")
        return rows.get(job=self.job)

    @property
    def part(self) -> Part:
        """Return the panel of the catalog."""
        return Part.objects.get(shop=self.shop, sku="P200")

    def step(self, role: str, subject: str = "") -> Any:
        """Return a step of the install record."""
        return step_of(self.checklist, role, subject)

    def entry(
        self, role: str = "battery_before", name: str = "rest_v", value: Any = 12.6, **more: Any
    ) -> Entry:
        """Return an event at a step that is not stored yet."""
        step = more.pop("step", None) or self.step(role, more.pop("subject", "")).pk
        given = {"id": ident(f"{self.job.pk} {role} {name} {value}")} | more
        return Entry(step=step, field=name, value=value, **given)


# --- stages -------------------------------------------------------------------------------------------------


def priced(side: Side) -> None:
    """Size the design and begin a quote on it."""
    design_size(design=side.design, actor=side.owner, at=NOW)
    nothing_missing(quote_create(design=side.design, actor=side.owner, at=NOW), side.owner, NOW)


def offered(side: Side) -> None:
    """Send the quote."""
    priced(side)
    quote_send(quote=side.quote, actor=side.owner, at=NOW, reason="The owner sends it as it is")


def opened(side: Side) -> None:
    """Have the customer accept, the deposit paid and the parts here: the install record is open."""
    offered(side)
    quote_accept(quote=side.quote, signed_name="Nell Pardee", signature_svg="", at=NOW)
    Job.objects.filter(pk=side.job.pk).update(state=Job.State.READY)


def built(side: Side) -> None:
    """Record a good value at every field."""
    opened(side)
    complete(side.checklist, side.owner, NOW)


def busy(side: Side) -> None:
    """Have some of everything an install can have: values, pictures, a deviation, a change, a held batch."""
    opened(side)
    record(side, side.entry(), side.entry("protection", "fuse_a", 60.0, subject="circuit:C2"))
    record(side, side.entry("home_run_length", "run_len_m", 14.0, subject="circuit:C2"))
    change_order_create(job=side.job, facts=FACTS, lines=PRICED, actor=side.owner, at=NOW)
    keep_photo(side)
    announce(side)
    held_batch(side)
    cautions = [one.key for one in result_of(latest_run(side.design)).checks if one.verdict == "caution"]
    checks_note(design=side.design, keys=cautions[:1], reason=REASON, actor=side.owner, at=NOW)
    roof_photo_add(survey=side.job.survey, picture=SimpleNamespace(drawn=drawn()), actor=side.owner, at=NOW)
    hold_override(step=side.step("custody"), reason=REASON, actor=side.owner, at=NOW)
    sheet_issue(checklist=side.checklist, actor=side.owner, at=NOW)
    sign_anyhow(side)
    LayRun.objects.create(design=side.design, options={}, at=NOW, touched_at=NOW, by_name="Test")
    design_create(job=side.job, actor=side.owner, at=NOW, copy_of=side.design)


STAGES = {
    "design": lambda side: None,
    "sized": lambda side: design_size(design=side.design, actor=side.owner, at=NOW),
    "priced": priced,
    "offered": offered,
    "opened": opened,
    "busy": busy,
    "built": built,
}


def record(side: Side, *entries: Entry) -> None:
    """Record events as the person of this side."""
    events_record(checklist=side.checklist, entries=entries, actor=side.owner, at=NOW)


def keep_photo(side: Side, what: str = "photo") -> Photo:
    """Store a picture of the job."""
    picture = Picture(hashlib.sha256(f"{what} {side.job.pk}".encode()).hexdigest(), drawn())
    return photo_keep(checklist=side.checklist, picture=picture, actor=side.owner, at=NOW)


def announce(side: Side, data: bytes = b"not a picture") -> Upload:
    """Announce a picture that is on its way."""
    digest = hashlib.sha256(data).hexdigest()
    announced = Announced(ident(f"upload {side.job.pk}"), digest, digest, len(data), "image/jpeg")
    return upload_open(checklist=side.checklist, announced=announced, actor=side.owner, at=NOW)[0]


def tablet(side: Side) -> Device:
    """Make a tablet known."""
    return device_seen(shop=side.shop, call=Call(TABLET, "Roof tablet"), person=side.owner, at=NOW)[0]


def new_tablet(side: Side) -> Device:
    """Make a tablet known that nobody has revoked."""
    call = Call(ident(f"new tablet {side.job.pk}"), "New tablet")
    return device_seen(shop=side.shop, call=call, person=side.owner, at=NOW)[0]


def batch_body(side: Side) -> bytes:
    """Return what a tablet sends."""
    entry = side.entry("walk_round", "damage", "none", id=ident(f"held {side.job.pk}"))
    event = {"id": str(entry.id), "step": entry.step, "field": entry.field, "value": entry.value}
    return json.dumps({"events": [event]}).encode()


def held_batch(side: Side) -> Any:
    """Hold the work of a tablet that was revoked."""
    device = device_revoke(device=tablet(side), actor=side.owner, at=NOW)
    body = batch_body(side)
    batch_hold(
        checklist=side.checklist, batch=read_batch(body), body=body, device=device, person=side.owner, at=NOW
    )
    return device.held.filter(checklist=side.checklist).get()


def sign_anyhow(side: Side) -> SignOff:
    """Store a signature under some content, as a record changed since then keeps it."""
    return SignOff.objects.create(
        checklist=side.checklist, part="technician", printed_name="Lena Test", signature_svg=STROKES,
        content_sha256="0" * 64, key=ident(f"signed {side.job.pk}"), by=side.owner, at=NOW,
    )  # fmt: skip


def sign(side: Side, person: Any, part: str) -> Any:
    """Sign one place of the sheet as it stands."""
    return sheet_sign(
        checklist=side.checklist,
        part=part,
        printed_name="Nell Pardee",
        signature_svg=STROKES,
        content_sha256=sheet_draft(side.checklist).content_sha256,
        actor=person,
        at=NOW,
    )


# --- the shops ----------------------------------------------------------------------------------------------


@dataclass
class World:
    """Alice's job and people, and everything that must stay as it is."""

    here: Side
    early: Side
    late: Side
    neighbour: Side
    people: dict[str, Any]

    @property
    def others(self) -> list[Side]:
        """Return the two jobs of the shop that stands by."""
        return [self.early, self.late]


def make_world(job: Job, people: dict[str, User], records: dict[Any, list[Any]]) -> World:
    """Return both shops; the jobs that stand by are built once for all tests."""
    charlie, alice = people["charlie"], people["alice"]
    there = charlie.membership.shop

    def build() -> None:
        for shop, owner, offset, catalogue, stage in (
            (there, charlie, EARLY, EARLY, "offered"),
            (there, charlie, LATE, EARLY, "busy"),
            (job.shop, alice, NEIGHBOUR, 0, "busy"),
        ):
            STAGES[stage](Side(shop, _Copy(records, job, shop, offset, catalogue).written(), owner))

    replayed(f"two shops {job.pk}", build)
    sides = [
        Side(shop, Job.objects.select_related("shop", "vehicle__customer").get(pk=job.pk + offset), owner)
        for shop, owner, offset in (
            (there, charlie, EARLY), (there, charlie, LATE), (job.shop, alice, NEIGHBOUR),
        )
    ]  # fmt: skip
    return World(Side(job.shop, job, alice), *sides, people | _outsiders(people))


@dataclass
class _Copy:
    """The first job of the file in a shop, its keys moved by an offset; so are those of the catalog."""

    records: dict[Any, list[Any]]
    job: Job
    shop: Shop
    offset: int
    catalogue: int

    def written(self) -> Job:
        """Write the copy and return its job."""
        lost: dict[Any, set[Any]] = {Job: {row.pk for row in self.records[Job] if row.pk != self.job.pk}}
        with transaction.atomic():
            for model, records in self.records.items():
                if model._meta.model_name in _PEOPLE or (
                    model in _CATALOGUE and self.catalogue != self.offset
                ):
                    continue
                links = [one for one in model._meta.concrete_fields if one.is_relation]
                kept = [row for row in records if not _is_lost(row, links, lost)]
                lost[model] = {row.pk for row in records} - {row.pk for row in kept}
                model.objects.bulk_create([self._moved(copy(row), links) for row in kept])
        return Job.objects.get(pk=self.job.pk + self.offset)

    def _moved(self, row: Any, links: list[Any]) -> Any:
        row.pk = self._key(type(row), row.pk)
        for one in links:
            setattr(row, one.attname, self._key(one.related_model, getattr(row, one.attname)))
        if isinstance(row, Job):
            row.number = f"{row.number}-{self.offset}"
        if isinstance(row, DesignCircuit):
            kind, _, name = row.serves.partition(":")
            if kind == "source" and name.isdigit():
                row.serves = f"source:{int(name) + self.offset}"
        return row

    def _key(self, model: Any, pk: Any) -> Any:
        if model is Shop:
            return self.shop.pk
        if pk is None or model._meta.model_name in _PEOPLE:
            return pk
        return pk + (self.catalogue if model in _CATALOGUE else self.offset)


def _is_lost(row: Any, links: list[Any], lost: dict[Any, set[Any]]) -> bool:
    """Return whether a record is of another job."""
    if row.pk in lost.get(type(row), ()):
        return True
    return any(getattr(row, one.attname) in lost.get(one.related_model, ()) for one in links)


def _outsiders(people: dict[str, Any]) -> dict[str, Any]:
    """Return who must be refused everywhere: an owner who left, nobody's person, one not signed in."""
    shop = people["alice"].membership.shop
    left = User.objects.create_user("lou", "lou@shop.example", first_name="Lou", last_name="Test")
    left.membership = Membership.objects.create(user=left, shop=shop, role="owner", is_active=False)
    nobody = User.objects.create_user("nora", "nora@shop.example", first_name="Nora", last_name="Test")
    return {"left": left, "nobody": nobody, "signed out": AnonymousUser()}


# --- what stands in the tables ------------------------------------------------------------------------------


def owned_models() -> list[Any]:
    """Return every model that says which shop it belongs to."""
    every = [*apps.get_app_config("jobs").get_models(), *apps.get_app_config("checklists").get_models()]
    return [model for model in every if hasattr(model, "shop_path")]


def rows_of_shop(shop: Shop) -> dict[str, list[tuple[Any, ...]]]:
    """Return all that is stored of a shop, by model."""
    return {model.__name__: _values(model, {model.shop_path: shop.pk}) for model in owned_models()}


def rows_of_job(job: Job) -> dict[str, list[tuple[Any, ...]]]:
    """Return all that is stored of one job, by model: the job itself and what hangs from it."""
    paths = {
        model: "pk" if model is Job else model.shop_path.removesuffix("__shop")
        for model in owned_models()
        if model is Job or model.shop_path.endswith("job__shop")
    }
    return {model.__name__: _values(model, {path: job.pk}) for model, path in paths.items()}


def _values(model: Any, where: dict[str, Any]) -> list[tuple[Any, ...]]:
    return list(model._base_manager.filter(**where).order_by("pk").values_list())


def rows_written() -> int:
    """Return how many rows were ever written over this connection, undone ones too."""
    if connection.vendor == "sqlite":
        return int(connection.connection.total_changes)
    with connection.cursor() as cursor:
        cursor.execute("SELECT SUM(n_tup_ins + n_tup_upd + n_tup_del) FROM pg_stat_xact_user_tables")
        return int(cursor.fetchone()[0] or 0)
