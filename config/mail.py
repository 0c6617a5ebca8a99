"""Puts every letter Django or a package sends into the outbox; knows the mail server of the installation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils import timezone
from environs import Env


def mail_server(env: Env, *, is_debug: bool) -> dict[str, Any]:
    """Return Django's settings of the mail server; empty without one.

    Raise ImproperlyConfigured for a ``MAIL_TLS`` that is none of ``starttls``, ``tls``, ``none``.
    """
    host = env.str("MAIL_HOST", "")
    if not host:
        return {"BACKEND": "django.core.mail.backends.console.EmailBackend"} if is_debug else {}
    tls = env.str("MAIL_TLS", "starttls")
    if tls not in ("starttls", "tls", "none"):
        raise ImproperlyConfigured(f"MAIL_TLS: {tls!r} is none of starttls, tls, none.")
    options = {
        "host": host,
        "port": env.int("MAIL_PORT", {"starttls": 587, "tls": 465, "none": 25}[tls]),
        "username": env.str("MAIL_USER", ""),
        "password": env.str("MAIL_PASSWORD", ""),
        "use_tls": tls == "starttls",
        "use_ssl": tls == "tls",
        "timeout": env.int("MAIL_TIMEOUT", 20),
    }
    return {"BACKEND": "django.core.mail.backends.smtp.EmailBackend", "OPTIONS": options}


class Outbox(BaseEmailBackend):
    """Stores a letter for each address instead of sending: a worker sends it."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Store the letters and return how many."""
        from jobs.shop.outbox import mail_put  # settings name this module before the apps are there

        count = 0
        for message in email_messages:
            for address in message.recipients():
                mail_put(to=address, subject=str(message.subject), body=str(message.body), at=timezone.now())
                count += 1
        return count
