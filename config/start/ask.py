"""Asks at the terminal for the first shop and its owner, or takes the answers from options."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, field, fields
from typing import Any, NamedTuple

from jobs.models import RuleSetChoice, Shop
from jobs.shop.found import NewOwner


class Asked(NamedTuple):
    """One question: its option, its words, what stands without an answer."""

    option: str
    words: str
    usual: str


def _asked(words: str, usual: str = "") -> Any:
    return field(metadata={"words": words, "usual": usual})


@dataclass(frozen=True, kw_only=True)
class ShopAnswers:
    """What an installation must know before anybody can sign in."""

    shop_name: str = _asked("name of the shop")
    units: str = _asked(f"units: {' or '.join(Shop.Units.values)}", "imperial")
    paper: str = _asked(f"paper: {' or '.join(Shop.Paper.values)}", "letter")
    currency: str = _asked("currency, as in ISO 4217", "USD")
    time_zone: str = _asked("time zone, as in Area/City", "America/Denver")
    rule_set: str = _asked(f"wire and fuse rules: {', '.join(RuleSetChoice.values)}", "marine_105c")
    owner_first: str = _asked("first name of the owner")
    owner_last: str = _asked("last name of the owner")
    owner_email: str = _asked("e-mail of the owner, who signs in with it")
    owner_password: str = _asked("password of the owner")

    @classmethod
    def fields(cls) -> list[Asked]:
        """Return the questions in order."""
        return [_question(each) for each in fields(cls)]

    def shop(self) -> Shop:
        """Return the shop, not stored."""
        return Shop(
            name=self.shop_name,
            units=self.units,
            paper=self.paper,
            currency=self.currency,
            time_zone=self.time_zone,
            rule_set=self.rule_set,
        )

    def owner(self) -> NewOwner:
        """Return the owner."""
        return NewOwner(
            first_name=self.owner_first,
            last_name=self.owner_last,
            email=self.owner_email,
            password=self.owner_password,
        )


def _question(each: Field[Any]) -> Asked:
    return Asked(each.name.replace("_", "-"), each.metadata["words"], each.metadata["usual"])


def ask(
    options: Mapping[str, Any],
    is_terminal: bool,
    read: Callable[[str], str],
    read_hidden: Callable[[str], str],
) -> ShopAnswers | None:
    """Return the answers; None where one is missing that nobody can be asked for."""
    found: dict[str, str] = {}
    for question in ShopAnswers.fields():
        name = question.option.replace("-", "_")
        given = options.get(name) or ""
        if not given and is_terminal:
            reader = read_hidden if "password" in name else read
            given = _until_said(question, reader)
        found[name] = given or question.usual
    return ShopAnswers(**found) if all(found.values()) else None


def _until_said(question: Asked, read: Callable[[str], str]) -> str:
    """Ask until there is an answer, or a usual one to fall back on."""
    hint = f" [{question.usual}]" if question.usual else ""
    while not (said := read(f"{question.words.capitalize()}{hint}: ").strip()):
        if question.usual:
            return question.usual
    return said
