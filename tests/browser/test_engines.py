"""The tablet's main day without a network in Firefox and in WebKit: taken, recorded, reloaded, sent once.

WebKit's driver gives a tab that keeps nothing once its browser ends, so only Firefox is killed and opened
again.
"""

from __future__ import annotations

import io
import json
import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import PBKDF2PasswordHasher
from PIL import Image

from tests.browser.engines import DISPLAY, FIREFOX, WEBKIT, Engine, Firefox, WebKit
from tests.browser.tablet_kit import Server
from tests.unit.checklists.conftest import media  # noqa: F401

PASSWORD, PIN = "lantern-on-the-ridge", "4815"
HEIC = Path(__file__).parents[2] / "fixtures" / "pictures" / "small.heic"
IS_ASKED = bool(os.environ.get("REQUIRE_BROWSER"))
WAYS = {
    Firefox: pytest.mark.skipif(not (FIREFOX or IS_ASKED), reason="apt-get install firefox-esr"),
    WebKit: pytest.mark.skipif(
        not ((WEBKIT and DISPLAY) or IS_ASKED), reason="apt-get install webkit2gtk-driver xvfb"
    ),
}
pytestmark = pytest.mark.django_db(transaction=True)

#: Counts the rows of a store; of photos too, by their ids.
KEPT = """
  return new Promise((told, failed) => {
    const open = indexedDB.open("coachlight");
    open.onerror = () => failed(open.error);
    open.onsuccess = () => {
      const found = {};
      const tx = open.result.transaction(["events", "outbox", "uploads", "thumbs"]);
      for (const name of ["events", "outbox", "uploads", "thumbs"]) {
        const asked = tx.objectStore(name).getAllKeys();
        asked.onsuccess = () => { found[name] = asked.result; };
      }
      tx.oncomplete = () => { open.result.close(); told(found); };
    };
  });
"""
CUT_OFF = "return fetch('/tablet/hello/?now=' + Date.now()).then(() => false, () => true);"
SHOWN = "document.querySelector('#page h1') && !document.querySelector('#page > p')"


