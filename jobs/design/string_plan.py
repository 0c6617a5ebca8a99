"""Reads the string plan of a design: panels in order, and in trade words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from jobs.models import (
    Design,
    DesignPanel,
)


def string_rows(design: Design) -> list[dict[str, Any]]:
    """Return the strings of a design as rows: panel numbers in order, controller label, fuse."""
    members: dict[int, list[DesignPanel]] = {}
    for panel in design.panels.all():
        if panel.string_id is not None:
            members.setdefault(panel.string_id, []).append(panel)
    return [
        {
            "panels": [
                panel.number
                for panel in sorted(
                    members.get(string.pk, []), key=lambda one: (one.position_in_string, one.number)
                )
            ],
            "controller": string.controller.label,
            "fuse_a": string.fuse_a,
        }
        for string in design.strings.all()
    ]


def plan_words(rows: Iterable[Mapping[str, Any]]) -> str:
    """Return a string plan in trade words: 2S2P on A."""
    by_controller: dict[str, list[int]] = {}
    for row in rows:
        by_controller.setdefault(row["controller"], []).append(len(row["panels"]))
    plans = []
    for label, lengths in sorted(by_controller.items()):
        words = f"{lengths[0]}S{len(lengths)}P" if len(set(lengths)) == 1 else "+".join(map(str, lengths))
        plans.append(f"{words} on {label}")
    return ", ".join(plans) or "no strings"
