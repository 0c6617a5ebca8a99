"""Says English sentences in the language that is on, at the edge: whole, by their form, or piece by piece.

The engine and the services write English and store it; nothing is decided by what is said here. A sentence
made of parts (``f"{name} carries {amps} A"`` in the code) stands in the catalog as its form, ``{name} carries
{amps} A``. A sentence is looked up whole; else the form counts that fits it with the most letters of its own,
and its parts are said again. What nobody translated stays English.
"""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from babel.messages.mofile import read_mo
from django.conf import settings
from django.utils import translation
from django.utils.functional import lazy
from django.utils.safestring import SafeString, mark_safe

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

#: A text, or one that is said whenever it is printed.
type Words = _StrOrPromise

_PART: Final = re.compile(r"\{(\w+)\}")
_WORD: Final = re.compile(r"\w+")
_LETTERS: Final = re.compile(r"[^\W\d_]{2,}")
#: Stands for a part while the words beside it are found: a letter, so that “{n}th” is no word “th”.
_GAP: Final = "ʘ"
#: With fewer letters of its own, as “{a} to {b}”, a form would fit half of all sentences: only figures then.
_LEAST: Final = 5
_FIGURE: Final = re.compile(r"[-−+‹]?\d")
#: Where a text that fits no form is cut, never inside a quantity ‹309 N|69 lbf›.
_CUTS: Final = tuple(re.compile(rf"({re.escape(cut)})(?![^‹]*›)") for cut in ("\n", ". ", "; ", " · ", ": "))
_DEEPEST: Final = 8


@dataclass(frozen=True, slots=True)
class _Form:
    """A sentence with parts: how it is written, how it is said, the words it cannot be without."""

    text: str
    said: str
    words: frozenset[str]
    own: int

    def parts(self, sentence: str) -> dict[str, str] | None:
        """Return the parts of a sentence of this form, or None."""
        found = _pattern(self.text).fullmatch(sentence)
        parts = None if found is None else found.groupdict()
        is_loose = self.own < _LEAST and parts is not None and not all(map(_FIGURE.match, parts.values()))
        return None if is_loose else parts


@functools.cache
def _pattern(text: str) -> re.Pattern[str]:
    """Return what finds a form; a name that comes twice holds the same words twice."""
    seen: set[str] = set()
    out = []
    for number, piece in enumerate(_PART.split(text)):
        if number % 2 == 0:
            out.append(re.escape(piece))
        else:
            out.append(f"(?P={piece})" if piece in seen else f"(?P<{piece}>.*?)")
            seen.add(piece)
    return re.compile("".join(out), re.DOTALL)


class Teller:
    """Says sentences as one catalog has them."""

    def __init__(self, said: Mapping[str, str]) -> None:
        self.whole = {text: words for text, words in said.items() if words}
        forms = [_form(text, words) for text, words in self.whole.items() if _is_form(text, words)]
        self._forms = sorted((one for one in forms if one.words), key=lambda one: -one.own)
        rarity = Counter(word for one in self._forms for word in one.words)
        self._by_word: dict[str, list[int]] = {}
        for number, one in enumerate(self._forms):
            rarest = min(one.words, key=lambda word: (rarity[word], -len(word)))
            self._by_word.setdefault(rarest, []).append(number)

    def tell(self, sentence: str, depth: int = 0) -> str:
        """Return a sentence as it is said; English where it is not known."""
        if depth > _DEEPEST or not _LETTERS.search(sentence):
            return sentence
        return self._known(sentence) or self._formed(sentence, depth) or self._in_pieces(sentence, depth)

    def knows(self, sentence: str) -> bool:
        """Return whether a sentence is in the catalog, whole or by its form."""
        return bool(self._known(sentence) or self._formed(sentence, 0))

    def _known(self, sentence: str) -> str:
        """Return what is said for the whole, also where it begins with the other size of letter."""
        found = self.whole.get(sentence)
        if found:
            return found
        first, rest = sentence[:1], sentence[1:]
        if first.islower():
            found = self.whole.get(first.upper() + rest)
            return found[:1].lower() + found[1:] if found else ""
        found = self.whole.get(first.lower() + rest)
        return found[:1].upper() + found[1:] if found else ""

    def _formed(self, sentence: str, depth: int) -> str:
        words = frozenset(_WORD.findall(sentence))
        numbers = sorted(number for word in words for number in self._by_word.get(word, ()))
        for number in numbers:
            form = self._forms[number]
            if form.words <= words and (parts := form.parts(sentence)) is not None:
                told = {name: self._part(part, depth) for name, part in parts.items()}
                return _PART.sub(lambda found, told=told: told[found[1]], form.said)  # type: ignore[misc]
        return ""

    def _known_start(self, pieces: list[str]) -> int:
        """Return the place of the cut after the longest beginning that is known, else of the first."""
        places = range(len(pieces) - 2, 0, -2)
        return next((at for at in places if self.knows("".join(pieces[:at]))), 1)

    def _part(self, part: str, depth: int) -> str:
        """Return a part as it is said, with the spaces at its ends."""
        bare = part.strip()
        return part.replace(bare, self.tell(bare, depth + 1), 1) if bare else part

    def _in_pieces(self, sentence: str, depth: int) -> str:
        for cut in _CUTS:
            pieces = cut.split(sentence)
            if len(pieces) > 1:
                at = self._known_start(pieces)
                start, rest = "".join(pieces[:at]), "".join(pieces[at + 1 :])
                return self._part(start, depth) + pieces[at] + self._part(rest, depth)
        ends = sentence[-1:] in ".;:,!?"
        return self.tell(sentence[:-1], depth + 1) + sentence[-1] if ends else sentence


