"""Who makes a change: a person of the shop, somebody known by name only, or the system itself."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import User


@dataclass(frozen=True, slots=True)
class System:
    """Coachlight itself, doing what follows from an act; nobody's name stands on it."""


@dataclass(frozen=True, slots=True)
class ByName:
    """Somebody who does not sign in, the customer above all, under the name they signed with."""

    name: str


type Actor = User | System | ByName


def name_of(actor: Actor) -> str:
    """Return the name to print for who made a change; empty for the system."""
    match actor:
        case System():
            return ""
        case ByName(name):
            return name
        case _:
            return actor.get_full_name() or actor.get_username()
