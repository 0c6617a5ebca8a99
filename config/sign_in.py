"""Slows guessing of passwords without locking anybody out.

A browser that signed in before carries a signed cookie and is counted by itself: whatever others try against
the account or from the same network does not touch it. All other browsers are counted by network, and by
network and account; while an account is being guessed from many networks, each of them gets fewer tries. The
first try from a network that tried nothing is never refused: strangers keep nobody out of their account.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from typing import Any, Final

from django.conf import settings
from django.contrib.auth.models import User
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from common.visitors import count_back, count_of, counted, visitor_network

FIVE_MINUTES: Final = 300
HOUR: Final = 3600
#: Wrong passwords in five minutes: from a browser that is known, from a network for one account, for all.
KNOWN: Final = 10
ACCOUNT: Final = 5
NETWORK: Final = 30
#: So many in an hour from browsers that are not known, and an account counts as under attack.
ATTACK: Final = 20
ACCOUNT_ATTACKED: Final = 1

KNOWN_FOR: Final = 180 * 24 * HOUR
_SALT: Final = "a browser that signed in"
_PEOPLE: Final = 12  # a shop's tablet is shared


@dataclass
class Try:
    """One try to sign in, counted before the password is looked at."""

    is_allowed: bool
    names: list[str] = field(default_factory=list)
    account: str = ""

    def was_right(self) -> None:
        """Take the count back: only wrong passwords count."""
        for name in self.names:
            count_back(name)

    def was_wrong(self) -> None:
        """Remember for the account that a browser nobody knows was wrong."""
        if self.account:
            counted(f"attack:{self.account}", seconds=HOUR)


def try_begin(request: HttpRequest, login: str) -> Try:
    """Count a try to sign in as ``login`` and say whether the password may be looked at."""
    account = login.strip().lower()
    browser = known_browser(request, account)
    if browser:
        name = f"known:{browser}:{account}"
        return Try(counted(name, seconds=FIVE_MINUTES) <= KNOWN, [name])
    network = visitor_network(request)
    by_account, by_network = f"sign-in:{account}:{network}", f"sign-in:{network}"
    limit = ACCOUNT_ATTACKED if count_of(f"attack:{account}") >= ATTACK else ACCOUNT
    if counted(by_network, seconds=FIVE_MINUTES) > NETWORK:
        return Try(is_allowed=False)
    return Try(counted(by_account, seconds=FIVE_MINUTES) <= limit, [by_account, by_network], account)


def known_browser(request: HttpRequest, account: str) -> str:
    """Return the number of a browser that signed in with the password as it is now; or empty."""
    kept = _read(request)
    if not kept["people"]:
        return ""
    user = User.objects.filter(email__iexact=account, is_active=True).first()
    tag = kept["people"].get(str(user.pk), "") if user else ""
    return kept["browser"] if user and constant_time_compare(tag, _tag(user)) else ""


def browser_remember(request: HttpRequest, response: HttpResponse, user: User) -> None:
    """Have the browser carry that this person signed in with it."""
    kept = _read(request)
    people = {key: tag for key, tag in kept["people"].items() if key != str(user.pk)} | {
        str(user.pk): _tag(user)
    }
    value = {"browser": kept["browser"], "people": dict(list(people.items())[-_PEOPLE:])}
    response.set_cookie(
        settings.KNOWN_COOKIE_NAME,
        signing.dumps(value, salt=_SALT),
        max_age=KNOWN_FOR,
        secure=settings.IS_HTTPS,
        httponly=True,
        samesite="Lax",
    )


def _read(request: HttpRequest) -> dict[str, Any]:
    """Return what the browser carries, its number and a tag for each person; a new number if nothing."""
    sent = request.COOKIES.get(settings.KNOWN_COOKIE_NAME, "")
    try:
        found = signing.loads(sent, salt=_SALT, max_age=KNOWN_FOR)
    except signing.BadSignature:
        return {"browser": secrets.token_hex(16), "people": {}}
    return {"browser": found["browser"], "people": found["people"]}


def _tag(user: User) -> str:
    """Return what is another one after the password was changed."""
    return salted_hmac(_SALT, f"{user.pk}:{user.password}", algorithm="sha256").hexdigest()[:32]
