"""Knows where a request comes from, and counts how often somebody does something, in the cache."""

from __future__ import annotations

import hashlib
import ipaddress
from typing import Final

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

#: Stands for who cannot be told: the address of no machine (RFC 1122, 3.2.1.3).
UNKNOWN: Final = "0.0.0.0"  # noqa: S104 - nothing listens here
#: A household or office gets a whole network of this length, and may take any address in it (RFC 6177).
_IPV6_PREFIX: Final = 64
#: What a browser writes of itself, as ``mark=words``, the most telling first: most of them also name others.
_BROWSERS: Final = (
    "Edg=Edge OPR/=Opera Firefox/=Firefox FxiOS/=Firefox CriOS/=Chrome Chrome=Chrome Safari=Safari"
)
_SYSTEMS: Final = (
    "Android=Android iPad=iPad iPhone=iPhone Windows=Windows Macintosh=Mac CrOS=Chromebook Linux=Linux"
)


def visitor_address(request: HttpRequest) -> str:
    """Return the visitor's address, looking past our own proxies (``TRUSTED_PROXIES``).

    Each proxy appends the address it was asked from to ``X-Forwarded-For``: the entries of our own stand at
    the right end; what stands left of them was sent by the visitor and is worth nothing.
    """
    direct = _plain(request.META.get("REMOTE_ADDR", ""))
    count = settings.TRUSTED_PROXIES
    sent = [part for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if part.strip()]
    if not count or not sent:
        return direct or UNKNOWN
    return _plain(sent[-count] if len(sent) >= count else sent[0]) or direct or UNKNOWN


def visitor_network(request: HttpRequest) -> str:
    """Return the address to count by: of IPv6 the network, whose owner has any number of addresses."""
    address = visitor_address(request)
    if ":" not in address:
        return address
    return str(ipaddress.IPv6Network(f"{address}/{_IPV6_PREFIX}", strict=False).network_address)


def browser_words(user_agent: str) -> str:
    """Return browser and system as a person knows them, ``Firefox on Android``; as sent if unknown."""
    found = (_first_of(each, user_agent) for each in (_BROWSERS, _SYSTEMS))
    return " on ".join(filter(None, found)) or user_agent[:60]


def _first_of(listed: str, user_agent: str) -> str:
    pairs = (each.split("=") for each in listed.split())
    return next((words for mark, words in pairs if mark in user_agent), "")


def _plain(text: str) -> str:
    """Return an address without port, brackets and zone; empty where it is none."""
    text = text.strip()
    if text.startswith("["):
        text = text[1:].partition("]")[0]
    elif text.count(":") == 1:
        text = text.partition(":")[0]
    try:
        found = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return ""
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return str(mapped or found)


def is_too_often(name: str, *, limit: int, seconds: int) -> bool:
    """Count one more of ``name`` and return whether that is past ``limit`` within ``seconds``."""
    return counted(name, seconds=seconds) > limit


def counted(name: str, *, seconds: int) -> int:
    """Count one more of ``name``; return how many within ``seconds``."""
    key = _key(name)
    cache.add(key, 0, timeout=seconds)
    try:
        return cache.incr(key)
    except ValueError:  # it ran out between the two calls: a new stretch begins
        cache.set(key, 1, timeout=seconds)
        return 1


def count_of(name: str) -> int:
    """Return how many were counted of ``name``."""
    return int(cache.get(_key(name), 0))


def count_back(name: str) -> None:
    """Take one back that did not matter."""
    try:
        cache.decr(_key(name))
    except ValueError:  # it ran out
        return


def _key(name: str) -> str:
    return f"throttle:{hashlib.sha256(name.encode()).hexdigest()}"
