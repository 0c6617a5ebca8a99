"""Takes a signature under the work: by name and drawing, bound to the hash of what was shown."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.contrib.auth.models import User
from django.db import transaction

from checklists.models import Checklist, SignOff
from checklists.sheet.draft import Draft, sheet_draft
from common.told import in_english
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import Right, require

#: Whose tablet a signature is taken on: the customer signs on any of ours, the owner only on his own.
RIGHT_TO_SIGN: Final[dict[SignOff.Part, Right]] = {
    SignOff.Part.TECHNICIAN: "may_install",
    SignOff.Part.LICENSED: "may_install",
    SignOff.Part.CUSTOMER: "may_install",
    SignOff.Part.OWNER: "is_owner",
}


class SignRefused(Refusal):
    """The signature is not taken; says why."""


@in_english
@transaction.atomic
def sheet_sign(
    *,
    checklist: Checklist,
    part: str,
    printed_name: str,
    signature_svg: str,
    content_sha256: str,
    actor: User,
    at: datetime,
) -> SignOff:
    """Take one signature under the sheet as shown; refuse when the record has changed since, or is open."""
    locked = (
        Checklist.objects.select_for_update(of=("self",))
        .select_related("job__shop", "job__vehicle__customer", "design", "run")
        .get(pk=checklist.pk)
    )
    if part not in RIGHT_TO_SIGN:
        raise SignRefused("There is no such place to sign.")
    require(actor, locked.job.shop, RIGHT_TO_SIGN[SignOff.Part(part)])
    if not printed_name.strip():
        raise SignRefused("Please print the name under the signature.")
    draft = sheet_draft(locked)
    _refuse_unready(draft, part, content_sha256)
    row = SignOff(
        checklist=locked,
        part=part,
        printed_name=printed_name.strip(),
        signature_svg=signature_svg,
        content_sha256=draft.content_sha256,
        by=actor,
        at=at,
    )
    row.full_clean(exclude=["signature_svg"])
    row.save()
    log(
        shop=locked.job.shop,
        job=locked.job,
        actor=actor,
        verb="sheet signed",
        detail=f"{row.get_part_display()}: {row.printed_name}, content {row.content_sha256[:12]}",
        at=at,
    )
    return row


def _refuse_unready(draft: Draft, part: str, content_sha256: str) -> None:
    if draft.content_sha256 != content_sha256:
        raise SignRefused("The record has changed since this page was opened. Look at it again, then sign.")
    if draft.content["open"]:
        steps = draft.open_steps
        words = "1 step is" if len(steps) == 1 else f"{len(steps)} steps are"
        raise SignRefused(f"{words} still open: close what is open before anyone signs.")
    if part not in draft.required:
        raise SignRefused("This signature is not needed here.")
    if part not in draft.missing_parts:
        raise SignRefused("This has already been signed.")
