"""Towns a travel place can be named by (GeoNames, CC BY 4.0), without a network."""

from __future__ import annotations

import csv
import functools
import unicodedata
from dataclasses import dataclass

from jobs.survey.defaults import DATA


@dataclass(frozen=True, slots=True)
class Town:
    """One town of the list."""

    name: str
    region: str
    country: str
    latitude_deg: float
    longitude_deg: float
    population: int

    def __str__(self) -> str:
        return f"{self.name}, {self.region or self.country}"


@functools.cache
def towns() -> tuple[tuple[str, Town], ...]:
    """Return all towns, the largest first, each with its name made plain for comparing."""
    with (DATA / "places.csv").open(encoding="utf-8", newline="") as file:
        found = [
            Town(
                row["name"],
                row["region"],
                row["country"],
                float(row["latitude_deg"]),
                float(row["longitude_deg"]),
                int(row["population"]),
            )
            for row in csv.DictReader(file)
        ]
    found.sort(key=lambda town: -town.population)
    return tuple((plain(town.name), town) for town in found)


def plain(text: str) -> str:
    """Return a name without accents, points and case: ``St. Étienne`` and ``st etienne`` are one."""
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    return " ".join(bare.replace(".", " ").replace("-", " ").casefold().split())


def _split(text: str) -> tuple[str, list[str]]:
    """Return the town and what narrows it down, from ``Springfield, MO, US``."""
    name, *rest = (plain(piece) for piece in text.split(","))
    return name, [piece for piece in rest if piece]


def _fits(town: Town, narrow: list[str]) -> bool:
    return all(piece in {town.region.casefold(), town.country.casefold()} for piece in narrow)


def towns_named(text: str) -> list[Town]:
    """Return the towns that are called exactly this, largest first."""
    name, narrow = _split(text)
    return [town for bare, town in towns() if bare == name and _fits(town, narrow)] if name else []


def towns_like(text: str, limit: int = 10) -> list[Town]:
    """Return towns whose name begins so, largest first; nothing for fewer than two letters."""
    name, narrow = _split(text)
    if len(name) < 2:
        return []
    matches = (town for bare, town in towns() if bare.startswith(name) and _fits(town, narrow))
    return [town for town, _ in zip(matches, range(limit), strict=False)]
