"""Closes public sign-up, because shops invite their people, and reads a user together with the shop."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.auth_backends import AuthenticationBackend
from allauth.core import context
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse

from common.visitors import visitor_address
from config.sign_in import browser_remember, try_begin


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]  # untyped library
    """Refuse public sign-up; slow guessing; know where a visitor comes from."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Return False: the owner adds people."""
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        """Return the visitor's address, seen past our own proxies."""
        return visitor_address(request)

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Refuse a try that comes too soon after others, before the password is looked at."""
        self._try = try_begin(request, credentials.get("email") or credentials.get("username") or "")
        if not self._try.is_allowed:
            raise self.validation_error("too_many_login_attempts")

    def authenticate(self, request: HttpRequest, **credentials: Any) -> User | None:
        """Return the person whose password this is; only wrong ones stay counted."""
        user: User | None = super().authenticate(request, **credentials)
        if user is not None:
            self._try.was_right()
        return user

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Count a wrong password against the account, for browsers nobody knows."""
        self._try.was_wrong()

    def reauthenticate(self, user: User, password: str) -> bool:
        """Return whether this is the password of the person signed in, counted as any other try."""
        found = self.authenticate(context.request, email=user.email, password=password)
        return found is not None and found.pk == user.pk

    def post_login(self, request: HttpRequest, user: User, **how: Any) -> HttpResponse:
        """Have the browser remember that this person signed in with it."""
        response: HttpResponse = super().post_login(request, user, **how)
        browser_remember(request, response, user)
        return response


class ShopBackend(AuthenticationBackend):  # type: ignore[misc]  # untyped library
    """Sign in by e-mail; every request then reads person, membership and shop in one query."""

    def get_user(self, user_id: Any) -> User | None:
        """Return the signed-in person with membership and shop; None where they may not sign in any more."""
        user = User.objects.select_related("membership__shop").filter(pk=user_id).first()
        return user if user is not None and self.user_can_authenticate(user) else None
