"""The roof tablet's views: sizes, contrast, axe in both orientations, what it says to server and people."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from checklists.models import Device, Photo, StepEvent
from tests.browser.barriers import barriers
from tests.browser.turns import ONE_AT_A_TIME
from tests.roles import step_of
from tests.unit.checklists.conftest import entry, media, record  # noqa: F401
from tests.unit.checklists.walk import complete

pytestmark = pytest.mark.django_db(transaction=True)

MEASURE = (Path(__file__).parent / "measure_tablet.js").read_text()
UPRIGHT, LYING = {"width": 820, "height": 1180}, {"width": 1180, "height": 820}
#: A line and a number of the first phase, which are open from the start: role of the step, and the label.
LIGHTS, POSTS = ("works_before", "Road lights and brakes"), ("battery_before", "Voltage at the posts")


#: Whether so many events are kept here.
HEARD = """async (count) => {
  const open = indexedDB.open('coachlight');
  const db = await new Promise((ok) => { open.onsuccess = () => ok(open.result); });
  const asked = db.transaction('events').objectStore('events').count();
  const have = await new Promise((ok) => { asked.onsuccess = () => ok(asked.result); });
  db.close();
  return have >= count;
}"""


class Shell:
    """The shell in a page, with one job on it."""

    def __init__(self, page: Any, site: str, checklist: Any) -> None:
        self.page, self.site, self.checklist = page, site, checklist
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(str(error)))

    def open(self, where: str = "") -> None:
        self.page.goto(f"{self.site}/tablet/{where}")
        self.page.locator("#page h1").wait_for()

    def take(self) -> None:
        self.open()
        self.page.get_by_role("button", name="Take along").click()
        self.page.get_by_text("On this tablet.").or_(self.page.locator(".job-card")).first.wait_for()
        self.page.locator(f'a[href="#/job/{self.checklist.job_id}"]').wait_for()

    def advance(self, actor: Any, now: Any, only: str) -> None:
        """Let somebody do whole phases, and wait until the tablet has heard of everything."""
        with ONE_AT_A_TIME:
            complete(self.checklist, actor, now, only=only)
            count = self.checklist.events.count()
        self.page.reload()
        self.page.locator("#page h1").wait_for()
        self.page.wait_for_function(HEARD, arg=count)

    def go(self, where: str) -> None:
        address = f"#/job/{self.checklist.job_id}{where}"
        self.page.evaluate("(where) => { location.hash = where; }", address)
        self.page.wait_for_function("(where) => document.body.dataset.shown === where", arg=address)

    def step(self, role: str, subject: str = "") -> None:
        with ONE_AT_A_TIME:
            step = step_of(self.checklist, role, subject)
        self.go(f"/{'row' if subject else 'step'}/{step.pk}")  # several of one code are a table
        self.page.locator(".step-head-code", has_text=step.code).wait_for()

    def tick(self, label: str) -> None:
        """Tap a tick, or a line of a list."""
        self.page.locator("button.tick, button.line", has_text=label).first.click()
        here = self.page.get_by_role("button", name=f"Undo {label}").or_(
            self.page.locator(".line-on", has_text=label)
        )
        here.or_(
            self.page.locator(".notice-success", has_text="saved here")
        ).first.wait_for()  # or further on

    def state(self, words: str) -> None:
        self.page.locator("#state", has_text=words).wait_for()

    def measured(self, name: str) -> list[str]:
        """Return what is too small, too pale, too wide or a barrier in the view shown."""
        self.page.evaluate(
            "() => document.querySelectorAll('details').forEach((one) => { one.open = true; })"
        )
        found = [f"{name}: {fault}" for fault in self.page.evaluate(MEASURE)]
        wide = self.page.evaluate("() => document.documentElement.scrollWidth > innerWidth")
        breaches = self.page.evaluate("() => document.documentElement.dataset.cspViolations || ''")
        return found + ([f"{name} is too wide"] if wide else []) + ([breaches] if breaches else [])

    def barriers(self, name: str) -> list[str]:
        return [f"{name}: {barrier}" for barrier in barriers(self.page)]


def sent() -> Any:
    """Return what tablets sent."""
    return StepEvent.objects.filter(sent_from__isnull=False)


@pytest.fixture
def shell(page, site, sign_in, bob, lines_read):
    """Return the shell, signed in as Bob, with the golden job taken along and the safety lines read."""
    sign_in(bob)
    page.set_viewport_size(UPRIGHT)
    made = Shell(page, site, lines_read)
    made.take()
    return made


#: One of each make of page: those of the first phase before anything is recorded, the others made safe.
EARLY = ["right_vehicle", "works_before", "battery_before", "custody"]
LATER = [
    "roof_checked", "clear_below", "sealant", "seal_under panel:1", "seal_count", "panel_serial panel:1",
    "home_run_length circuit:C2", "wire_runs circuit:C3", "torque joint:battery-1", "schedule_read",
    "charger_settings source:A", "sign_off",
]  # fmt: skip
AXED = {"right_vehicle", "works_before", "roof_checked", "seal_under", "torque"}


def test_every_view_keeps_its_sizes_and_contrast(shell, record, lena, now):  # noqa: F811
    faults = [fault for size in (UPRIGHT, LYING) for fault in shown_faults(shell, EARLY, size, [""])]
    faults += pad_faults(shell)
    with ONE_AT_A_TIME:
        complete(shell.checklist, lena, now, only="ABC", skip=("roof_checked", "layout_accepted"))
        record(shell.checklist, "roof_checked", "moisture_percent", 27.0)
        record(shell.checklist, "home_run_length", "run_len_m", 14.0, "circuit:C2", replaces=standing(shell))
        record(shell.checklist, "torque", "plus_nm", 11.0, "joint:battery-1")
        record(shell.checklist, "torque", "plus_nm", 9.0, "joint:battery-1")
    shell.advance(lena, now, "")
    shell.step("torque", "joint:battery-1")
    shell.page.get_by_text("Which one is right?").first.wait_for()
    views = ["", "/plan", "/seals", "/circuits", "/contacts", "/hours", "/load", "/hand-over"]
    faults += [fault for size in (UPRIGHT, LYING) for fault in shown_faults(shell, LATER, size, views)]
    assert not faults
    assert not shell.faults


def standing(shell: Shell) -> tuple[Any, ...]:
    """Return what stands as the length of the home run."""
    step = step_of(shell.checklist, "home_run_length", "circuit:C2")
    return tuple(step.events.filter(field="run_len_m").values_list("pk", flat=True))


def shown_faults(shell: Shell, places: list[str], size: dict[str, int], views: list[str]) -> list[str]:
    """Return what is wrong with views and steps at one size; axe looks at some of them, upright."""
    is_upright = size is UPRIGHT
    shell.page.set_viewport_size(size)
    shell.open("#/queue")
    faults = shell.measured("queue")
    shell.open()
    faults += shell.measured("home") + (shell.barriers("home") if is_upright else [])
    for view in views:
        shell.go(view)
        faults += shell.measured(view) + (shell.barriers(view) if is_upright else [])
    for place in places:
        role, subject = place.partition(" ")[::2]
        shell.step(role, subject)
        faults += shell.measured(role)
        if is_upright and role in AXED:
            faults += shell.barriers(role)
    return faults


def pad_faults(shell: Shell) -> list[str]:
    """Return what is wrong with the pad of numbers and the lock against rain, at both sizes."""
    faults = []
    for size in (UPRIGHT, LYING):
        shell.page.set_viewport_size(size)
        role, label = POSTS
        shell.step(role)
        shell.page.get_by_role("button", name=f"Enter {label}").click()
        shell.page.get_by_role("button", name="9", exact=True).click()
        faults += shell.measured("pad") + (shell.barriers("pad") if size is UPRIGHT else [])
        shell.page.get_by_role("button", name="Close").click()
        shell.page.get_by_role("button", name="Lock the screen").click()
        faults += shell.measured("lock")
        shell.page.get_by_role("button", name="1", exact=True).click()
        shell.page.get_by_role("button", name="2", exact=True).click()
    return faults


def test_the_circuits_fit_their_sheet(shell):
    """Upright on a tablet and on a phone no circuit is pushed sideways, and every value has its name."""
    page = shell.page
    for size in (UPRIGHT, {"width": 390, "height": 844}):
        page.set_viewport_size(size)
        shell.go("/contacts")
        shell.go("/circuits")
        table = page.locator(".circuits")
        assert table.evaluate("(one) => one.scrollWidth <= one.clientWidth")
        inside = "(one) => [...one.querySelectorAll('td')].every((td) => td.scrollWidth <= td.clientWidth)"
        assert table.evaluate(inside)
        assert page.get_by_role("row").count() > 3  # still a table to a screen reader
        assert page.get_by_role("cell").first.get_attribute("data-label") == "From – to"
        assert not shell.measured("circuits")
        assert not shell.barriers("circuits")


@pytest.mark.parametrize("look", ["day", "glare", "night"])
def test_every_look_keeps_its_contrast_and_is_one_tap_away(shell, look, bob, now):
    """Contrast by WCAG 2.2, least 12:1; in glare nothing but black on white, 21:1 and double strokes."""
    page = shell.page
    for _ in range(["day", "glare", "night"].index(look)):
        page.locator(".bar-theme").click()
    assert page.evaluate("() => document.body.dataset.theme") == look
    least, faults = 21.0, []
    places = ["right_vehicle", "works_before", "battery_before", "pad", "", "/seals", "/contacts"]
    for place in [*places, "home_run_length circuit:C2", "torque table"]:
        if place == "pad":
            shell.step(POSTS[0])
            page.get_by_role("button", name=f"Enter {POSTS[1]}").click()
            page.get_by_role("button", name="9", exact=True).click()
        elif place[:1] in {"", "/"}:
            shell.go(place)
        elif place.endswith("table"):
            with ONE_AT_A_TIME:
                code = step_of(shell.checklist, "torque", "joint:battery-1").code
                pk = shell.checklist.steps.filter(code=code, is_in_scope=True).first().pk
            shell.go(f"/step/{pk}")
            page.locator("button.cell:enabled").nth(1).click()  # one still shut is drawn anew in a moment
            page.get_by_role("button", name="1", exact=True).click()
            page.locator(".pad-save").click()
            page.locator(".pad-view").get_by_role("button", name="Close").click()
            page.locator(".cell-out").wait_for()
        else:
            shell.step(*place.split(" "))
        faults += shell.measured(f"{look} {place}")
        seen = page.evaluate("() => window.measured")
        least = min(least, seen["least"])
        if look == "glare":
            faults += [f"{place}: {grey}" for grey in seen["greys"]]
        if place == "pad":
            page.get_by_role("button", name="Close").click()
            shell.advance(bob, now, "AB")
    print(f"\n{look}: least contrast {least:.1f}:1")
    assert not faults
    assert look != "glare" or least == pytest.approx(21)
    assert (
        look != "glare"
        or page.evaluate("() => getComputedStyle(document.querySelector('h2')).fontWeight") == "800"
    )


def test_the_wet_screen_opens_to_two_places_in_turn_only(shell):
    shell.page.get_by_role("button", name="Lock the screen").click()
    lock = shell.page.locator(".wet-lock")
    one, two = (shell.page.get_by_role("button", name=name, exact=True) for name in "12")
    for press in (two.click, lambda: lock.click(position={"x": 400, "y": 300}), one.click,
                  lambda: lock.click(position={"x": 500, "y": 800}), two.click):  # fmt: skip
        press()
        assert lock.is_visible()
    shell.page.keyboard.press("Escape")
    shell.page.keyboard.press("Escape")
    assert lock.is_visible()
    shell.page.reload()  # rain does not stop because the page was drawn anew
    lock.wait_for()
    one.click()
    two.click()
    lock.wait_for(state="detached")


def test_work_of_others_comes_in_and_two_values_are_settled(shell, record, lena):  # noqa: F811
    shell.page.context.set_offline(True)
    shell.step(POSTS[0])
    number(shell, POSTS[1], "12.6")
    with ONE_AT_A_TIME:
        record(shell.checklist, POSTS[0], "rest_v", 12.4, actor=lena)
    shell.state("1 not sent")
    shell.page.context.set_offline(False)
    shell.page.get_by_text("Which one is right?").wait_for()
    assert shell.page.get_by_text("Lena Test").count() >= 1
    with shell.page.expect_response(lambda answer: answer.request.method == "POST"):
        shell.page.locator("button.tick", has_text="12.4 V is right").click()
    shell.page.get_by_text("Which one is right?").first.wait_for(state="detached")
    shell.state("All sent")
    with ONE_AT_A_TIME:
        values = sorted(StepEvent.objects.filter(verb="record").values_list("value", flat=True))
    assert values == [12.4, 12.4, 12.6]
    assert not shell.faults


def number(shell: Shell, label: str, typed: str) -> None:
    """Type a number on the pad and save it."""
    way = f'[aria-label$="{label}"].number-open, [aria-label="{label}: another number"]'
    shell.page.locator(way).click()
    for each in typed:
        shell.page.get_by_role("button", name={".": "Point"}.get(each, each), exact=True).click()
    shell.page.locator(".pad-save").click()
    shell.page.locator(".standing-value").first.wait_for()
    close_pad(shell.page)


def close_pad(page: Any) -> None:
    """Close the pad of the number that follows, which comes up by itself."""
    page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")
    if page.locator(".pad-view").count():
        page.locator(".pad-view").get_by_role("button", name="Close").click()


def test_two_tabs_send_once(shell):
    posts = []
    context = shell.page.context
    context.on("request", lambda one: posts.append(one) if one.method == "POST" else None)
    other = Shell(context.new_page(), shell.site, shell.checklist)
    other.open()
    context.set_offline(True)
    shell.step(LIGHTS[0])
    shell.tick(LIGHTS[1])
    other.state("1 not sent")
    context.set_offline(False)
    shell.state("All sent")
    other.state("All sent")
    assert len(posts) == 1
    with ONE_AT_A_TIME:
        assert sent().count() == 1


def test_signed_out_work_is_kept_and_sent_after_signing_in(shell, bob):
    with ONE_AT_A_TIME:
        bob.set_password("lantern-on-the-ridge")
        bob.save()
    shell.page.context.clear_cookies()
    shell.step(LIGHTS[0])
    shell.tick(LIGHTS[1])
    shell.state("sign in again, your work is kept")
    shell.page.locator("#state").click()
    shell.page.get_by_role("link", name="Sign in again", exact=True).click()
    shell.page.get_by_label("Email").fill(bob.email)
    shell.page.get_by_label("Password").fill("lantern-on-the-ridge")
    shell.page.get_by_role("button", name="Sign in").click()
    shell.page.get_by_text("Nothing waits to be sent").wait_for()
    with ONE_AT_A_TIME:
        assert sent().count() == 1
    assert not shell.faults


def test_what_goes_wrong_is_said_and_nothing_is_lost(shell, tmp_path):
    the_storage_fills(shell)
    the_tablet_is_full(shell, tmp_path / "roof.jpg")
    a_value_cannot_be_taken(shell)
    the_shell_is_too_old(shell)
    the_tablet_is_revoked(shell)
    assert not shell.faults


def test_a_picture_that_is_none_holds_up_no_other(shell, tmp_path):
    """Two go at once; a line that breaks under one, and a file that is none, cost the others nothing."""
    shell.page.context.set_offline(True)
    shell.step("right_vehicle")
    for place, name in enumerate(("one.jpg", "none.heic", "two.jpg")):
        path = tmp_path / name
        if path.suffix == ".jpg":
            Image.new("RGB", (80, 60 + place), "teal").save(path)
        else:
            path.write_bytes(b"no picture at all")
        shell.page.locator("input[type=file]").first.set_input_files(path)
        shell.page.locator(".photos li").nth(place).wait_for()
    shell.page.get_by_text("3 photos, 2 asked for").wait_for()
    shell.page.route("**/uploads/*/", lambda route: route.abort(), times=1)
    shell.page.context.set_offline(False)
    shell.page.locator("#state").click()
    shell.page.get_by_role("button", name="Send now").click()
    shell.state("1 set aside")
    shell.state("All sent")
    shell.page.get_by_text("This file is no photo we can read").wait_for()
    with ONE_AT_A_TIME:
        photos = set(sent().values_list("photo", flat=True))
        assert photos == set(Photo.objects.values_list("pk", flat=True))
        assert len(photos) == 2
    assert not shell.faults


def the_storage_fills(shell: Shell) -> None:
    """Four fifths full it says so, above every view and with what to do; before that it says nothing."""
    for used, is_told in ((79, False), (80, True)):
        shell.page.evaluate(
            "(usage) => { navigator.storage.estimate = async () => ({ usage, quota: 100 }); }", used
        )
        shell.go("")
        shell.page.evaluate("() => { location.hash = '#/'; dispatchEvent(new Event('online')); }")
        shell.page.get_by_role("heading", name="Jobs on this tablet").wait_for()
        if is_told:
            shell.page.locator(".bar-alert", has_text="storage 80% full").wait_for()
        told = shell.page.get_by_text(f"Storage is {used}% full: send what waits, or remove jobs")
        assert (told.count() == 1, shell.page.locator(".bar-alert").count() == 1) == (is_told, is_told)


def the_tablet_is_full(shell: Shell, path: Path) -> None:
    """Ticks still fit where a photo does not."""
    Image.new("RGB", (80, 60), "teal").save(path)
    shell.page.evaluate(FULL)
    shell.step("right_vehicle")
    shell.page.locator("input[type=file]").first.set_input_files(path)
    shell.page.get_by_text("this photo was not kept").first.wait_for()
    shell.page.get_by_role("button", name="I see").click()
    shell.step(LIGHTS[0])
    shell.tick(LIGHTS[1])
    shell.state("All sent")


def a_value_cannot_be_taken(shell: Shell) -> None:
    """It is set aside and shown; the rest is sent."""
    shell.page.context.set_offline(True)
    shell.step(LIGHTS[0])
    shell.tick("Slides, jacks and step")
    shell.step(POSTS[0])
    number(shell, POSTS[1], "12.6")
    shell.page.evaluate(SPOIL)
    shell.page.context.set_offline(False)
    shell.state("1 set aside")
    shell.state("All sent")  # of the rest
    shell.page.locator("#state").click()
    shell.page.get_by_text("The server could not take these").wait_for()
    with ONE_AT_A_TIME:
        assert list(sent().values_list("value", flat=True)) == ["road_lights", "road_lights,moving"]


def the_shell_is_too_old(shell: Shell) -> None:
    """The work stays until the shell is a newer one."""
    shell.page.route("**/events/", lambda route: route.fulfill(status=426, json={"error": "Please update."}))
    shell.step(LIGHTS[0])
    shell.tick("Water pump, fridge, furnace")
    shell.state("update, your work is kept")
    shell.page.unroute("**/events/")
    shell.page.locator("#state").click()
    shell.page.get_by_role("button", name="Send now").click()
    shell.state("All sent")


def the_tablet_is_revoked(shell: Shell) -> None:
    """What it sends is held, and it says so."""
    with ONE_AT_A_TIME:
        assert Device.objects.update(revoked_at="2026-11-25T10:00Z") == 1
    shell.step(LIGHTS[0])
    shell.tick("12 V lights and outlets")
    shell.state("held for review")
    shell.page.locator(".standing-by", has_text="held for review").first.wait_for()
    with ONE_AT_A_TIME:
        assert sent().count() == 3


#: Makes the number in the tablet's books one that no battery has: a fault of the device or of an older app.
SPOIL = """async () => {
  const open = indexedDB.open('coachlight');
  const db = await new Promise((ok) => { open.onsuccess = () => ok(open.result); });
  const tx = db.transaction('events', 'readwrite');
  const all = tx.objectStore('events').getAll();
  all.onsuccess = () => {
    const bad = all.result.find((event) => event.value === 12.6);
    tx.objectStore('events').put({ ...bad, value: 9000 });
  };
  await new Promise((ok) => { tx.oncomplete = ok; });
  db.close();
}"""


#: Makes the browser's store refuse pictures, as it does when its quota is used up.
FULL = """() => {
  const add = IDBObjectStore.prototype.add;
  IDBObjectStore.prototype.add = function (row, ...more) {
    if (row?.bytes) throw new DOMException('full', 'QuotaExceededError');
    return add.call(this, row, ...more);
  };
}"""


def test_leaving_asks_twice_while_work_waits_and_clears_all(shell):
    shell.page.context.set_offline(True)
    shell.step(LIGHTS[0])
    shell.tick(LIGHTS[1])
    shell.page.evaluate("() => { location.hash = '#/'; }")
    shell.page.get_by_role("button", name="Sign out").click()
    shell.page.get_by_role("button", name="Go on").click()
    shell.page.get_by_role("button", name="Stay signed in").click()
    shell.state("1 not sent")
    shell.page.get_by_role("button", name="Sign out").click()
    shell.page.get_by_role("button", name="Go on").click()
    shell.page.get_by_role("button", name="Lose them and sign out").click()
    shell.page.get_by_text("None yet. Take one along").wait_for()
    shell.state("Nothing to send")
    assert shell.page.get_by_text(shell.checklist.job.vehicle.customer.name).count() == 0


def test_the_shops_own_pages_take_along_and_ask_before_signing_out(page, site, sign_in, bob, lines_read):
    sign_in(bob)
    page.goto(f"{site}/jobs/{lines_read.job_id}/install/")
    page.get_by_role("button", name="Take this job along on this tablet").click()
    shell = Shell(page, site, lines_read)
    page.locator(".job-ways").wait_for()
    page.route("**/events/", lambda route: route.abort())
    shell.step(LIGHTS[0])
    shell.tick(LIGHTS[1])
    page.goto(f"{site}/jobs/{lines_read.job_id}/")
    page.locator(".who summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Lose them and sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    shell.open()
    page.get_by_text("None yet. Take one along").wait_for()
    assert not shell.faults


class TestBrokenBuilds:
    """The same rough passage on the sound build and on broken ones: the answer is lost, then the request."""

    ASK = "  const answer = await ask(`/jobs/${job}/events/`"
    FORGET = "  await safe(batch, new Set(batch.map(({ row }) => row.id)), new Set());\n"
    NEW_ID = "[key, key === 'id' ? crypto.randomUUID() : event[key]]"
    COMMIT = "  await tx.done;\n"
    BREAKS = {
        "sound": ("", "", ""),
        "a new id for every try": ("sending/events.js", "[key, event[key]]", NEW_ID),
        "rows go before the answer": ("sending/events.js", ASK, FORGET + ASK),
        "the write is never committed": (
            "record.js",
            COMMIT,
            "  tx.abort();\n  await tx.done.catch(() => {});\n",
        ),
    }

    def test_the_sound_build_sends_once(self, page, site, sign_in, bob, lines_read):
        assert self.sent_and_left(Shell(page, site, lines_read), bob, sign_in, "sound") == (2, 0)

    @pytest.mark.full
    @pytest.mark.parametrize("name", [name for name in BREAKS if name != "sound"])
    def test_a_broken_build_does_not(self, page, site, sign_in, bob, lines_read, name):
        assert self.sent_and_left(Shell(page, site, lines_read), bob, sign_in, name) != (2, 0)

    def sent_and_left(self, shell: Shell, bob: Any, sign_in: Any, name: str) -> tuple[int, int]:
        """Return what the server has and the tablet still holds after a rough passage on one build."""
        module, sound, broken = self.BREAKS[name]
        if module:
            text = (Path(__file__).parents[2] / "static" / "js" / "tablet" / module).read_text()
            assert sound in text
            answer = {"content_type": "text/javascript", "body": text.replace(sound, broken)}
            shell.page.context.route(f"**/js/tablet/{module}", lambda route: route.fulfill(**answer))
        sign_in(bob)
        shell.take()
        left = self.passage(shell, is_sound=name == "sound")
        with ONE_AT_A_TIME:
            return sent().count(), left

    def passage(self, shell: Shell, *, is_sound: bool) -> int:
        """Record twice while first the answer and then the request is lost; return what is left to send."""
        tries = []

        def lose(route: Any) -> None:
            tries.append(route)
            if len(tries) == 1:
                route.fetch()
            if len(tries) <= 2:
                route.abort()
            else:
                route.continue_()

        shell.page.route("**/jobs/*/events/", lose)
        for role, label in (LIGHTS, (LIGHTS[0], "Slides, jacks and step")):
            shell.step(role)
            shell.page.locator("button.line", has_text=label).first.click()
            shell.page.wait_for_timeout(300)
        shell.open("#/queue")
        for _ in range(3):
            shell.page.get_by_role("button", name="Send now").click()
            shell.page.wait_for_timeout(300)
        if is_sound:
            shell.page.get_by_text("Nothing waits to be sent").wait_for()
        return shell.page.locator(".queue li").count()
