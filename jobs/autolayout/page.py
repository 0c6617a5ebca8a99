"""Lays out the page of automatic layouts: how far the search is, its candidates side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django.utils.safestring import SafeString, mark_safe

from jobs.models import Design, LayRun, Part, Shop
from jobs.quote.money import part_price

#: A search that says nothing for so long has lost its worker.
STALLED: Final = timedelta(minutes=2)
#: A gap below this is none: the engine is not surer. [-]
PROVED: Final = 0.0005
#: So many rules are told with what they cost; the dearest come first.
MOST_COSTS: Final = 5


@dataclass(frozen=True, slots=True)
class Card:
    """One candidate, ready to print. ``price`` is None where a model left the catalog."""

    facts: Mapping[str, Any]
    drawing: SafeString
    models: tuple[str, ...]
    price: Decimal | None
    less_kwh: float  # than the first card
    is_proved: bool

    @property
    def strings(self) -> str:
        """Return which panels stand together."""
        rows = self.facts["layout"]["strings"]
        return " | ".join("–".join(map(str, row["panels"])) for row in rows)

    @property
    def costs(self) -> list[Mapping[str, Any]]:
        """Return the rules without which more panels fit, the dearest first."""
        return list(self.facts.get("costs", []))[:MOST_COSTS]

    @property
    def is_blocked(self) -> bool:
        """Return whether something stands against this layout that has to be mended first."""
        return bool(self.facts["verdict"] == "block")

    @property
    def grid(self) -> str:
        """Return the step of the grid among the places that were tried, in either unit."""
        return f"‹{self.facts['grid_m'] * 100:.0f} cm|{self.facts['grid_m'] / 0.0254:.0f} in›"


@dataclass(frozen=True, slots=True)
class LayoutSearchPage:
    """The newest search of a design and what it found."""

    run: LayRun | None
    cards: tuple[Card, ...]
    is_open: bool
    failed: str

    @property
    def is_all_blocked(self) -> bool:
        """Return whether the search is over and every layout it found is blocked."""
        return bool(self.cards) and not self.is_open and all(card.is_blocked for card in self.cards)


def layout_search_page(
    design: Design, shop: Shop, parts: Mapping[int, Part], at: datetime
) -> LayoutSearchPage:
    """Return the state of a design's search for layouts; one query beside what the page has read."""
    run = design.lay_runs.first()
    if run is None:
        return LayoutSearchPage(None, (), is_open=False, failed="")
    failed = run.error if run.state == LayRun.State.FAILED else ""
    if run.state == LayRun.State.RUNNING and at - run.touched_at > STALLED:
        failed = "The search stopped partway. Please start it again."
    found = run.result.get("candidates", [])
    cards = tuple(_card(one, found[0]["mean_kwh"], parts, shop) for one in found)
    return LayoutSearchPage(run, cards, is_open=run.is_open and not failed, failed=failed)


def _card(facts: Mapping[str, Any], most_kwh: float, parts: Mapping[int, Part], shop: Shop) -> Card:
    counts = {int(key): count for key, count in facts["models"].items()}
    return Card(
        facts=facts,
        drawing=mark_safe(facts["drawing"]),  # noqa: S308 - drawn by us from numbers, names escaped
        models=tuple(
            f"{count} × {parts[key].name}" if key in parts else f"{count} × a model no longer in the catalog"
            for key, count in counts.items()
        ),
        price=_price(counts, parts, shop),
        less_kwh=facts["mean_kwh"] - most_kwh,
        is_proved=facts["gap_fraction"] is not None and facts["gap_fraction"] < PROVED,
    )


def _price(counts: Mapping[int, int], parts: Mapping[int, Part], shop: Shop) -> Decimal | None:
    """Return what the panels sell for."""
    if any(key not in parts for key in counts):
        return None
    return sum(
        (part_price(parts[key].cost, shop.markup) * count for key, count in counts.items()), Decimal(0)
    )


def candidate_of(design: Design, run_pk: int, key: str) -> Mapping[str, Any] | None:
    """Return a candidate by its search and name; None when a newer search has replaced it."""
    run = design.lay_runs.filter(pk=run_pk).first()
    found = run.result.get("candidates", []) if run else []
    return next((one for one in found if one["key"] == key), None)