class Day:
    """One person's day on one engine."""

    def __init__(self, engine: Engine, server: Server, checklist: Any, folder: Path) -> None:
        self.engine, self.server, self.folder, self.job = engine, server, folder, checklist.job_id
        self.steps = list(
            checklist.steps.filter(is_in_scope=True, is_hold=False, subject="").order_by("position")
        )
        self.done: list[tuple[int, str, Any]] = []
        self.shade = self.reads = 0

    def sign_in(self, person: Any) -> None:
        self.engine.go(f"{self.server.url}/tablet/")
        self.click("a[href*='login'], a[href*='sign']", "Sign in")
        self.engine.wait("document.querySelector('input[type=password]')")
        self.engine.type_into("input[name=login]", person.email)
        self.engine.type_into("input[name=password]", PASSWORD)
        self.engine.run("document.querySelector('input[type=password]').form.requestSubmit();")
        self.engine.wait("location.pathname === '/tablet/' && document.querySelector('#page h1')")

    def click(self, css: str, words: str = "", place: int = 0) -> None:
        question = (
            "[...document.querySelectorAll(arguments[0])]"
            ".filter((one) => one.textContent.includes(arguments[1]) && !one.disabled)[arguments[2]]"
        )
        self.engine.wait(f"!!{question}", css, words, place)
        self.engine.run(f"{question}.click();", css, words, place)

    def text(self, words: str, css: str = "body", seconds: float = 30) -> None:
        question = (
            "[...document.querySelectorAll(arguments[0])]"
            ".some((one) => one.textContent.includes(arguments[1]))"
        )
        self.engine.wait(question, css, words, seconds=seconds)

    def show(self, where: str) -> None:
        self.engine.run("location.hash = arguments[0];", where)
        self.engine.wait("document.body.dataset.shown === arguments[0]", where)

    def kept(self) -> dict[str, list[Any]]:
        return dict(self.engine.run(KEPT))

    def counts(self) -> tuple[int, int]:
        found = self.kept()
        return len(found["outbox"]), len(found["uploads"])

    def take(self) -> None:
        self.click(".take-row button", "Take along")
        self.engine.wait("!!document.querySelector(arguments[0])", f'a[href="#/job/{self.job}"]')
        self.engine.run("return navigator.serviceWorker.ready.then(() => true);")
        self.engine.wait("!!navigator.serviceWorker.controller")

    def set_pin(self) -> None:
        self.show("#/")
        self.click("button", "Set a PIN")
        for name in ("pin-0", "pin-1"):
            self.engine.type_into(f"#{name}", PIN)
        self.click(".ask button", "Set PIN")
        self.text("Change PIN", "#page button")

    def unlock(self) -> None:
        """Unlock the tablet, as after every reload."""
        self.engine.wait("!!document.querySelector('.pin-lock')")
        for digit in PIN:
            self.click(".pin-lock .pad-key", digit)
        self.click(".pin-lock button", "Unlock")
        self.engine.wait("!document.querySelector('.pin-lock')")

    def reload(self) -> None:
        """Load the page anew, and wait until a view of the new one stands."""
        self.engine.run("window.isOld = true; setTimeout(() => location.reload());")
        self.engine.wait(f"!window.isOld && {SHOWN}")

    def cut(self) -> None:
        self.server.stop()
        assert self.engine.run(CUT_OFF)

    def at(self, kind: str, unit: str = "", skip: int = 0) -> tuple[int, dict[str, Any]]:
        """Go to the first step of the list that asks for a thing of this kind."""
        found = [
            (step.pk, field)
            for step in self.steps
            for field in step.fields
            if field["kind"] == kind and field.get("unit", "") == unit and not field.get("repeat")
        ]
        pk, field = found[skip]
        self.show(f"#/job/{self.job}/step/{pk}")
        if self.engine.run("return document.body.textContent.includes('I keep to these');"):
            self.click("button.tick", "I keep to these")
            self.engine.wait("!document.body.textContent.includes('I keep to these')")
            self.reads += 1
        return pk, field

    def tick(self) -> None:
        pk, field = self.at("lines")
        (key, words), *_ = field["lines"]
        self.click("button.line", words)
        self.stands(pk, field["name"], value=key)

    def number(self, typed: str) -> None:
        pk, field = self.at("number", "V")
        self.click(".number-open")
        for each in typed:
            self.click(".pad-view .pad-key", each)
        self.click(".pad-view .pad-save")
        time.sleep(0.3)
        if self.engine.run("return !!document.querySelector('.pad-view .choice');"):
            self.click(".pad-view .choice")
            self.click(".pad-view .pad-save")
        self.engine.wait("!document.querySelector('.pad-view')")
        self.stands(pk, field["name"], value=float(typed))

    def photo(self, path: Path) -> None:
        pk, field = self.at("photo")
        before = self.engine.run("return document.querySelectorAll('.photos li').length;")
        self.engine.type_into("input[type=file]", str(path))
        self.engine.wait("document.querySelectorAll('.photos li').length > arguments[0]", before)
        self.stands(pk, field["name"], value="photo")

    def stands(self, step: int, name: str, *, value: Any) -> None:
        self.done.append((step, name, value))
        self.engine.wait("!document.querySelector('[aria-busy]')")
        deadline = time.monotonic() + 20
        while len(self.kept()["events"]) < len(self.done) + self.reads:
            assert time.monotonic() < deadline, "never written down"
            time.sleep(0.1)

    def picture(self) -> Path:
        self.shade += 40
        path = self.folder / f"roof{self.shade}.jpg"
        out = io.BytesIO()
        Image.effect_noise((1900, 1400), self.shade).convert("RGB").save(out, "JPEG", quality=70)
        path.write_bytes(out.getvalue())
        return path

    def stored(self) -> list[tuple[int, str, Any]]:
        """Return what the server has, in the shape of the day's own list."""
        rows = self.server.rows(
            "select step_id, field, value, photo_id from checklists_stepevent where verb = 'record'"
        )
        return [(step, name, "photo" if photo else json.loads(value)) for step, name, value, photo in rows]

    def send(self) -> None:
        self.show("#/queue")
        self.click("button", "Send now")
        deadline = time.monotonic() + 60
        while self.counts() != (0, 0):
            assert time.monotonic() < deadline, (
                self.counts(),
                self.engine.run("return document.body.innerText;"),
            )
            time.sleep(0.2)
        assert sorted(self.done, key=repr) == sorted(self.stored(), key=repr)

    def with_a_hung_server(self) -> float:
        """Return how long the shell takes while the server takes connections and says nothing. [s]"""
        process = self.server.process
        assert process is not None
        os.killpg(process.pid, signal.SIGSTOP)
        try:
            begun = time.monotonic()
            self.reload()
            return time.monotonic() - begun
        finally:
            os.killpg(process.pid, signal.SIGCONT)

    def seen(self) -> int:
        """Return how many small pictures of the photo step are really drawn."""
        self.at("photo")
        return int(
            self.engine.run(
                "return [...document.querySelectorAll('.photos img')]"
                ".filter((one) => one.complete && one.naturalWidth).length;"
            )
        )


