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
_MARK: Final = re.compile(r"‹([^‹|›]*)\|([^‹|›]*)›")
_BRACKET: Final = re.compile(r"\[([^\[\]]*)\]")
_SIDES: Final[dict[str, int]] = {Shop.Units.METRIC: 1, Shop.Units.IMPERIAL: 2}


@dataclass(frozen=True, slots=True)
class TextRow:
    """One text: as the list has it, as we say it in the language, as the shop does."""

    source: str
    standard: str
    own: str
    units: str
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
        """Return the text as it is edited: quantities, in the shop's units, in square brackets."""
        return _MARK.sub(lambda found: f"[{found[_SIDES[self.units]]}]", self.shown)


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
    rows = [_row(text, language, own.get(text), shop.units) for text in _sources(group, words)]
    needle = words.strip().casefold()
    return [row for row in rows if needle in f"{row.source}\n{row.shown}".casefold()]


def _row(text: str, language: str, own: ShopText | None, units: str) -> TextRow:
    words, pk = (own.text, own.pk) if own else ("", None)
    return TextRow(text, ours(text, language), words, units, pk)


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


def as_stored(typed: str, source: str, language: str, units: str) -> str:
    """Return a text as it is stored: a quantity in brackets is the pair of ours it shows a side of."""
    pairs = {found[_SIDES[units]]: found[0] for found in _MARK.finditer(ours(source, language))}
    return _BRACKET.sub(lambda found: pairs.get(found[1], found[0]), typed)
