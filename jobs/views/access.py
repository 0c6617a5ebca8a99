"""Who may open a page: people of a shop, and among them those whose part allows it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

if TYPE_CHECKING:
    from jobs.models import Membership, Shop

View = Callable[..., HttpResponseBase]

_WHY = {
    "is_owner": "Only the owner may do this.",
    "may_design": "Only the owner or an estimator may do this.",
    "may_install": "Only the owner, an estimator or a technician may do this.",
    "may_lead": "Only the owner or a lead technician may do this.",
    "sees_costs": "Costs are shown to the owner, an estimator and the bookkeeper only.",
    "sees_prices": "Prices are shown to the owner, an estimator and the bookkeeper only.",
}


class ShopRequest(HttpRequest):
    """A request behind ``member_required``: whose shop it is, and in which part the person signs."""

    shop: Shop
    membership: Membership


def member_required(view: View) -> View:
    """Let in people who are signed in and belong to a shop."""

    @login_required
    @functools.wraps(view)
    def checked(request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.membership is None:
            raise PermissionDenied("This sign-in belongs to no shop any more. Please ask the shop's owner.")
        return view(request, *args, **kwargs)

    return checked


def role_required(predicate: str) -> Callable[[View], View]:
    """Let in people of a shop whose membership answers yes to ``predicate`` (``"may_design"``)."""
    if predicate not in _WHY:
        raise ValueError(f"unknown right {predicate!r}")  # a misspelt right must not open a page

    def decorate(view: View) -> View:
        @member_required
        @functools.wraps(view)
        def checked(request: ShopRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not getattr(request.membership, predicate):
                raise PermissionDenied(_WHY[predicate])
            return view(request, *args, **kwargs)

        return checked

    return decorate
