"""How a shop comes to be: with its owner, in one go."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth import get_user_model, password_validation
from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.models import Membership, Shop
from jobs.shop.actor import System
from jobs.shop.log import log
from jobs.shop.refusals import Refusal


class ShopRefused(Refusal):
    """The shop cannot be set up as asked."""


@dataclass(frozen=True, kw_only=True)
class NewOwner:
    """The person who answers for the shop."""

    first_name: str
    last_name: str
    email: str
    password: str


@transaction.atomic
def shop_found(*, shop: Shop, owner: NewOwner, at: datetime) -> Membership:
    """Store a new shop with its owner, on request of whoever runs the installation.

    Raise ShopRefused for an address that signs in already, a password too weak, or a field that cannot be.
    """
    users = get_user_model().objects
    address = users.normalize_email(owner.email.strip()).lower()
    if users.filter(email__iexact=address).exists():
        raise ShopRefused("E-mail: this address already has a sign-in.")
    user = get_user_model()(
        username=address[:150], email=address, first_name=owner.first_name, last_name=owner.last_name
    )
    try:
        password_validation.validate_password(owner.password, user)
        user.set_password(owner.password)
        user.full_clean()
        shop.full_clean()
    except ValidationError as problem:
        raise ShopRefused(" ".join(problem.messages)) from None
    user.save()
    shop.save()
    member = Membership.objects.create(user=user, shop=shop, role=Membership.Role.OWNER)
    log(shop=shop, actor=System(), verb="shop set up", detail=shop.name, at=at)
    return member
