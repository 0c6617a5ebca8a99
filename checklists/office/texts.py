"""Lists the texts of the steps for the page where a shop writes them in its own words."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from checklists.models import ShopText
from checklists.plan.steps import phases
from checklists.plan.templates import newest_version
from checklists.texts.says import ours
from checklists.texts.sources import sheet_lines, step_texts
from jobs.models import Shop

SAFETY: Final = "safety"
SHEET: Final = "sheet"
_TO_BRACKETS: Final = str.maketrans("‹›", "[]")
_FROM_BRACKETS: Final = re.compile(r"\[([^\[\]|]*\|[^\[\]|]*)\]")


@dataclass(frozen=True, slots=True)
class TextRow:
    """One text: as the list has it, as we say it in the language, as the shop does."""

    source: str
    standard: str
    own: str
    pk: int | None = None  # of the shop's own wording

    @property
    def shown(self) -> str:
        """Return what people read."""
        return self.own or self.standard

    @property
    def key(self) -> str:
        """Return a short name of the text, for a form: pages open the marks in what they print."""
        return key_of(self.source)

    @property
    def typed(self) -> str:
        """Return the text as it is edited: quantities for both kinds of shop in square brackets."""
        return self.shown.translate(_TO_BRACKETS)


def groups() -> list[tuple[str, str]]:
    """Return the groups of texts: key and title, safety first."""
    of_phases = [(each.letter, f"{each.letter} {each.title}") for each in phases(newest_version()).values()]
    return [
        (SAFETY, "Safety lines, and what is alike on every step"),
        *of_phases,
        (SHEET, "Care and warranty"),
    ]


def text_rows(shop: Shop, language: str, group: str, words: str = "") -> list[TextRow]:
    """Return the texts of a group, or of all groups where words are looked for."""
    own = {row.source: row for row in ShopText.objects.of_shop(shop).filter(language=language)}
    rows = [_row(text, language, own.get(text)) for text in _sources(group, words)]
    needle = words.strip().casefold()
    return [row for row in rows if needle in f"{row.source}\n{row.shown}".casefold()]


def _row(text: str, language: str, own: ShopText | None) -> TextRow:
    return TextRow(text, ours(text, language), own.text if own else "", own.pk if own else None)


def own_count(shop: Shop, language: str) -> int:
    """Return how many texts the shop says otherwise."""
    return ShopText.objects.of_shop(shop).filter(language=language).count()


def _sources(group: str, words: str) -> Iterator[str]:
    letter = "" if group == SAFETY else group
    yield from (text for text, own in step_texts(newest_version()) if words.strip() or own == letter)
    if words.strip() or group == SHEET:
        yield from sheet_lines()


def key_of(source: str) -> str:
    """Return the short name of a text."""
    return hashlib.sha256(source.encode()).hexdigest()[:16]


def source_of(key: str) -> str:
    """Return the text with a short name; empty where there is none."""
    return next((text for text in _sources(SHEET, "every") if key_of(text) == key), "")


def as_stored(typed: str) -> str:
    """Return a text as it is stored, its quantities in their marks."""
    return _FROM_BRACKETS.sub(r"‹\1›", typed)