@pytest.fixture(params=[pytest.param(kind, marks=mark, id=kind.__name__) for kind, mark in WAYS.items()])
def day(request, checklist, tmp_path, bob):
    """Return Bob's day on one engine: signed in by password, the job taken along, the server gone."""
    bob.password = PBKDF2PasswordHasher().encode(PASSWORD, "salt")  # the tests' own is none the server takes
    bob.save()
    server = Server(tmp_path)
    server.start()
    (tmp_path / "engine").mkdir()
    try:
        with request.param(tmp_path / "engine") as engine:
            made = Day(engine, server, checklist, tmp_path)
            made.sign_in(bob)
            made.text("Bob Test", "#page h2", seconds=90)  # the first visit knows who it is, without a reload
            assert not made.engine.run("return document.body.textContent.includes('Nobody is signed in');")
            made.take()
            made.set_pin()
            yield made
    finally:
        server.stop()


def test_the_day_offline(day):
    """Recorded and reloaded without a server, every record arrives once; a HEIC is seen once it was sent."""
    engine, begun = day.engine, time.monotonic()
    day.cut()
    day.tick()
    day.number("12.6")
    day.photo(day.picture())
    day.show("#/queue")
    day.reload()
    day.unlock()
    assert engine.run(CUT_OFF)
    day.text(f"{3 + day.reads} not sent (1 photo)", "#state")
    day.photo(day.picture())
    day.photo(HEIC)
    assert day.counts() == (5 + day.reads, 3)
    if isinstance(engine, Firefox):
        engine.quit()
        engine.start()
        engine.go(f"{day.server.url}/tablet/#/queue")
        engine.wait(SHOWN)
        day.unlock()  # the session went with the browser: the PIN signs in again
        assert day.counts() == (5 + day.reads, 3)
    day.server.start()
    day.send()
    assert day.server.rows("select count(*) from checklists_photo") == [(3,)]
    assert len(day.kept()["thumbs"]) == 3  # each small picture once
    deadline = time.monotonic() + 20
    while day.seen() < 3:
        assert time.monotonic() < deadline, "a photo is not shown"
    assert day.server.rows("select name from checklists_device") == [("Linux computer",)]
    hung_s = day.with_a_hung_server()
    print(f"\n{engine.name}: {time.monotonic() - begun:.0f} s, shell of a hung server in {hung_s:.1f} s")
    assert hung_s < 5
