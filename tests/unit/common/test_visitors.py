"""Where a request comes from, behind a set number of proxies; and counting."""

from __future__ import annotations

import pytest
from django.test import RequestFactory

from common.visitors import (
    browser_words,
    count_back,
    count_of,
    counted,
    is_too_often,
    visitor_address,
    visitor_network,
)

# Addresses for documentation: RFC 5737, RFC 3849.
PROXY, OUTER, VISITOR, FORGED = "192.0.2.1", "192.0.2.2", "198.51.100.7", "203.0.113.9"


def asked(sent: str | None, direct: str = PROXY):
    extra = {"REMOTE_ADDR": direct} | ({"HTTP_X_FORWARDED_FOR": sent} if sent is not None else {})
    return RequestFactory().get("/", **extra)


@pytest.mark.parametrize(
    ("proxies", "sent", "found"),
    [
        (0, None, PROXY),
        (0, FORGED, PROXY),  # no proxy of ours: whatever is sent was made up
        (1, VISITOR, VISITOR),
        (1, f"{FORGED}, {VISITOR}", VISITOR),  # the visitor wrote the left one, our proxy the right one
        (1, f"{FORGED},{FORGED} ,{VISITOR}", VISITOR),
        (2, f"{FORGED}, {VISITOR}, {OUTER}", VISITOR),
        (2, VISITOR, VISITOR),  # came to the inner proxy without the outer one
        (1, None, PROXY),
        (1, "", PROXY),
        (1, "made up", PROXY),
        (1, f"{VISITOR}:4711", VISITOR),
        (1, "[2001:db8::5]:4711", "2001:db8::5"),
        (1, "2001:db8::5", "2001:db8::5"),
        (1, "::ffff:198.51.100.7", VISITOR),
    ],
)
def test_the_address_is_counted_from_the_right(settings, proxies, sent, found):
    settings.TRUSTED_PROXIES = proxies
    assert visitor_address(asked(sent)) == found


def test_who_cannot_be_told_is_counted_together(settings):
    settings.TRUSTED_PROXIES = 0
    assert visitor_address(asked(None, direct="")) == "0.0.0.0"


def test_one_house_is_one_visitor(settings):
    """RFC 6177: a site is given a /64 at least, so a single address of IPv6 limits nobody."""
    settings.TRUSTED_PROXIES = 1
    assert visitor_network(asked("2001:db8:1:2::5")) == visitor_network(asked("2001:db8:1:2:ffff::9"))
    assert visitor_network(asked("2001:db8:1:2::5")) != visitor_network(asked("2001:db8:1:3::5"))
    assert visitor_network(asked(VISITOR)) == VISITOR


@pytest.fixture(params=["memory", "shared"])
def kept_in(request, settings, db):
    """Count in the memory of one process, and in the table that several share."""
    if request.param == "shared":
        backend = {"BACKEND": "config.shared_cache.SharedCache", "LOCATION": "shared_cache"}
        settings.CACHES = settings.CACHES | {"default": backend}
    return request.param


def test_counting(kept_in):
    assert [is_too_often("a name with blanks", limit=2, seconds=60) for _ in range(3)] == [False, False, True]
    assert not is_too_often("another", limit=2, seconds=60)
    count_back("a name with blanks")
    assert count_of("a name with blanks") == 2
    assert count_of("nothing yet") == 0
    count_back("nothing yet")


def test_a_count_runs_out_when_it_was_begun_to(kept_in, monkeypatch):
    import time_machine

    with time_machine.travel("2026-11-25T16:00:00Z", tick=False) as clock:
        for _ in range(3):
            counted("slow", seconds=60)
            clock.shift(25)
        assert counted("slow", seconds=60) == 1  # 75 s after the first


@pytest.mark.parametrize(
    ("sent", "words"),
    [  # forms as browsers document them: developer.mozilla.org, Web/HTTP/Reference/Headers/User-Agent
        ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
        (
            "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/124.0.0.0"
            " Mobile Safari/537.36",
            "Chrome on Android",
        ),
        (
            "Mozilla/5.0 (iPad; CPU OS 17_4 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)"
            " Version/17.4 Mobile/15E148 Safari/604.1",
            "Safari on iPad",
        ),
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko)"
            " Chrome/124.0.0.0 Safari/537.36 Edg/124.0.0.0",
            "Edge on Windows",
        ),
        ("curl/8.5.0", "curl/8.5.0"),
        ("", ""),
    ],
)
def test_a_browser_is_told_as_people_know_it(sent, words):
    assert browser_words(sent) == words
