"""A tablet of the tests: records without a network, keeps an outbox, sends it until each id is named."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from dataclasses import dataclass, field
from typing import Any

from tests.soak.model import Sent, standing

START = dt.datetime(2026, 11, 25, 16, 0, tzinfo=dt.UTC)


@dataclass
class Tablet:
    """What one device knows; ``skew_h`` is how far its clock is off."""

    name: str
    skew_h: float
    key: str = field(default_factory=lambda: str(uuid.uuid4()))
    known: dict[str, Sent] = field(default_factory=dict)
    outbox: list[Sent] = field(default_factory=list)
    cursor: str = ""
    now: dt.datetime = START

    @property
    def clock(self) -> dt.datetime:
        """Return the time it shows."""
        return self.now + dt.timedelta(hours=self.skew_h)

    def stands(self, step: int, name: str) -> frozenset[str]:
        """Return the ids that stand at a field as far as it knows."""
        return standing(self.known.values()).get((step, name), frozenset())

    def record(self, step: int, name: str, value: Any, *, verb: str = "record", undoes: str = "") -> Sent:
        """Record a value that replaces what it sees there, or take one back."""
        event: Sent = {
            "id": str(uuid.uuid4()), "step": step, "verb": verb, "field": name, "value": value,
            "at": self.clock.isoformat(), "device": self.name, "design_number": 1,
            "replaces": sorted(self.stands(step, name)) if verb == "record" else [],
        }  # fmt: skip
        if undoes:
            event["undoes"] = undoes
        self.known[event["id"]] = event
        self.outbox.append(event)
        return event

    def batch(self, events: list[Sent]) -> dict[str, Any]:
        """Return a body as the tablet sends it."""
        return {
            "device": self.key, "device_name": self.name, "app": "2026-11-26",
            "sent_at": self.clock.isoformat(), "offset_ms": round(-self.skew_h * 3_600_000), "events": events,
        }  # fmt: skip

    def sent(self, answer: dict[str, Any]) -> None:
        """Forget what the answer names."""
        safe = {*answer["new"], *answer["known"], *answer["held"]}
        self.outbox = [event for event in self.outbox if event["id"] not in safe]

    def merge(self, answer: dict[str, Any]) -> None:
        """Take in what others did."""
        for event in answer["events"]:
            self.known.setdefault(event["id"], event)
        self.cursor = answer["cursor"]


def some(events: list[Sent], chance: random.Random, most: int = 6) -> list[Sent]:
    """Return a few events in any order."""
    picked = chance.sample(events, min(len(events), chance.randint(1, most)))
    chance.shuffle(picked)
    return picked
