"""Says a run of a template's text in the language of the page; ``runs.py`` beside it puts the tag there.

In English, and where a translation is missing or does not fit, the template's own text is printed.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from django import template
from django.conf import settings
from django.template import Context, Node, NodeList
from django.template.base import Lexer, Origin, Parser, TextNode, Token, TokenType
from django.template.loaders import filesystem
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext

from config.language.runs import marked

register = template.Library()

_PLACE: Final = re.compile(r"\{(\w+)\}")
_SPACES: Final = re.compile(r"[ \t\r\n\f]+")
_TAGS: Final = re.compile(r"</?\w+[^>]*>")
_SOURCE: Final = settings.LANGUAGE_CODE
_SAID_IN: Final = "said in"  # asked once a template: to ask the thread for each run takes longer than the run


class Loader(filesystem.Loader):
    """Reads our own templates, every text ready to be translated; those of packages stay as they are."""

    def get_contents(self, origin: Origin) -> str:
        """Return the source of a template; raise TemplateDoesNotExist."""
        return prepared(super().get_contents(origin), origin.name)


def prepared(source: str, name: str) -> str:
    """Return a template's source with its texts marked; a script is no text."""
    kind = Path(name).suffix
    return marked(source, html=kind == ".html") if kind in {".html", ".txt"} else source


def sayings(source: str) -> Iterator[str]:
    """Yield the messages of a prepared source, as they stand in the catalog."""
    run: list[tuple[bool, str]] | None = None
    for token in Lexer(source).tokenize():
        is_block = token.token_type == TokenType.BLOCK
        if is_block and token.contents.split()[0] == "said":
            run = []
        elif is_block and token.contents == "endsaid" and run is not None:
            yield message_of(run)[0]
            run = None
        elif run is not None:
            run.append((token.token_type == TokenType.TEXT, token.contents))


def message_of(parts: Sequence[tuple[bool, str]]) -> tuple[str, list[str]]:
    """Return a run's message and the names of its values; a part is text, or a value's expression."""
    names: dict[str, str] = {}
    out = []
    for is_text, what in parts:
        if is_text:
            out.append(_SPACES.sub(" ", what))
        else:
            if what not in names:
                names[what] = _unused(_name(what), set(names.values()))
            out.append(f"{{{names[what]}}}")
    return "".join(out), [names[what] for is_text, what in parts if not is_text]


def _name(expression: str) -> str:
    """Return the last word of a value's expression: ``job.vehicle|lower`` is "vehicle"."""
    bits = expression.split()
    is_tag = len(bits) > 1 and not re.search(r"[|\"']", bits[0])
    path = (bits[1] if is_tag else expression).partition("|")[0]
    words = [part for part in re.findall(r"\w+", path) if not part.isdigit()]
    return words[-1].removeprefix("get_").removesuffix("_display") if words else "value"


def _unused(name: str, used: set[str]) -> str:
    return next(one for one in (name, *(f"{name}_{n}" for n in range(2, 100))) if one not in used)


@functools.lru_cache(maxsize=8192)
def fitted(message: str, said: str) -> tuple[str, ...] | None:
    """Return a translation as text, name, text, name …, or None where it does not fit its message."""
    parts = tuple(_PLACE.split(said))
    ours = _PLACE.split(message)
    fits = (
        set(parts[1::2]) == set(ours[1::2])
        and _braces(parts) == _braces(ours)
        and sorted(_TAGS.findall(said)) == sorted(_TAGS.findall(message))
    )
    return parts if fits else None


def _braces(parts: Sequence[str]) -> tuple[int, int]:
    text = "".join(parts[::2])
    return text.count("{"), text.count("}")


class Said(Node):
    """A run of text: as it stands, or as the language of the page says it."""

    def __init__(self, nodelist: NodeList, *, in_attribute: bool) -> None:
        self.nodelist = nodelist
        self.in_attribute = in_attribute
        self.message, names = message_of(
            [(isinstance(node, TextNode), _expression(node)) for node in nodelist]
        )
        values = [node for node in nodelist if not isinstance(node, TextNode)]
        self.values = dict(zip(names, values, strict=True))
        self.plain = None if values else "".join(_expression(node) for node in nodelist)

    def render(self, context: Context) -> SafeString:
        """Return the run; English byte by byte as the template has it."""
        return mark_safe(self.render_annotated(context))  # noqa: S308 - the template's own, values escaped

    def render_annotated(self, context: Context) -> str:
        """Return the run, by the shortest way: a page has hundreds. Faults are told by the nodes inside."""
        around = context.render_context.dicts[-1]  # of this template: {% language %} turns those it includes
        if (around.get(_SAID_IN) or around.setdefault(_SAID_IN, get_language())) != _SOURCE:
            parts = self._translated()
            if parts is not None:
                return self._filled(parts, context)
        if self.plain is not None:
            return self.plain
        return "".join([str(node.render_annotated(context)) for node in self.nodelist])

    def _translated(self) -> tuple[str, ...] | None:
        said = gettext(self.message)
        return None if said == self.message else fitted(self.message, said)

    def _filled(self, parts: tuple[str, ...], context: Context) -> str:
        texts = [text.replace('"', "&quot;") for text in parts[::2]] if self.in_attribute else parts[::2]
        values = [str(self.values[name].render_annotated(context)) for name in parts[1::2]]
        return "".join(piece for pair in zip(texts, [*values, ""], strict=True) for piece in pair)


def _expression(node: Any) -> str:
    """Return what a node stands for in the source."""
    return node.s if isinstance(node, TextNode) else node.token.contents


@register.tag
def said(parser: Parser, token: Token) -> Said:
    """Compile a run: ``{% said %}Due back {{ day }}{% endsaid %}``; with ``attr`` inside an attribute."""
    nodelist = parser.parse(("endsaid",))
    parser.delete_first_token()
    return Said(nodelist, in_attribute="attr" in token.split_contents())