def _is_form(text: str, words: str) -> bool:
    """Return whether a text has parts, and what is said for it the same ones."""
    return (
        bool(_PART.search(text)) and "<" not in text and set(_PART.findall(text)) == set(_PART.findall(words))
    )


def _form(text: str, said: str) -> _Form:
    bare = _PART.sub(_GAP, text)
    words = frozenset(word for word in _WORD.findall(bare) if _GAP not in word)
    return _Form(text, said, words, sum(letter.isalpha() and letter != _GAP for letter in bare))


@functools.cache
def _teller(language: str) -> Teller:
    """Return who speaks a language."""
    said: dict[str, str] = {}
    for folder in settings.LOCALE_PATHS:
        path = Path(folder) / translation.to_locale(language) / "LC_MESSAGES" / "django.mo"
        if path.exists():
            with path.open("rb") as file:
                said |= dict(_pairs(read_mo(file)))
    return Teller(said)


def _pairs(catalog: Iterable[Any]) -> Iterable[tuple[str, str]]:
    """Yield English and translation, of a plural both forms."""
    for each in catalog:
        if each.id and not each.context:
            ids, said = ((each.id,), (each.string,)) if isinstance(each.id, str) else (each.id, each.string)
            yield from zip(ids, said, strict=False)


@functools.lru_cache(maxsize=8192)
def _tell(language: str, sentence: str) -> str:
    return _teller(language).tell(sentence)


def told(sentence: object, language: str = "") -> str:
    """Return a sentence of ours in a language, by default the one that is on; English and markup stay."""
    text = str(sentence)
    language = language or translation.get_language() or settings.LANGUAGE_CODE
    if language == settings.LANGUAGE_CODE or language not in dict(settings.LANGUAGES):
        return text
    if not isinstance(sentence, SafeString):
        return _tell(language, text)
    return sentence if "<" in text else mark_safe(_tell(language, text))  # noqa: S308  (was safe before)


def _joined(*sentences: Words) -> str:
    return " ".join(told(each) for each in sentences if each)


_later: Final[Callable[..., Words]] = lazy(_joined, str)


def told_later(sentence: str) -> Words:
    """Return a sentence that is said whenever it is printed, as ``gettext_lazy`` does."""
    return _later(sentence)


def told_parts(*sentences: Words) -> Words:
    """Return sentences after one another, each said whenever they are printed; empty ones are left out."""
    return _later(*sentences)


def in_english[**Given, Result](does: Callable[Given, Result]) -> Callable[Given, Result]:
    """Let a service work in English, whoever asks: what it stores, logs and mails reads the same to all."""

    @functools.wraps(does)
    def working(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        with translation.override(settings.LANGUAGE_CODE):
            return does(*args, **kwargs)

    working.__dict__["in_english"] = True
    return working
