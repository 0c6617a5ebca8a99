"""Who may make a change that a service guards; the customer and the system itself act by name only."""

from __future__ import annotations

from typing import Any, Final

from jobs.models import Membership, Shop
from jobs.shop.refusals import Refusal

_WHO: Final = {
    "is_owner": "Only the owner may do this.",
    "may_design": "Only the owner or an estimator may do this.",
    "may_install": "Only people who survey or install may do this.",
    "sees_prices": "Only the owner, an estimator or the bookkeeper may do this.",
}


class NotAllowed(Refusal):
    """This person's part in the shop does not cover the change."""


def membership_of(actor: Any, shop: Shop) -> Membership | None:
    """Return the person's place in this shop, or None for a stranger."""
    membership = getattr(actor, "membership", None)
    if membership is None or not membership.is_active or membership.shop_id != shop.pk:
        return None
    return membership


def require(actor: Any, shop: Shop, right: str) -> Membership:
    """Return the person's place in the shop; raise NotAllowed unless it carries this right."""
    membership = membership_of(actor, shop)
    if membership is None or not getattr(membership, right):
        raise NotAllowed(_WHO[right])
    return membership
