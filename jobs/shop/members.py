"""How people come to a shop, change their part in it, and leave."""

from __future__ import annotations

from datetime import datetime

from allauth.mfa.models import Authenticator
from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.db import transaction

from common.told import in_english
from jobs.models import Membership, Shop
from jobs.shop.days import local_date
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require


class MemberRefused(Refusal):
    """The person cannot be added or changed as asked."""


@in_english
@transaction.atomic
def member_add(
    *,
    shop: Shop,
    first_name: str,
    last_name: str,
    email: str,
    role: str,
    licence_no: str,
    actor: User,
    at: datetime,
    phone: str = "",
    language: str = "",
) -> Membership:
    """Add a person who has no password yet: they set one through the link the owner hands them."""
    require(actor, shop, "is_owner")
    users = get_user_model().objects
    address = users.normalize_email(email.strip()).lower()
    if users.filter(email__iexact=address).exists():
        raise MemberRefused("This e-mail address already has a sign-in.")
    user = users.create_user(address[:150], address, first_name=first_name, last_name=last_name)
    member = Membership(user=user, shop=shop, role=role, licence_no=licence_no, phone=phone.strip())
    member.language = language or Membership.Language.ENGLISH
    member.full_clean()
    member.save()
    log(
        shop=shop,
        actor=actor,
        verb="person added",
        detail=f"{user.get_full_name()}, {member.get_role_display()}",
        at=at,
    )
    return member


@in_english
@transaction.atomic
def member_change(
    *,
    member: Membership,
    role: str,
    is_active: bool,
    licence_no: str,
    actor: User,
    at: datetime,
    phone: str | None = None,
    language: str = "",
) -> Membership:
    """Change a person's part, or end it; a shop keeps at least one owner. What is left out stays."""
    require(actor, member.shop, "is_owner")
    others = (
        Membership.objects.select_for_update()
        .filter(shop=member.shop, role=Membership.Role.OWNER, is_active=True)
        .exclude(pk=member.pk)
    )
    stays_owner = is_active and role == Membership.Role.OWNER
    if not stays_owner and not others.exists():
        raise MemberRefused("The shop needs at least one owner who can sign in.")
    member.role, member.is_active, member.licence_no = role, is_active, licence_no
    member.phone = member.phone if phone is None else phone.strip()
    member.language = language or member.language
    member.full_clean()
    member.save(update_fields=["role", "is_active", "licence_no", "phone", "language"])
    if not is_active:  # what was planned with them stands on the week board with nobody chosen
        member.held_days.filter(day__gt=local_date(member.shop, at)).delete()
    part = member.get_role_display() if is_active else "left"
    log(
        shop=member.shop,
        actor=actor,
        verb="person changed",
        detail=f"{member.user.get_full_name()}, {part}",
        at=at,
    )
    return member


@in_english
@transaction.atomic
def language_choose(*, shop: Shop, language: str, actor: User, at: datetime) -> Membership:
    """Let a person read pages and tablet in another language."""
    member = require(actor, shop, "is_member")
    if language not in Membership.Language.values:
        raise MemberRefused("There is no such language here.")
    member.language = language
    member.save(update_fields=["language"])
    log(shop=shop, actor=actor, verb="language chosen", detail=str(member.get_language_display()), at=at)
    return member


@in_english
@transaction.atomic
def member_link_logged(*, member: Membership, actor: User, at: datetime) -> None:
    """Write down that a link to set a password was made for a person."""
    require(actor, member.shop, "is_owner")
    if not member.is_active:
        raise MemberRefused("This person no longer belongs to the shop.")
    log(shop=member.shop, actor=actor, verb="password link made", detail=member.user.get_full_name(), at=at)


@in_english
@transaction.atomic
def member_factors_remove(*, member: Membership, actor: User, at: datetime) -> None:
    """Take away the second factor of a person who lost phone, key and codes; the password stays."""
    require(actor, member.shop, "is_owner")
    if member.user_id == actor.pk:
        raise MemberRefused("Your own second factor is changed on your own page.")
    Authenticator.objects.filter(user=member.user_id).delete()
    log(
        shop=member.shop, actor=actor, verb="second factor removed", detail=member.user.get_full_name(), at=at
    )
