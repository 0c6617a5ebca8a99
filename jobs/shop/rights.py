"""Who may do what: one table of rights and refusals, asked by pages and by the services behind them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from django.contrib.auth.models import User

from jobs.models import Membership, Shop
from jobs.shop.refusals import Refusal

type Right = Literal[
    "is_member", "is_owner", "may_design", "may_survey", "may_install", "sees_prices", "takes_money"
]


class NotAllowed(Refusal):
    """This person's part in the shop does not cover the change."""


@dataclass(frozen=True, slots=True)
class _Rule:
    """Who holds a right, and the sentence for everybody else; ``page`` where a page puts it otherwise."""

    held: Callable[[Membership], bool]
    refused: str
    page: str = ""


_RULES: Final[Mapping[Right, _Rule]] = {
    "is_member": _Rule(
        lambda person: True,
        "Only people of the shop may do this.",
        page="This sign-in no longer belongs to a shop. Please ask the shop's owner.",
    ),
    "is_owner": _Rule(lambda person: person.is_owner, "Only the owner may do this."),
    "may_design": _Rule(lambda person: person.may_design, "Only the owner or an estimator may do this."),
    "may_survey": _Rule(
        lambda person: person.may_design, "Only the owner or an estimator may change a survey."
    ),
    "may_install": _Rule(
        lambda person: person.may_install,
        "Only people who survey or install may do this.",
        page="Only the owner, an estimator or a technician may do this.",
    ),
    "sees_prices": _Rule(
        lambda person: person.sees_prices,
        "Prices are shown to the owner, an estimator and the bookkeeper only.",
    ),
    "takes_money": _Rule(
        lambda person: person.takes_money, "Only the owner or the bookkeeper enters money received."
    ),
}


def why_not(membership: Membership | None, right: Right, *, for_page: bool = False) -> str:
    """Return the sentence that refuses a right to this place in the shop; empty when it carries the right."""
    rule = _RULES[right]
    if membership is not None and rule.held(membership):
        return ""
    return rule.page or rule.refused if for_page else rule.refused


def _place_of(actor: User, shop: Shop) -> Membership | None:
    """Return the person's place in this shop, or None for a stranger."""
    membership: Membership | None = getattr(actor, "membership", None)  # many a person has none
    if membership is None or not membership.is_active or membership.shop_id != shop.pk:
        return None
    return membership


def require(actor: User, shop: Shop, right: Right) -> Membership:
    """Return the person's place in the shop; raise NotAllowed unless it carries this right."""
    membership = _place_of(actor, shop)
    reason = why_not(membership, right)
    if membership is None or reason:
        raise NotAllowed(reason)
    return membership
