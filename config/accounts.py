"""Knows that people are invited by their shop: nobody signs up by themselves."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedSignUp(DefaultAccountAdapter):  # type: ignore[misc]
    """Refuse public sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Return False: the owner adds people."""
        return False
