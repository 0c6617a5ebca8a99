"""Finds the texts of a template by itself, as engines do that translate whole runs of text: no mark needed.

A run is text with its ``{{ values }}`` between two HTML tags or two block tags; it is put between
``{% said %}`` and ``{% endsaid %}`` before the template is compiled. Nothing else is changed: without a
translation every byte is as it was.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from django.template.base import tag_re

#: Attributes whose text people see or hear.
READ: Final = frozenset(
    {
        *("alt", "title", "label", "placeholder", "data-label", "data-confirm"),
        *("aria-label", "aria-description", "aria-roledescription", "aria-valuetext"),
    }
)
#: Tags that print one value: they are parts of a sentence as ``{{ }}`` is.
VALUES: Final = frozenset({"qty", "measure", "measure_term", "numbers_of", "say", "say_all", "open_item"})
#: Blocks that stand inside an HTML tag of the page around them: names of classes, attributes.
MACHINE_BLOCKS: Final = frozenset({"body_class", "body_attributes"})
#: Words given to a part of a page (``{% include … with words="Save" %}``) whose name says that they are read.
_READ_NAMES: Final = frozenset(
    {"words", "what", "label", "add", "caption", "sentence", "submit", "none", "accept_words"}
)
_READ_FILTERS: Final = "default|default_if_none|yesno"
_UNITS: Final = frozenset(
    {
        "Wh",
        "kWh",
        "W",
        "kW",
        "A",
        "V",
        "h",
        "Ah",
        "kg",
        "m",
        "mm",
        "ft",
        "in",
        "lb",
        "lbf",
        "N",
        "Hz",
        "mA",
        "mV",
    }
)
_LEFT_ALONE: Final = {
    "blocktranslate": "endblocktranslate",
    "blocktrans": "endblocktrans",
    "comment": "endcomment",
    "verbatim": "endverbatim",
    "said": "endsaid",
}
_RAW: Final = frozenset({"script", "style", "textarea"})
_INLINE: Final = re.compile(r"<(/?)(strong|em|b|i|small|code|sub|sup)>|<br ?/?>")
_TAG: Final = re.compile(r"</?([A-Za-z][\w:-]*)|<!--|<![A-Za-z]|</?$")
_IN_TAG: Final = re.compile(r">|(?:([\w:.-]+)\s*=\s*)?([\"'])")
_WORD: Final = re.compile(r"&#?\w+;|[^\W\d_]+(?:['’-][^\W\d_]+)*")
_LITERAL: Final = re.compile(r"(?<![(\w])(?:\"([^\"\\%]*)\"|'([^'\\%]*)')")
_FILTER: Final = re.compile(rf"\|({_READ_FILTERS}):(\"[^\"\\%]*\"|'[^'\\%]*')")
_NAMED: Final = re.compile(r"(\w+)=(\"[^\"\\%]*\"|'[^'\\%]*')(?=\s|$)")

type Kind = Literal["words", "value", "open", "close", "break", "edge"]


@dataclass(frozen=True)
class Atom:
    """A piece of a template's source: text people read, a value, an inline tag, or an edge between runs."""

    kind: Kind
    text: str
    in_attribute: bool = False


@dataclass
class Reader:
    """Walks through the HTML of a template, whatever block tags stand between, and yields its atoms."""

    where: str = "text"  # text, tag, value, comment, raw
    name: str = ""  # of the attribute, or of the raw element
    quote: str = ""
    element: str = ""
    html: bool = True
    _until: list[str] = field(default_factory=list)

    def atoms(self, source: str) -> Iterator[Atom]:
        """Yield the atoms of a template; together they are its source."""
        for number, piece in enumerate(tag_re.split(source)):
            if not piece:
                continue
            if number % 2:
                yield self._of_token(piece)
            elif self._until:
                yield Atom("edge", piece)
            elif not self.html:
                yield from (_line(each) for each in re.split(r"(\n+)", piece) if each)
            else:
                yield from self._of_html(piece)

    @property
    def is_read(self) -> bool:
        """Return whether people read what stands here."""
        return not self._until and (self.where == "text" or (self.where == "value" and self.name in READ))

    def _of_token(self, token: str) -> Atom:
        """Return a Django token as an atom, what is literal in it marked."""
        if token.startswith("{#"):
            return Atom("edge", token)
        bits = token[2:-2].split()
        if token.startswith("{%"):
            return self._of_block(token, bits)
        read = self.is_read
        text = _marked_filters(token) if read else token
        return Atom("value" if read else "edge", text, self.where == "value")

    def _of_block(self, token: str, bits: list[str]) -> Atom:
        name = bits[0] if bits else ""
        if self._until:
            self._follow(name)
        elif name in _LEFT_ALONE or (name == "block" and bits[1] in MACHINE_BLOCKS):
            self._until.append(_LEFT_ALONE.get(name, "endblock"))
        elif name in VALUES and self.is_read and "as" not in bits:
            return Atom("value", token, self.where == "value")
        elif name in {"include", "with"}:
            return Atom("edge", _marked_names(token))
        elif name == "firstof":
            return Atom("edge", _LITERAL.sub(_marked_if_words, token))
        return Atom("edge", token)

    def _follow(self, name: str) -> None:
        """Know where that ends which is left alone, blocks inside of it counted."""
        if name == self._until[-1]:
            self._until.pop()
        elif name == "block" and self._until[-1] == "endblock":
            self._until.append("endblock")

    def _of_html(self, piece: str) -> Iterator[Atom]:
        at = 0
        while at < len(piece):
            step: Callable[[str, int], tuple[Atom | None, int]] = getattr(self, f"_in_{self.where}")
            atom, at = step(piece, at)
            if atom is not None and atom.text:
                yield atom

    def _in_text(self, piece: str, at: int) -> tuple[Atom | None, int]:
        found = _TAG.search(piece, at)
        if found is None:
            return Atom("words", piece[at:]), len(piece)
        if found.start() > at:
            return Atom("words", piece[at : found.start()]), found.start()
        inline = _INLINE.match(piece, at)
        if inline:
            kind: Kind = "break" if inline[2] is None else "close" if inline[1] else "open"
            return Atom(kind, inline[0]), inline.end()
        self.where, self.element = (
            ("comment", "") if found[0] == "<!--" else ("tag", (found[1] or "").lower())
        )
        if found[0].startswith("</"):
            self.element = ""
        return Atom("edge", found[0]), found.end()

    def _in_tag(self, piece: str, at: int) -> tuple[Atom | None, int]:
        found = _IN_TAG.search(piece, at)
        if found is None:
            return Atom("edge", piece[at:]), len(piece)
        if found[0] == ">":
            self.where, self.name = ("raw", self.element) if self.element in _RAW else ("text", "")
        else:
            self.where, self.name, self.quote = "value", found[1] or "", found[2]
        return Atom("edge", piece[at : found.end()]), found.end()

    def _in_value(self, piece: str, at: int) -> tuple[Atom | None, int]:
        end = piece.find(self.quote, at)
        kind: Kind = "words" if self.name in READ else "edge"
        if end > at or end < 0:
            stop = end if end >= 0 else len(piece)
            return Atom(kind, piece[at:stop], True), stop
        self.where = "tag"
        return Atom("edge", self.quote), end + 1

    def _in_comment(self, piece: str, at: int) -> tuple[Atom | None, int]:
        return self._skip(piece, at, "-->")

    def _in_raw(self, piece: str, at: int) -> tuple[Atom | None, int]:
        return self._skip(piece, at, f"</{self.name}>")

    def _skip(self, piece: str, at: int, end: str) -> tuple[Atom | None, int]:
        stop = piece.find(end, at)
        if stop < 0:
            return Atom("edge", piece[at:]), len(piece)
        self.where = "text"
        return Atom("edge", piece[at : stop + len(end)]), stop + len(end)


