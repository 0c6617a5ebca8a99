"""A slow line, and one that is dead without saying so: all arrives once, and the bar never claims too much.

The line is slowed by the browser's own network emulation (Chrome DevTools Protocol,
Network.emulateNetworkConditions); dead means that the server's processes are stopped, so that the system
takes connections and bytes and nobody answers. How slow: common practice, no source.
"""

from __future__ import annotations

import os
import re
import signal
import time
from typing import Any

import pytest

from tests.browser.tablet_kit import Server
from tests.browser.test_tablet_offline import LIGHTS, POSTS, SENT, Day, day, same, server, stored, tablet  # noqa: F401
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.full]

PHOTOS = 5
COUNT = f"select (select count(*) from {SENT}), (select count(*) from checklists_photo)"


def slow(day: Day, bytes_per_s: int) -> None:  # noqa: F811
    """Let the tablet's line carry so much each way; -1 takes the limit off."""
    line = day.tablet.context.new_cdp_session(day.page)
    line.send("Network.enable")
    facts = {"offline": False, "latency": 100 if bytes_per_s > 0 else 0}
    speed = {"uploadThroughput": bytes_per_s, "downloadThroughput": bytes_per_s}
    line.send("Network.emulateNetworkConditions", facts | speed)


def work(day: Day) -> None:  # noqa: F811
    """Do a little of everything without a network."""
    day.tick("works_before", "tried", LIGHTS, "road_lights")
    day.number("battery_before", "rest_v", POSTS, "12.6", 12.6)
    for _ in range(PHOTOS):
        day.photo("right_vehicle", "photo")


def watched(day: Day, server: Server, seconds: float, until: str) -> list[str]:  # noqa: F811
    """Read the bar until it says ``until``; return what it said, each once; it never claims too much."""
    said: list[str] = []
    events = len(day.done)
    begun = time.monotonic()
    while True:
        words = day.page.locator("#state").inner_text()
        there, photos = server.rows(COUNT)[0]  # asked after the bar: the server has at least what it claims
        unsent = re.match(r"(\d+) not sent(?: \((\d+) photos?\))?, oldest \S+", words)
        claimed = (events - int(unsent[1]), PHOTOS - int(unsent[2] or 0)) if unsent else (events, PHOTOS)
        assert claimed[0] <= there, words
        assert claimed[1] <= photos, words
        if words not in said:
            said.append(words)
            print(f"\n{time.monotonic() - begun:6.1f} s  {words}  ({there} events, {photos} photos)", end="")
        if re.search(until, words):
            return said
        assert time.monotonic() - begun < seconds, said
        time.sleep(0.2)


def everything_is_there(day: Day, server: Server) -> None:  # noqa: F811
    same(day.done, stored(server))
    assert server.rows("select count(*) from checklists_photo") == [(PHOTOS,)]


@pytest.mark.parametrize(
    ("bytes_per_s", "size_px"), [(50_000, (1600, 1180)), (12_500, (800, 600)), (6_000, (600, 400))]
)
def test_a_slow_line_carries_everything(server, day, bytes_per_s, size_px):  # noqa: F811
    """Five photos of 0.9, 0.2 and 0.1 MB, three on their way at once."""
    day.size_px = size_px
    work(day)
    slow(day, bytes_per_s)
    server.start()
    day.tablet.go("#/queue")
    day.page.get_by_role("button", name="Send now").click()
    said = watched(day, server, 230, "^All sent")
    everything_is_there(day, server)
    assert len(said) > 2


def test_a_line_that_dies_in_silence_is_noticed(server, day):  # noqa: F811
    work(day)
    slow(day, 100_000)
    server.start()
    day.tablet.go("#/queue")
    day.page.get_by_role("button", name="Send now").click()
    time.sleep(4)  # in the middle of the first pieces
    os.killpg(server.process.pid, signal.SIGSTOP)
    begun = time.monotonic()
    watched(day, server, 70, "saved here")
    noticed_s = time.monotonic() - begun
    tell_nothing_false_while_dead(day)
    os.killpg(server.process.pid, signal.SIGCONT)
    slow(day, -1)
    watched(day, server, 90, "^All sent")
    print(f"\nnoticed after {noticed_s:.1f} s, sent {time.monotonic() - begun - noticed_s:.1f} s later")
    everything_is_there(day, server)


def tell_nothing_false_while_dead(day: Any) -> None:  # noqa: F811
    """A tick is kept at once while nothing goes out."""
    day.tick("works_before", "tried", "Slides, jacks and step", "road_lights,moving")
    assert "not sent" in day.page.locator("#state").inner_text()
