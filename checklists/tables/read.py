"""Reads the tables, step by step as ``static/js/tablet/tables/reader.js`` does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import sizing
from checklists.tables.axes import text_of
from checklists.tables.fill import UNKNOWN, VERDICTS
from checklists.tables.learn import banded, meets
from jobs.engine.as_built import leads_are_less


class NotCovered(Exception):
    """The tables were not made for this value."""


class Refused(Exception):
    """The engine does not take this value; says why."""


class Reader:
    """The tables with one set of reported values laid over them."""

    def __init__(self, body: Mapping[str, Any], values: Mapping[str, Any]) -> None:
        self.body, self.values = body, values
        self._rows: dict[str, float | None] = {}

    def option(self, axis: int) -> int:
        """Return which option of a switch the reported values mean."""
        switch = self.body["axes"][axis]
        text = "|".join(self._part(part) for part in switch["parts"])
        if text in switch["refused"]:
            raise Refused(switch["refused"][text])
        if text not in switch["options"]:
            raise NotCovered(text)
        return int(switch["options"].index(text))

    def _part(self, part: Mapping[str, Any]) -> str:
        reported = self.values.get(part["name"])
        if part["as"] == "value":
            return str(part["plan"]) if reported is None else text_of(reported)
        if part["as"] == "band":
            count = part["plan"] if reported is None else reported
            return str(max((start for start in part["starts"] if start <= count), default="?"))
        if part["as"] == "leads":
            is_less = part["name"] in self.values or leads_are_less(self.values, part["planned"])
            return "less" if is_less else "planned"
        if part["as"] == "meets":
            return "opens" if self._meets(part["key"]) else "fails"
        feet = self.values.get(part["feet"], part["feet_plan"])
        on_rafter = part["plan"] if reported is None else reported
        if on_rafter is None:
            return "null"
        return ">=" if on_rafter >= feet else "0" if on_rafter == 0 else "<"

    def _meets(self, key: str) -> bool:
        """Return whether another check's value reaches its limit; without a check it does not."""
        tables = next((each for each in self.body["checks"] if each["key"] == key), None)
        if tables is None:
            raise NotCovered(key)
        _, value, limit, _ = self.check(tables)
        return meets(value, limit)

    def x(self, line: int) -> float | None:
        """Return what a line reads: as reported, or a drop added up from its circuits."""
        found = self.body["lines"][line]
        if "legs" in found:
            return self._legs(found)
        names = [found["name"]] if "chains" not in found else found["chains"][self._plan()]
        value = next((self.values[name] for name in names if self.values.get(name) is not None), None)
        if value is None:
            return None
        if not found["low"] <= value <= found["high"]:
            raise NotCovered(found["name"])
        return float(value)

    def _plan(self) -> int:
        """Return which string plan the reported values mean."""
        axes = enumerate(self.body["axes"])
        place = next((n for n, axis in axes if axis["parts"][0]["name"] == "strings.ns"), None)
        return 0 if place is None else self.option(place)

    def _legs(self, line: Mapping[str, Any]) -> float | None:
        known = [
            [row for row in (self.row(name, line["quantity"]) for name in leg) if row is not None]
            for leg in line["legs"]
        ]
        if not any(known):
            return None
        return sum(max(rows) for rows in known if rows)

    def row(self, circuit: str, quantity: str) -> float | None:
        """Return a number of a circuit's row."""
        key = f"circuit:{circuit}#{quantity}"
        if key not in self._rows:
            tables = next((each for each in self.body["checks"] if each["key"] == key), None)
            self._rows[key] = None if tables is None else self.check(tables)[1]
        return self._rows[key]

    def check(self, tables: Mapping[str, Any]) -> tuple[str, float | None, float | None, str]:
        """Return verdict, value, limit and title of one check; the verdict is empty where there is none."""
        value = self._number(tables, "value", None)
        sig = self._label(tables, "sig", value)
        if not sig:
            return "", None, None, ""
        kind, *rest = sig.split("|")
        if kind == "rule":  # whether there is a check, and enough to judge it by, hangs on nothing held
            self._hold(tables.get("held") or {})
        limit, block = self._number(tables, "limit", value), self._number(tables, "block", value)
        verdict = rest[0]
        if kind == "rule":
            at_limit = sizing.Verdict(rest[3]) if len(rest) > 3 else sizing.Verdict.PASS  # an older table
            bounds = sizing.Bounds(rest[0] == "1", sizing.Verdict(rest[1]), block, at_limit)
            verdict = str(banded(bounds, value, limit, from_memory=rest[2] == "1"))
        return verdict, value, limit, self._label(tables, "title", value)

    def _hold(self, planned: Mapping[str, Any]) -> None:
        """Refuse where something was reported otherwise than the table was made for."""
        for name, value in planned.items():
            reported = self.values.get(name)
            if reported is not None and text_of(reported) != text_of(value):
                raise NotCovered(name)

    def _cell(self, tables: Mapping[str, Any], dims: Sequence[Sequence[Any]], value: float | None) -> int:
        place = 0
        for kind, number in dims:
            if kind == "a":
                size, option = len(self.body["axes"][number]["options"]), self.option(number)
            elif kind == "k":
                size, option = len(VERDICTS), VERDICTS.index(self._verdict(number))
            else:
                x, cuts = self.x(number), tables.get("cuts")
                size, option = 2, int(x is not None)
                if kind == "s" and cuts is not None:
                    size = len(cuts["at"]) + 2
                    at = x if cuts["by"] == "x" else value
                    option = 0 if x is None or at is None else 1 + sum(at > end for end in cuts["at"])
            place = place * size + option
        return place

    def _verdict(self, key: str) -> str:
        """Return the verdict of another check, empty where there is none."""
        tables = next((each for each in self.body["checks"] if each["key"] == key), None)
        return "" if tables is None else self.check(tables)[0]

    def _label(self, tables: Mapping[str, Any], part: str, value: float | None) -> str:
        table = tables[part]
        if isinstance(table, str):
            return table
        found = str(self.body["words"][table["all"][self._cell(tables, table["dims"], value)]])
        if found == UNKNOWN:
            raise NotCovered(part)
        return found

    def _number(self, tables: Mapping[str, Any], part: str, value: float | None) -> float | None:
        table = tables.get(part)
        if not isinstance(table, Mapping):
            constant: float | None = table
            return constant
        if "factors" in table:
            found = [row["a"][self._cell(tables, row["dims"], value)] for row in table["factors"]]
            scale: float = table["scale"]
            return None if None in found else scale * math.prod(found)
        cell = self._cell(tables, table["dims"], value)
        a: float | None = table["a"][cell]
        x = self.x(table["line"]) if "line" in table else None
        if a is None or x is None:
            return a
        slope: float = table["b"][cell]
        return a + slope * x