def _line(text: str) -> Atom:
    """Return a piece of a mail: each line is a run of its own."""
    return Atom("edge" if text.startswith("\n") else "words", text)


def has_words(text: str) -> bool:
    """Return whether a text holds a word to translate: a unit or a character reference is none."""
    return any(not word.startswith("&") and word not in _UNITS for word in _WORD.findall(text))


def _as_read(literal: str) -> str:
    return f"_({literal})" if has_words(literal[1:-1]) else literal


def _marked_filters(token: str) -> str:
    return _FILTER.sub(lambda found: f"|{found[1]}:{_as_read(found[2])}", token)


def _marked_names(token: str) -> str:
    def marked(found: re.Match[str]) -> str:
        words = found[2][1:-1]
        is_read = found[1] in _READ_NAMES or " " in words.strip() or words[:1].isupper()
        return f"{found[1]}={_as_read(found[2])}" if is_read else found[0]

    return _NAMED.sub(marked, token)


def _marked_if_words(found: re.Match[str]) -> str:
    return _as_read(found[0])


def marked(source: str, *, html: bool = True) -> str:
    """Return a template's source with every run of text between ``{% said %}`` and ``{% endsaid %}``."""
    out: list[str] = []
    run: list[Atom] = []
    for atom in Reader(html=html).atoms(source):
        if atom.kind != "edge":
            run.append(atom)
            continue
        out += [*_wrapped(run), atom.text]
        run = []
    return "".join([*out, *_wrapped(run)])


def _wrapped(run: list[Atom]) -> Iterator[str]:
    """Yield the source of a run; an inline tag without its other half ends the run."""
    matched = _matched(run)
    part: list[Atom] = []
    for number, atom in enumerate(run):
        if atom.kind in {"open", "close"} and number not in matched:
            yield _said(part)
            yield atom.text
            part = []
        else:
            part.append(atom)
    yield _said(part)


def _matched(run: Iterable[Atom]) -> dict[int, int]:
    """Return the places of inline tags that open and close inside the run, each with its other half."""
    open_at: list[int] = []
    found: dict[int, int] = {}
    for number, atom in enumerate(run):
        if atom.kind == "open":
            open_at.append(number)
        elif atom.kind == "close" and open_at:
            other = open_at.pop()
            found |= {other: number, number: other}
    return found


def _said(part: list[Atom]) -> str:
    """Return a run as source: white space, breaks and tags around the whole of it stay outside."""
    text = "".join(atom.text for atom in part)
    if not has_words("".join(atom.text if atom.kind == "words" else " " for atom in part)):
        return text
    first, last = _core(part)
    before, after = _text(part[:first]), _text(part[last:])
    core = _text(part[first:last])
    start, end = len(core) - len(core.lstrip()), len(core.rstrip())
    tag = "said attr" if part[0].in_attribute else "said"
    return f"{before}{core[:start]}{{% {tag} %}}{core[start:end]}{{% endsaid %}}{core[end:]}{after}"


def _text(part: list[Atom]) -> str:
    return "".join(atom.text for atom in part)


def _core(part: list[Atom]) -> tuple[int, int]:
    """Return where the sentence itself begins and ends."""
    matched = _matched(part)
    first, last = 0, len(part)
    while True:
        if _is_blank(part[first]):
            first += 1
        elif _is_blank(part[last - 1]):
            last -= 1
        elif part[first].kind == "open" and matched.get(first) == last - 1:
            first, last = first + 1, last - 1
        else:
            return first, last


def _is_blank(atom: Atom) -> bool:
    return atom.kind == "break" or (atom.kind == "words" and not atom.text.strip())
