"""PINs: a person signed in on a shop's tablet unlocks it by a few digits, for 30 days since it was last used.

The tablet turns the PIN and a salt of its own into a secret by PBKDF2 (``static/js/tablet/pin.js``) and sends
that; here is only a slow hash of it. Who comes from elsewhere lacks the salt and the tablet's key. A thief
with the tablet in hand and the tools of a browser can try every PIN: the lock keeps colleagues and customers
from writing under a person's name. A lost tablet is revoked, and its people get new passwords.
"""

from __future__ import annotations

import hmac
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from checklists.models import Device, DevicePin
from common.told import in_english
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: How long a PIN, and the session it opens, last after their last use.
KEPT_FOR: Final = timedelta(days=30)
#: Wrong PINs in a row after which only the password helps.
MOST_WRONG: Final = 5
SECRET_LENGTH: Final = 64
_USED_EVERY: Final = timedelta(hours=1)


class PinRefused(Refusal):
    """The PIN is not taken; says what to do. ``is_gone``: only the password helps."""

    def __init__(self, sentence: str, *, is_gone: bool = False) -> None:
        super().__init__(sentence)
        self.is_gone = is_gone


@in_english
@transaction.atomic
def pin_set(*, device: Device, secret: str, actor: User, at: datetime) -> DevicePin:
    """Let a person unlock this tablet by PIN; a new one takes the place of the old."""
    row = Device.objects.select_for_update(of=("self",)).select_related("shop").get(pk=device.pk)
    require(actor, row.shop, "may_install")
    if row.is_revoked:
        raise PinRefused("The owner has revoked this tablet: no PIN can be set on it.")
    if len(secret) != SECRET_LENGTH:
        raise PinRefused(f"The secret must be {SECRET_LENGTH} characters, got {len(secret)}.")
    pin, _ = DevicePin.objects.update_or_create(
        device=row,
        person=actor,
        defaults={
            "secret_hash": make_password(secret),
            "password_tag": actor.get_session_auth_hash(),
            "wrong_count": 0,
            "made_at": at,
            "used_at": at,
        },
    )
    log(shop=row.shop, actor=actor, verb="tablet PIN set", detail=str(row), at=at)
    return pin


@in_english
@transaction.atomic
def pin_forget(*, device: Device, actor: User, at: datetime) -> None:
    """Take a person's PIN of this tablet away."""
    require(actor, device.shop, "is_member")
    count, _ = DevicePin.objects.filter(device=device, person=actor).delete()
    if count:
        log(shop=device.shop, actor=actor, verb="tablet PIN removed", detail=str(device), at=at)


def pin_lasts(*, device: Device, person: User, at: datetime) -> bool:
    """Return whether a person has a PIN on this tablet; it lasts on from now."""
    row = DevicePin.objects.filter(device=device, person=person).first()
    if row is None or device.is_revoked or _is_over(row, at):
        return False
    if at - row.used_at > _USED_EVERY:
        DevicePin.objects.filter(pk=row.pk).update(used_at=at)
    return True


def pin_person(*, key: UUID, person_pk: int, secret: str, at: datetime) -> User:
    """Return the person whose PIN this is on this tablet; count wrong ones, the fifth takes the PIN away."""
    with transaction.atomic():  # what is counted stays counted: the refusal is raised after it
        found = _read(key, person_pk, secret, at)
    if isinstance(found, PinRefused):
        raise found
    return found


def _read(key: UUID, person_pk: int, secret: str, at: datetime) -> User | PinRefused:
    gone = PinRefused("Please sign in with your password on this tablet.", is_gone=True)
    row = (
        DevicePin.objects.select_for_update(of=("self",))
        .select_related("person", "device__shop")
        .filter(
            device__key=key,
            person_id=person_pk,
            person__membership__is_active=True,
            person__membership__shop=F("device__shop"),
        )
        .first()
    )
    if row is None or row.device.is_revoked or _is_over(row, at):
        return gone
    if check_password(secret, row.secret_hash):
        row.wrong_count, row.used_at = 0, at
        row.save(update_fields=["wrong_count", "used_at"])
        return row.person
    row.wrong_count += 1
    if row.wrong_count < MOST_WRONG:
        row.save(update_fields=["wrong_count"])
        return PinRefused("This is not the PIN.")
    log(
        shop=row.device.shop, actor=row.person, verb="tablet PIN removed after wrong tries",
        detail=str(row.device), at=at,
    )  # fmt: skip
    row.delete()
    return gone


def _is_over(row: DevicePin, at: datetime) -> bool:
    """Return whether it was not used for long, or the password is a new one since."""
    is_same = hmac.compare_digest(row.password_tag, row.person.get_session_auth_hash())
    return at - row.used_at > KEPT_FOR or not is_same or not row.person.is_active
