"""The names options are offered under, and a line each on what it is for: the shop's own, else ours."""

from __future__ import annotations

from typing import Final

from jobs.models import Design, Shop

#: Ours to begin with; a shop sets its own.
STARTING: Final[dict[str, tuple[str, str]]] = {
    Design.Option.LANTERN: ("Lantern", "Lights, fans, water pump and phones, with little else to change."),
    Design.Option.HEARTH: (
        "Hearth",
        "Fridge, internet and television besides, away from hook-up.",
    ),
    Design.Option.HARBOUR: ("Harbor", "Household power: cooking, and some cooling, without a hook-up."),
    Design.Option.OWN: ("Our plan for you", ""),
}


def option_words(shop: Shop, option: str) -> tuple[str, str]:
    """Return an option's name and what it is for, as this shop says it."""
    own = shop.option_texts.get(str(option), {})
    name, purpose = STARTING[option]
    return own.get("name") or name, own.get("purpose") or purpose
