"""Which surveyed facts were guessed, and which results rest on one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from sizing.core.inputs import CircuitInput, Confidence, SystemInput

#: A guessed length is judged this much longer; common practice, no source. [-]
GUESS_LENGTH: Final = 1.25


def judged_len_m(circuit: CircuitInput) -> float | None:
    """Return the one-way path a circuit is judged by [m]: as given, a guess a quarter longer."""
    if circuit.run_len_m is None or circuit.confidence is not Confidence.GUESS:
        return circuit.run_len_m
    return circuit.run_len_m * GUESS_LENGTH


def resting_on(system: SystemInput, names: Iterable[str]) -> tuple[str, ...]:
    """Return the guessed facts among ``names``; a name ending in a dot stands for all that begin with it.

    The names: ``loads``, ``legs``, ``site.tmin_travel``, ``site.tmin_storage``, ``site.tmax``, ``panels``,
    ``strings``, ``controllers``, ``bank``, ``bank.tmin``, ``inverter``, ``sources``, ``roof.material``,
    ``roof.deck``, ``roof.rafters``, ``roof.height``, ``weight`` and ``circuit:<id>.run_len``.
    """
    if not system.guesses:
        return ()
    wanted = tuple(names)
    return tuple(sorted(guess for guess in system.guesses if any(_matches(guess, name) for name in wanted)))


def _matches(guess: str, name: str) -> bool:
    return guess == name or (name.endswith(".") and guess.startswith(name)) or guess.startswith(f"{name}.")
