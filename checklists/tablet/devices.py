"""The tablets of a shop: how one becomes known, is revoked and restored, and what happens to its work.

What a revoked tablet sends is not thrown away: it is held, whole, until the owner takes it in or sets it
aside with a reason. Taken in, it is the work of the person who sent it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, Device, HeldBatch
from checklists.record.events import Author, Recorded, RecordRefused, Sent, events_record
from checklists.rules.entries import clean_text
from checklists.tablet.wire import Batch, read_batch
from common.told import in_english
from jobs.models import Shop
from jobs.shop.actor import Actor, name_of
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

REASON_LENGTH: Final = 15
NAME_LENGTH: Final = 40
#: "Last seen" is written no oftener than this: it is read by people. A choice of ours.
_SEEN_EVERY: Final = timedelta(minutes=1)


class DeviceRefused(Refusal):
    """The tablet or its held work stays as it is; says why."""


@dataclass(frozen=True, slots=True)
class Call:
    """What a tablet says of itself when it speaks to us."""

    key: UUID
    name: str = ""
    app: str = ""
    offset_ms: int | None = None


@in_english
@transaction.atomic
def device_seen(*, shop: Shop, call: Call, person: User, at: datetime) -> tuple[Device, bool]:
    """Return the tablet with this key in this shop, and whether it is new; write down that it was seen."""
    require(person, shop, "is_member")
    device, is_new = Device.objects.get_or_create(
        shop=shop,
        key=call.key,
        defaults={
            "name": call.name[:64],
            "app_version": call.app[:40],
            "offset_ms": call.offset_ms,
            "person": person,
            "person_name": name_of(person),
            "first_seen_at": at,
            "last_seen_at": at,
        },
    )
    if is_new:
        log(shop=shop, actor=person, verb="tablet seen first", detail=str(device), at=at)
        return device, True
    _update(device, call, person, at)
    return device, False


def _update(device: Device, call: Call, person: User, at: datetime) -> None:
    """Write down what changed; what the tablet left out stays as it was."""
    newest = {
        "name": call.name[:64] or device.name,
        "app_version": call.app[:40] or device.app_version,
        "person_id": person.pk,
        "person_name": name_of(person),
    }
    changed = [name for name, value in newest.items() if getattr(device, name) != value]
    if not changed and at - device.last_seen_at < _SEEN_EVERY:
        return
    for name, value in newest.items():
        setattr(device, name, value)
    device.offset_ms = device.offset_ms if call.offset_ms is None else call.offset_ms
    device.last_seen_at = max(at, device.last_seen_at)
    device.save(update_fields=[*newest, "offset_ms", "last_seen_at"])


@in_english
@transaction.atomic
def device_name(*, device: Device, name: str, actor: User, at: datetime) -> Device:
    """Give a tablet the name people call it by; empty takes the name away."""
    row = Device.objects.select_for_update(of=("self",)).select_related("shop").get(pk=device.pk)
    require(actor, row.shop, "may_install")
    named = clean_text(name)
    if len(named) > NAME_LENGTH:
        raise DeviceRefused(f"A tablet's name has at most {NAME_LENGTH} characters, got {len(named)}.")
    if named == row.given_name:
        return row
    before = str(row)
    row.given_name = named
    row.save(update_fields=["given_name"])
    log(shop=row.shop, actor=actor, verb="tablet named", detail=f"{before} is now {row}", at=at)
    return row


@in_english
@transaction.atomic
def device_revoke(*, device: Device, actor: User, at: datetime) -> Device:
    """Hold from now on what this tablet sends."""
    row = _locked(device, actor)
    if row.is_revoked:
        return row
    row.revoked_at, row.revoked_by_name = at, name_of(actor)
    return _decided(row, "tablet revoked", actor, at)


@in_english
@transaction.atomic
def device_restore(*, device: Device, actor: User, at: datetime) -> Device:
    """Take in again what this tablet sends; what was held meanwhile still waits for a decision."""
    row = _locked(device, actor)
    if not row.is_revoked:
        return row
    row.revoked_at, row.revoked_by_name = None, ""
    return _decided(row, "tablet restored", actor, at)


def _locked(device: Device, actor: User) -> Device:
    row = Device.objects.select_for_update(of=("self",)).select_related("shop").get(pk=device.pk)
    require(actor, row.shop, "is_owner")
    return row


def _decided(row: Device, verb: str, actor: Actor, at: datetime) -> Device:
    row.save(update_fields=["revoked_at", "revoked_by_name"])
    log(shop=row.shop, actor=actor, verb=verb, detail=str(row), at=at)
    return row


@in_english
@transaction.atomic
def batch_hold(
    *, checklist: Checklist, batch: Batch, body: bytes, device: Device, person: User, at: datetime
) -> tuple[UUID, ...]:
    """Keep a batch of a revoked tablet whole, once; return the ids of its events."""
    Device.objects.select_for_update().get(pk=device.pk)
    membership = require(person, checklist.job.shop, "may_install")
    if device.shop_id != checklist.job.shop_id:
        raise DeviceRefused("This tablet belongs to another shop.")
    ids = tuple(dict.fromkeys(entry.id for entry in batch.entries))
    data = json.loads(body)
    if not _news(data, device, checklist):
        return ids
    held = HeldBatch.objects.create(
        device=device,
        checklist=checklist,
        person=person,
        person_name=name_of(person),
        person_role=membership.role,
        body=json.dumps(data),  # plain ASCII: any text a tablet can send fits any database
        event_ids=[str(name) for name in ids],
        received_at=at,
    )
    _log(held, "work of a revoked tablet held", person, at)
    return ids


def _news(data: dict[str, Any], device: Device, checklist: Checklist) -> bool:
    """Return whether a batch holds anything this tablet's held batches of the job do not hold yet."""
    rows = HeldBatch.objects.filter(device=device, checklist=checklist)
    kept = {_one_line(event) for row in rows for event in json.loads(row.body)["events"]}
    return any(_one_line(event) not in kept for event in data["events"])


