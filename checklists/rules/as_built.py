"""Collects the recorded values that change the sizing, under the names sizing knows them by. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from checklists.rules.fields import FieldSpec
from checklists.rules.install import Install, StepInfo


def as_built_values(install: Install) -> dict[str, Any]:
    """Return the values as built, by the names sizing knows; disputed and missing ones stay as planned."""
    values: dict[str, Any] = {}
    for _, spec, value in _fed(install):
        if spec.feeds_as != "sum":
            values[spec.feeds] = value
    if any(spec.feeds == "roof.feet" for _, spec, _ in _fed(install)):
        values["roof.feet"] = sum(install.fitted.feet.values())
    _drop_unchanged_strings(values, install)
    return values


def steps_feeding(install: Install, prefix: str) -> tuple[StepInfo, ...]:
    """Return the steps whose recorded values changed anything under a name (``circuit:C2.``), in order."""
    return tuple(dict.fromkeys(step for step, spec, _ in _fed(install) if spec.feeds.startswith(prefix)))


def _fed(install: Install) -> Iterator[tuple[StepInfo, FieldSpec, Any]]:
    for step in install.in_scope:
        state = install.state(step)
        for spec in step.specs:
            if not spec.feeds:
                continue
            value = _converted(spec, state[spec.name].value)
            if value is not None:
                yield step, spec, value


def _converted(spec: FieldSpec, value: Any) -> Any:
    """Return a recorded value as sizing takes it."""
    if value is None or value == "":
        return None
    if spec.feeds_map is not None:
        return spec.feeds_map.get(str(value))
    if isinstance(value, int | float) and not isinstance(value, bool):
        scaled = value * spec.feeds_scale
        return int(scaled) if spec.whole else float(scaled)
    return value


def _drop_unchanged_strings(values: dict[str, Any], install: Install) -> None:
    """Leave the string plan alone unless both counts are in and differ: half a plan cannot be worked out."""
    built = values.get("strings.ns"), values.get("strings.np")
    planned = install.facts.get("ns"), install.facts.get("np")
    if None in built or built == planned:
        values.pop("strings.ns", None)
        values.pop("strings.np", None)
