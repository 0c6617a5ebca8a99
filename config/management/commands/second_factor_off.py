"""Takes away a person's second factor, for the last owner of a shop who lost phone, key and codes."""

from __future__ import annotations

from typing import Any

from allauth.mfa.models import Authenticator
from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError, CommandParser


class Command(BaseCommand):
    """Remove every app, key and code of one person; the password stays."""

    help = "Remove the second factor of a person who lost phone, key and codes. Make sure who asks."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the e-mail address."""
        parser.add_argument("email")

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it and say so."""
        user = User.objects.filter(email__iexact=options["email"]).first()
        if user is None:
            raise CommandError("Nobody has this e-mail address.")
        Authenticator.objects.filter(user=user).delete()
        self.stdout.write(f"{user.email} signs in with the password alone now.")
