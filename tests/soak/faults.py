"""Two tablets at work behind a spoiled line; what they end up with is compared with the plain reference."""

from __future__ import annotations

import html
import http.client
import random
import re
import threading
import time
from typing import Any

from tests.soak.model import Sent, standing
from tests.soak.proxy import FaultProxy
from tests.soak.tablet import Tablet, some
from tests.soak.web import Web, call

#: Step, field, values, and the values as the step's page prints them.
Place = tuple[int, str, list[Any], list[str]]


class FaultRun:
    """Runs so many requests through the proxy, then compares; ``found`` says what is wrong."""

    def __init__(self, web: Web, path: str, sessions: list[str], places: list[Place], seed: int) -> None:
        self.web, self.path, self.sessions, self.places, self.seed = web, path, sessions, places, seed
        self.tablets = [Tablet("north", -1.0), Tablet("south", 1.0)]
        self.before: dict[str, Sent] = {}
        self.found: list[str] = []
        self.breaks = 0

    def run(self, requests: int) -> FaultRun:
        """Work through the proxy, then without it, then compare."""
        for who in (0, 1):
            self._fetch(who, self.web.port)
        self.before = dict(self.tablets[0].known)
        self.proxy = FaultProxy(self.web.port, requests, self.seed)
        threads = [threading.Thread(target=self._work, args=(who,), daemon=True) for who in (0, 1)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        self.proxy.close()
        self._last_word()
        self._compare()
        return self

    def _work(self, who: int) -> None:
        chance, tablet = random.Random(f"{self.seed}/{who}"), self.tablets[who]
        while not self.proxy.is_done:
            step, name, values, _ = chance.choice(self.places)
            for _ in range(chance.randint(1, 2)):
                tablet.record(step, name, chance.choice(values))
            seen = sorted(tablet.stands(step, name))
            if seen and chance.random() < 0.3:
                tablet.record(step, "", None, verb="undo", undoes=chance.choice(seen))
            if chance.random() < 0.3:
                tablet.record(step, "", "a note", verb="note")
            try:
                self._send(who, self.proxy.port, some(tablet.outbox, chance))
                if chance.random() < 0.4:
                    self._fetch(who, self.proxy.port)
            except (OSError, http.client.HTTPException, ValueError):
                self.breaks += 1
                time.sleep(0.01)

    def _send(self, who: int, port: int, events: list[Sent]) -> None:
        tablet = self.tablets[who]
        status, answer = call(port, "POST", self.path, session=self.sessions[who], body=tablet.batch(events))
        if status == 200:
            tablet.sent(answer)
        elif status != 400:  # 400: the line cut the request; it is sent again
            self.found.append(f"{status} {answer}"[:200])

    def _fetch(self, who: int, port: int) -> None:
        tablet = self.tablets[who]
        path = f"{self.path}?after={tablet.cursor}"
        status, answer = call(port, "GET", path, session=self.sessions[who])
        if status == 200:
            tablet.merge(answer)

    def _last_word(self) -> None:
        """Send what is left; then the slow clock corrects the fast one, which it has seen."""
        north, south = self.tablets
        step, name, values, _ = self.places[0]
        self._settle()
        south.record(step, name, values[0])
        self._settle()
        north.record(step, name, values[1])
        self._settle()

    def _settle(self) -> None:
        for who, tablet in enumerate(self.tablets):
            if tablet.outbox:
                self._send(who, self.web.port, list(tablet.outbox))
        for who in (0, 1):
            self._fetch(who, self.web.port)

    def _compare(self) -> None:
        north, south = (tablet.known for tablet in self.tablets)
        written = self.before | {
            name: event for known in (north, south) for name, event in known.items() if "serial" not in event
        }
        _, told = call(self.web.port, "GET", self.path, session=self.sessions[0])
        stored = [event["id"] for event in told["events"]]
        self._wrong(sorted(stored) == sorted(written), f"lost or doubled: {len(stored)} of {len(written)}")
        wanted = standing(written.values())
        for tablet in self.tablets:
            self._wrong(not tablet.outbox, f"{tablet.name} could not send all")
            self._wrong(standing(tablet.known.values()) == wanted, f"{tablet.name} knows another state")
        self._wrong(standing(told["events"]) == wanted, "the server tells another state")
        bad = {status: count for status, count in self.proxy.statuses.items() if status >= 500}
        self._wrong(not bad, f"server faults: {bad}")
        for step, name, values, shown in self.places if not self.found else ():  # pages take their time
            want = {
                shown[values.index(written[one]["value"])] for one in wanted.get((step, name), frozenset())
            }
            self._wrong(self._shown(step, name) == want, f"the page of {name} shows another state")

    def _shown(self, step: int, name: str) -> set[str]:
        """Return the values the step's page prints at a field."""
        page = call(self.web.port, "GET", f"/steps/{step}/", session=self.sessions[0], page=True)[1]
        part = page.partition(f'id="field-{name}"')[2].partition("</section>")[0]
        return {html.unescape(text) for text in re.findall(r'standing-value num">([^<]*)<', part)}

    def _wrong(self, is_right: bool, words: str) -> None:
        if not is_right:
            self.found.append(words)
