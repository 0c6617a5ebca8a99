"""Says a text of the steps, or a sentence of the rules, as this shop says it in the language that is on."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Final

from django.conf import settings
from django.utils import translation

from checklists.models import ShopText
from checklists.plan.templates import newest_version, versions
from checklists.texts.sentences import SENTENCES, spoken
from checklists.texts.sources import sheet_lines, step_texts
from common.told import told
from jobs.models import Shop

SOURCE: Final = settings.LANGUAGE_CODE
LANGUAGES: Final = tuple(code for code, _ in settings.LANGUAGES)
type Say = Callable[[str], str]


def ours(text: str, language: str) -> str:
    """Return a text as we say it in a language."""
    if language == SOURCE or not text:
        return text
    with translation.override(language):
        return translation.gettext(text)


def own_texts(shop: Shop | None, language: str) -> Mapping[str, str]:
    """Return what a shop says otherwise, by our text; read once a request."""
    if shop is None:
        return {}
    kept: dict[str, dict[str, str]] = shop.__dict__.setdefault("_own_texts", {})
    if language not in kept:
        rows = ShopText.objects.of_shop(shop).filter(language=language)
        kept[language] = {row.source: row.text for row in rows}
    return kept[language]


def says(shop: Shop | None, language: str = "") -> Say:
    """Return how this shop says texts in a language, by default the one that is on."""
    name = language or translation.get_language() or SOURCE
    name = name if name in LANGUAGES else SOURCE
    own = own_texts(shop, name)
    if name == SOURCE and not own:
        return lambda text: text
    known = _known()

    def said(text: str) -> str:
        return own.get(text) or (ours(text, name) if text in known else text)

    open_texts = tuple(text for text in known if "{" in text and text not in SENTENCES)

    def spoken_or_told(text: str) -> str:
        words = spoken(text, said, open_texts)
        return words if words != text else told(text, name)

    return spoken_or_told


@functools.cache
def _known() -> frozenset[str]:
    """Return every text that may be said otherwise: what a person typed never is."""
    steps = [text for version in versions() for text, _ in step_texts(version)]
    return frozenset((*steps, *sheet_lines(), *SENTENCES))


def says_of_job(shop: Shop, version: str) -> dict[str, dict[str, str]]:
    """Return what a tablet needs to say the texts of a job: language → our text → what is shown."""
    every = [text for text, _ in step_texts(version)] + list(sheet_lines())
    found: dict[str, dict[str, str]] = {}
    for language in LANGUAGES:
        own = own_texts(shop, language)
        shown = {text: own.get(text) or ours(text, language) for text in every}
        found[language] = {text: said for text, said in shown.items() if said != text}
    return found


def is_ours(text: str) -> bool:
    """Return whether a text is one of the newest steps or of the sheet."""
    return any(text == each for each, _ in step_texts(newest_version())) or text in sheet_lines()
