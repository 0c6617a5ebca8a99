"""Closes public sign-up, because shops invite their people, and reads a user together with the shop."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.auth_backends import AuthenticationBackend
from django.contrib.auth.models import User
from django.http import HttpRequest


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]  # untyped library
    """Refuse public sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Return False: the owner adds people."""
        return False


class ShopBackend(AuthenticationBackend):  # type: ignore[misc]  # untyped library
    """Sign in by e-mail; every request then reads person, membership and shop in one query."""

    def get_user(self, user_id: Any) -> User | None:
        """Return the signed-in person with membership and shop; None where they may not sign in any more."""
        user = User.objects.select_related("membership__shop").filter(pk=user_id).first()
        return user if user is not None and self.user_can_authenticate(user) else None
