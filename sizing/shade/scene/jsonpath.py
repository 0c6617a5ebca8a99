"""How to take typed facts out of parsed JSON and name the path of a fact that is missing or wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sizing.shade.scene.scene import SceneError

_MISSING: Any = object()


@dataclass(frozen=True, slots=True)
class Fact:
    """A piece of JSON and where it stands."""

    value: Any
    path: str

    def fail(self, message: str) -> SceneError:
        """Return the error to raise about this fact."""
        return SceneError(self.path or "scene", message)

    def child(self, key: str) -> Fact:
        """Return a required member of an object."""
        found = self.get(key)
        if found is None:
            raise SceneError(self._join(key), "is missing")
        return found

    def get(self, key: str) -> Fact | None:
        """Return a member of an object, or None where it is absent or null."""
        if not isinstance(self.value, dict):
            raise self.fail(f"must be an object, got {_shown(self.value)}")
        inner = self.value.get(key)
        return None if inner is None else Fact(inner, self._join(key))

    def only(self, *known: str) -> None:
        """Refuse an object with a member nobody would read: a slip of the pen must not count for nothing."""
        for name, inner in self.members():
            if name not in known:
                raise inner.fail(f"is not known; known are {', '.join(known)}")

    def members(self) -> Iterator[tuple[str, Fact]]:
        """Yield name and fact of every member of an object."""
        if not isinstance(self.value, dict):
            raise self.fail(f"must be an object, got {_shown(self.value)}")
        for key, inner in self.value.items():
            yield str(key), Fact(inner, self._join(str(key)))

    def elements(self) -> list[Fact]:
        """Return the elements of a list."""
        if not isinstance(self.value, list):
            raise self.fail(f"must be a list, got {_shown(self.value)}")
        return [Fact(inner, f"{self.path}[{i}]") for i, inner in enumerate(self.value)]

    def number(
        self, key: str, low: float, high: float, unit: str, *, default: float = _MISSING, above: bool = False
    ) -> float:
        """Return a number within low..high (low left out when ``above``)."""
        if default is not _MISSING and self.get(key) is None:
            return default
        return self.child(key).as_number(low, high, unit, above=above)

    def as_number(self, low: float, high: float, unit: str, *, above: bool = False) -> float:
        """Return this fact as a number within low..high."""
        raw = self.value
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            raise self.fail(f"must be a number [{unit}], got {_shown(raw)}")
        number = float(raw) if abs(raw) < 1e300 else math.inf
        if not math.isfinite(number) or number > high or number < low or (above and number == low):
            bounds = f"above {low:g} and up to {high:g}" if above else f"{low:g} to {high:g}"
            raise self.fail(f"must be {bounds} {unit}, got {raw}")
        return number

    def integer(self, key: str, low: int, high: int, *, default: int = _MISSING) -> int:
        """Return a whole number within low..high."""
        if default is not _MISSING and self.get(key) is None:
            return default
        fact = self.child(key)
        number = fact.as_number(low, high, "(whole number)")
        if number != int(number):
            raise fact.fail(f"must be a whole number, got {fact.value}")
        return int(number)

    def text(self, key: str, *, default: str = _MISSING) -> str:
        """Return a text member."""
        if default is not _MISSING and self.get(key) is None:
            return default
        return self.child(key).as_text()

    def as_text(self) -> str:
        """Return this fact as text."""
        if not isinstance(self.value, str) or not self.value:
            raise self.fail(f"must be a text, got {_shown(self.value)}")
        return self.value

    def flag(self, key: str, *, default: bool) -> bool:
        """Return a true/false member."""
        fact = self.get(key)
        if fact is None:
            return default
        if not isinstance(fact.value, bool):
            raise fact.fail(f"must be true or false, got {_shown(fact.value)}")
        return fact.value

    def choice(self, key: str, allowed: tuple[str, ...], *, default: str = _MISSING) -> str:
        """Return one of the allowed words."""
        word = self.text(key, default=default)
        if word not in allowed:
            raise SceneError(self._join(key), f"must be one of {', '.join(allowed)}, got {word!r}")
        return word

    def _join(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