def _one_line(event: Any) -> str:
    return json.dumps(event, sort_keys=True)


@in_english
@transaction.atomic
def batch_take_in(
    *, held: HeldBatch, actor: User, at: datetime, reason: str = "", leave_out_bad: bool = False
) -> Recorded:
    """Record a held batch as the work of who sent it; raise RecordRefused when an event cannot be right.

    ``leave_out_bad`` records the others; those left out stay in the held batch and are named in the log.
    """
    row = _waiting(held, actor)
    batch = read_batch(row.body.encode())
    author = Author(get_user_model().objects.get(pk=row.person_id), row.person_name, row.person_role)
    sent = Sent(device=row.device, offset_ms=batch.offset_ms, author=author)
    entries: Sequence[Any] = batch.entries
    bad: tuple[UUID, ...] = ()
    try:
        done = events_record(checklist=row.checklist, entries=entries, actor=actor, at=at, sent=sent)
    except RecordRefused as refusal:
        if not (leave_out_bad and refusal.bad):
            raise
        bad = refusal.bad
        entries = [entry for entry in entries if entry.id not in bad]
        done = events_record(checklist=row.checklist, entries=entries, actor=actor, at=at, sent=sent)
    left_out = f"Left out: {', '.join(str(name) for name in bad)}." if bad else ""
    _decide(row, HeldBatch.State.TAKEN, f"{reason.strip()} {left_out}".strip(), actor, at)
    return done


@in_english
@transaction.atomic
def batch_set_aside(*, held: HeldBatch, reason: str, actor: User, at: datetime) -> HeldBatch:
    """Leave a held batch out of the record, with a reason; it stays readable."""
    row = _waiting(held, actor)
    if len(reason.strip()) < REASON_LENGTH:
        raise DeviceRefused(f"Please give a reason of at least {REASON_LENGTH} characters.")
    return _decide(row, HeldBatch.State.ASIDE, reason.strip(), actor, at)


def _waiting(held: HeldBatch, actor: User) -> HeldBatch:
    row = (
        HeldBatch.objects.select_for_update(of=("self",))
        .select_related("device__shop", "checklist__job__shop")
        .get(pk=held.pk)
    )
    require(actor, row.device.shop, "is_owner")
    if not row.is_waiting:
        raise DeviceRefused(f"This was decided already: {row.get_state_display().lower()}.")
    return row


def _decide(row: HeldBatch, state: HeldBatch.State, reason: str, actor: Actor, at: datetime) -> HeldBatch:
    row.state, row.reason = state, reason
    row.decided_by_name, row.decided_at = name_of(actor), at
    row.save(update_fields=["state", "reason", "decided_by_name", "decided_at"])
    _log(row, f"held work {row.get_state_display().lower()}", actor, at)
    return row


def _log(row: HeldBatch, verb: str, actor: Actor, at: datetime) -> None:
    log(
        shop=row.device.shop,
        job=row.checklist.job,
        actor=actor,
        verb=verb,
        detail=f"{row}, sent by {row.person_name}",
        reason=row.reason,
        at=at,
    )
