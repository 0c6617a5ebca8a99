"""Who may open a page: people of a shop, and among them those whose part allows it."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect

from jobs.shop.rights import Right, why_not

if TYPE_CHECKING:
    from django.contrib.auth.models import User

    from jobs.models import Membership, Shop

View = Callable[..., HttpResponseBase]


class ShopRequest(HttpRequest):
    """A request behind ``member_required``: whose shop it is, and in which part the person signs."""

    user: User
    shop: Shop
    membership: Membership


def member_required(view: View) -> View:
    """Let in people who are signed in and belong to a shop."""

    @login_required
    @functools.wraps(view)
    def checked(request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.session.get("is_locked"):  # a tablet nobody has unlocked
            return redirect("checklists:tablet")
        must_hold(request, "is_member")
        return view(request, *args, **kwargs)

    return checked


def must_hold(request: ShopRequest, right: Right) -> None:
    """Answer with the refusal unless the person of this request holds the right."""
    reason = why_not(request.membership, right, for_page=True)
    if reason:
        raise PermissionDenied(reason)


def role_required(right: Right) -> Callable[[View], View]:
    """Let in people of a shop whose part in it carries ``right``."""

    def decorate(view: View) -> View:
        @member_required
        @functools.wraps(view)
        def checked(request: ShopRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            must_hold(request, right)
            return view(request, *args, **kwargs)

        return checked

    return decorate
