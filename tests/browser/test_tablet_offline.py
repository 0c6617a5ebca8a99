"""A day on a roof without signal: server stopped, browser killed, and everything arrives exactly once.

Figures (common practice, no source): a tick answers within 100 ms, open again within 2 s, everything and
all photos sent within 10 s. Measured and printed here; the short form asserts only that nothing is lost and
nothing doubled, the long form also the 10 s.
"""

from __future__ import annotations

import io
import random
import time
from collections import Counter
from typing import Any

import pytest
from PIL import Image

from tests.browser.tablet_kit import Server, Tablet
from tests.browser.test_tablet_shell import close_pad
from tests.roles import role_of
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

SENT_WITHIN_S = 10
LIGHTS, POSTS = "Road lights and brakes", "Voltage at the posts"

#: Taps a row and tells how long its answer took. [ms]
TAP = """async (row) => {
  const begun = performance.now();
  row.click();
  while (row.isConnected) await new Promise((next) => requestAnimationFrame(next));
  return performance.now() - begun;
}"""


class Day:
    """What a technician did, as a plain list beside the tablet's own books."""

    def __init__(self, tablet: Tablet, checklist: Any, luck: random.Random) -> None:
        self.tablet, self.job, self.luck = tablet, checklist.job_id, luck
        named = {f"{role_of(step)} {step.subject}".strip(): step for step in checklist.steps.all()}
        self.steps = {key: step.pk for key, step in named.items()}
        self.codes = {key: step.code for key, step in named.items()}
        self.lines: dict[tuple[int, str], list[str]] = {}
        self.done: list[tuple[int, str, str, Any]] = []  # step, verb, field, value
        self.tick_ms: list[float] = []
        self.shade = 0
        self.size_px = (1900, 1400)

    @property
    def page(self) -> Any:
        return self.tablet.page

    def at(self, key: str) -> int:
        """Show the step or row of a role and subject."""
        pk = self.steps[key]
        self.tablet.go(f"#/job/{self.job}/row/{pk}")
        self.page.locator(".foot-bar").wait_for()
        self.page.wait_for_function("(pk) => location.hash.endsWith('/' + pk)", arg=pk)
        self.page.locator(".step-head-code", has_text=self.codes[key]).wait_for()
        return pk

    def tick(self, key: str, field: str, label: str, value: Any = True) -> None:
        """Tap a tick, or a line of a list, which records the lines so far."""
        pk = self.at(key)
        row = self.page.locator("button.tick, button.line:enabled", has_text=label).first
        row.wait_for()
        self.tick_ms.append(row.evaluate(TAP))
        here = self.page.get_by_role("button", name=f"Undo {label}").or_(
            self.page.locator(".line-on", has_text=label)
        )
        here.or_(
            self.page.locator(".notice-success", has_text="saved here")
        ).first.wait_for()  # or further on
        self.done.append((pk, "record", field, value))

    def untick(self, key: str, what: str) -> None:
        """Take back what was recorded last at a field."""
        pk = self.at(key)
        undo = self.page.get_by_role("button", name=f"Undo {what}", exact=True)
        count = undo.count()
        undo.first.click()
        self.page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")
        assert count == 1
        self.done.append((pk, "undo", "", None))

    def number(self, key: str, field: str, label: str, typed: str, stored: float) -> None:
        pk = self.at(key)
        way = f'[aria-label$="{label}"].number-open, [aria-label="{label}: another number"]'
        self.page.locator(way).click()
        for each in typed:
            name = {".": "Point"}.get(each, each)
            self.page.locator(".pad-view").get_by_role("button", name=name, exact=True).click()
        why = self.page.locator(".pad-view .choice").first
        if why.count():
            why.click()
        self.page.locator(".pad-save").click()
        self.page.locator(f'.pad-view[aria-label="{label}"]').wait_for(state="detached")
        self.page.locator(".standing-value").first.wait_for()
        close_pad(self.page)
        self.done.append((pk, "record", field, stored))

    def photo(self, key: str, field: str) -> None:
        pk = self.at(key)
        before = self.page.locator(".photos li").count()
        self.page.locator("input[type=file]").first.set_input_files([self.picture()])
        self.page.locator(".photos li").nth(before).wait_for()
        self.done.append((pk, "record", field, "photo"))

    def picture(self) -> dict[str, Any]:
        """Return a picture nobody took before."""
        self.shade += 1
        out = io.BytesIO()
        noise = Image.effect_noise(self.size_px, 40 + self.shade % 60).convert("RGB")
        noise.putpixel((0, 0), (self.shade % 256, self.shade // 256, 7))
        noise.save(out, "JPEG", quality=70)
        return {"name": "roof.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


#: What tablets sent; what stood before the day began is not theirs.
SENT = "checklists_stepevent where sent_from_id is not null"


def stored(server: Server) -> list[tuple[int, str, str, Any]]:
    """Return every event of the day the server has, in the shape of the day's own list."""
    import json

    rows = server.rows(f"select step_id, verb, field, value, photo_id from {SENT}")
    found = []
    for step, verb, field, value, photo in rows:
        found.append((step, verb, field, "photo" if photo else json.loads(value) if value else None))
    return found


def plain(row: tuple[int, str, str, Any]) -> str:
    """Return one thing done as text, 7 and 7.0 alike."""
    *where, value = row
    return repr((*where, float(value) if type(value) in {int, float} else value))


def same(done: list[Any], found: list[Any]) -> None:
    """Assert that nothing is lost and nothing is doubled."""
    one, other = Counter(map(plain, done)), Counter(map(plain, found))
    assert one - other == Counter(), "lost"
    assert other - one == Counter(), "doubled or never done"


@pytest.fixture
def server(lines_read, tmp_path, bob, client_of):
    """Return the site on a file, running, with Bob's session in it; he has read the safety lines."""
    session = client_of(bob).cookies["sessionid"].value
    made = Server(tmp_path)
    made.session = session
    try:
        made.start()
        yield made
    finally:
        made.stop()


@pytest.fixture
def tablet(server, playwright, tmp_path):
    """Return a tablet with the golden job taken along."""
    made = Tablet(playwright, tmp_path / "profile", server.url, server.session)
    yield made
    made.kill()


@pytest.fixture
def day(server, tablet, checklist):
    """Return a day that has begun: job taken, then the server gone, which is asserted first."""
    tablet.open()
    tablet.take(checklist.job_id)
    server.stop()
    assert tablet.is_cut_off()
    return Day(tablet, checklist, random.Random(11))


def test_a_short_day_is_sent_once(server, tablet, day):
    day.tick("works_before", "tried", LIGHTS, "road_lights")
    day.untick("works_before", "Tried with the owner")
    day.tick("works_before", "tried", LIGHTS, "road_lights")
    day.number("battery_before", "rest_v", POSTS, "9.1", 9.1)
    day.photo("right_vehicle", "photo")
    tablet.kill()
    again = tablet.open(f"#/job/{day.job}")
    assert tablet.is_cut_off()
    assert tablet.page.locator("#state").inner_text().startswith("5 not sent (1 photo), oldest ")
    day.number("battery_before", "rest_v", POSTS, "12.6", 12.6)
    day.photo("right_vehicle", "photo")
    day.tick("works_before", "tried", "Slides, jacks and step", "road_lights,moving")
    tablet.kill()
    tablet.open("#/queue")
    waiting = tablet.kept()
    assert (waiting["outbox"], waiting["uploads"]) == (8, 2)
    server.start()
    tablet.page.get_by_role("button", name="Send now").click()
    seconds = tablet.wait_until_sent()
    tablet.page.get_by_text("Nothing waits to be sent").wait_for()
    print(f"\ntick {max(day.tick_ms):.0f} ms at most, open again {again:.2f} s, sent in {seconds:.1f} s")
    same(day.done, stored(server))
    assert server.rows("select count(*) from checklists_photo") == [(2,)]
    order = server.rows(f"select sequence, claimed_at from {SENT} order by sequence")
    assert len({sequence for sequence, _ in order} - {None}) == 8  # a picture keeps its place, sent last
    assert [at for _, at in order] == sorted(at for _, at in order)


def plenty(checklist: Any) -> list[tuple[str, str, str, str, Any]]:
    """Return ticks and numbers of the roof, the inside and the battery: kind, step, field, label, value.

    Of a list only the first line is ticked. Nothing is left out for being in a table: its row has a page.
    """
    found = []
    for step in checklist.steps.filter(is_in_scope=True, code__regex="^[CFG]", is_hold=False):
        key = f"{role_of(step)} {step.subject}".strip()
        for spec in step.fields:
            if spec.get("repeat") or spec.get("tick"):
                continue
            if spec["kind"] == "tick":
                found.append(("tick", key, spec["name"], spec["label"], True))
            elif spec["kind"] == "lines":
                found.append(("line", key, spec["name"], spec["label"], tuple(spec["lines"][0])))
            elif spec["kind"] == "number" and spec.get("unit") in {"V", "A", "%"}:
                found.append(("number", key, spec["name"], spec["label"], spec.get("max") or 20))
    return found


def seconds_until(server: Server, begun: float, *, events: int, photos: int) -> float:
    """Return when, after ``begun``, the server had so many of both; asked of its file. [s]"""
    count = f"select (select count(*) from {SENT}), (select count(*) from checklists_photo)"
    while True:
        there = server.rows(count)[0]
        if there[0] >= events and there[1] >= photos:
            return time.monotonic() - begun
        assert time.monotonic() - begun < 120
        time.sleep(0.05)


@pytest.mark.full
@pytest.mark.usefixtures("made_safe")
def test_eight_hours_in_full(server, tablet, day, checklist):
    """300 edits, 60 photos, the browser killed five times; run by hand with ``-n 0 -s -m full``."""
    choices, luck, opened = plenty(checklist), day.luck, []
    [(before,)] = server.rows("select count(*) from checklists_photo")  # of those who made it safe
    ticked: set[tuple[str, str]] = set()
    kills = set(luck.sample(range(20, 350), 5))
    for turn in range(360):
        if turn in kills:
            tablet.kill()
            opened.append(tablet.open(f"#/job/{day.job}"))
            assert tablet.is_cut_off()
        if turn % 6 == 5:
            day.photo(luck.choice(["right_vehicle", "roof_checked", "clear_below", "runs_secured"]), "photo")
            continue
        kind, key, field, label, value = luck.choice(choices)
        if kind == "number":
            typed = str(luck.randint(1, int(value) - 1))
            day.number(key, field, label, typed, int(typed))
        elif (key, field) in ticked:
            day.untick(key, label)
            ticked.discard((key, field))
        elif kind == "line":
            line, words = value
            day.tick(
                key, field, words.partition("‹")[0].strip(), line
            )  # the rest is said in the shop's units
            ticked.add((key, field))
        else:
            day.tick(key, field, label)
            ticked.add((key, field))
    edits = [one for one in day.done if one[3] != "photo"]
    assert (len(edits), len(day.done)) == (300, 360)
    assert tablet.kept()["outbox"] == 360
    server.start()
    begun = time.monotonic()
    tablet.go("#/queue")
    tablet.page.get_by_role("button", name="Send now").click()
    events_s = seconds_until(server, begun, events=300, photos=0)
    whole_s = seconds_until(server, begun, events=360, photos=before + 60)
    tablet.wait_until_sent()
    ticks = sorted(day.tick_ms)
    print(
        f"\ntick {ticks[len(ticks) // 2]:.0f} ms median, {ticks[-1]:.0f} ms at most; open again"
        f" {max(opened):.2f} s at most; 300 edits sent in {events_s:.1f} s, with 60 photos in {whole_s:.1f} s"
    )
    same(day.done, stored(server))
    assert server.rows("select count(*) from checklists_photo") == [(before + 60,)]
    assert whole_s <= SENT_WITHIN_S
