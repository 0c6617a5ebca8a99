"""Takes in a signature given without a network, and says whether it stands under the sheet."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, SignOff
from checklists.record.read import event_of
from checklists.rules.hand_over import UnreadableContent, content_of, recorded_rows, sha256_of
from checklists.rules.reducer import reduce_events
from checklists.sheet.draft import Draft, sheet_draft
from common.told import in_english
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require
from jobs.shop.signature import clean_signature_svg

#: Parts that may be signed on a technician's tablet; the owner signs from the owner's own sign-in.
PARTS: Final = frozenset({SignOff.Part.TECHNICIAN, SignOff.Part.LICENSED, SignOff.Part.CUSTOMER})


class HandOverRefused(Refusal):
    """What came is no signature; says why."""


@dataclass(frozen=True, slots=True)
class Signed:
    """One signature as the tablet sends it."""

    id: uuid.UUID
    part: str
    printed_name: str
    signature_svg: str
    content: str
    content_sha256: str
    events: Sequence[uuid.UUID]
    claimed_at: datetime | None


@in_english
@transaction.atomic
def hand_over_sign(*, checklist: Checklist, signed: Signed, actor: User, at: datetime) -> SignOff:
    """Store a signature taken on the tablet; it stands only when the record is what was shown."""
    locked = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "job__vehicle__customer", "design", "run")
        .get(pk=checklist.pk)
    )
    require(actor, locked.job.shop, "may_install")
    known = SignOff.objects.filter(key=signed.id).first()
    if known is not None:
        return _same(known, locked, signed)
    _refuse_unreadable(signed)
    draft = sheet_draft(locked)
    problem = _problem(locked, draft, signed)
    row = SignOff(
        checklist=locked,
        key=signed.id,
        part=signed.part,
        printed_name=signed.printed_name.strip(),
        signature_svg=clean_signature_svg(signed.signature_svg),
        shown=signed.content,
        shown_sha256=signed.content_sha256,
        content_sha256=signed.content_sha256 if problem else draft.content_sha256,
        problem=problem,
        claimed_at=signed.claimed_at,
        by=actor,
        at=at,
    )
    row.full_clean(exclude=["signature_svg", "shown"])
    row.save()
    words = f"{row.get_part_display()}: {row.printed_name}, shown {row.shown_sha256[:12]}"
    log(
        shop=locked.job.shop,
        job=locked.job,
        actor=actor,
        verb="signed on the tablet",
        detail=f"{words}. {problem}" if problem else words,
        at=at,
    )
    return row


def _same(known: SignOff, checklist: Checklist, signed: Signed) -> SignOff:
    if known.checklist_id != checklist.pk or known.shown_sha256 != signed.content_sha256:
        raise HandOverRefused("This signature was used before for something else.")
    return known


def _refuse_unreadable(signed: Signed) -> None:
    if signed.part not in PARTS:
        raise HandOverRefused("There is no such place to sign on a tablet.")
    if not signed.printed_name.strip():
        raise HandOverRefused("Please print the name under the signature.")
    if signed.signature_svg and not clean_signature_svg(signed.signature_svg):
        raise HandOverRefused("The drawing of the signature cannot be read.")
    if sha256_of(signed.content) != signed.content_sha256:
        raise HandOverRefused("What the tablet showed does not match what was signed.")
    try:
        content_of(signed.content)
    except UnreadableContent as problem:
        raise HandOverRefused(str(problem)) from problem


def _problem(checklist: Checklist, draft: Draft, signed: Signed) -> str:
    """Return why the signature does not stand under the sheet as it is now; empty when it does."""
    shown = content_of(signed.content)
    if shown["rows"] != _rows_from(draft, signed.events):
        return "What was shown does not match the record."
    if shown["rows"] != recorded_rows(draft.work.install):
        return "The record has changed since it was shown; look at it together and sign again."
    if shown["open"] or draft.content["open"]:
        return f"{len(shown['open']) or len(draft.content['open'])} things were still open."
    if signed.part not in draft.required:
        return "This signature is not needed here."
    if signed.part not in draft.missing_parts:
        return "This has already been signed."
    return ""


def _rows_from(draft: Draft, names: Sequence[uuid.UUID]) -> list[list[str]]:
    """Return the rows that the events named make, whatever else has arrived since."""
    wanted, work = set(names), draft.work
    events = (event_of(row) for row in work.events if row.pk in wanted)
    return recorded_rows(replace(work.install, states=reduce_events(events)))
