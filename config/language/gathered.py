"""Gathers sentences and labels the code makes outside of ``gettext``: the engine's, and those of f-strings.

They are said at the edge (``common.told``): here only their English is found, as forms ``{name} carries
{amps} A``. A little too much is gathered rather than too little; what nobody translates stays English.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from django.forms import BaseForm

import checklists.forms
import jobs.forms
import sizing

#: Where nothing is shown to people who use the pages.
_ELSEWHERE: Final = re.compile(
    r"/(migrations|management|guard|deploy|kernels|tables/data|cli|templatetags/modules)/|/cli\.py$"
)
#: Arguments that never hold words for people: what is cited, what is asked of the database, names of things.
_NOT_SAID: Final = frozenset({
    "source", "name", "related_name", "to", "field", "fields", "key", "rule", "code", "template", "unit",
    "prefix", "slug", "sku", "format", "formula", "symbol", "condition", "on_delete", "model", "attrs",
    "content_type",
})  # fmt: skip
#: Calls whose words are for developers.
_DEVELOPERS: Final = frozenset({
    "TypeError", "RuntimeError", "AssertionError", "KeyError", "AttributeError", "NotImplementedError",
    "getattr", "debug", "info", "warn", "compile", "path", "reverse", "filter", "values_list", "TypeVar",
    "cast", "open", "split", "startswith", "endswith", "removeprefix", "removesuffix", "strip", "register",
    "get", "pop", "setdefault",
})  # fmt: skip
_WORDS: Final = re.compile(r"[^\W\d_]{2,}")
_LABEL: Final = re.compile(r"[A-Z][a-z]{2,}(?: \([^()]*\))?$")
_PHRASE: Final = re.compile(r"[a-z][\w’'%-]*(?:[ ,][ \w’'%,“”()+/.;:–-]+)+$")
_CODE: Final = re.compile(
    r"[<>=\\$@#_]|https?:|^[./]|\b(SELECT|PRAGMA|None)\b|^[a-z]+(-[a-z0-9]+)+( [a-z]+(-[a-z0-9]+)*)*$"
    r"|\b(btn|form|col|nav|mb|mt|me|ms|text|visually)-"
)
_UNUSABLE: Final = re.compile(r"[{}\x00]")


def gathered(path: Path, root: Path) -> Iterator[str]:
    """Yield the sentences and labels of a file of the code."""
    if _ELSEWHERE.search("/" + path.relative_to(root).as_posix()):
        return
    columns = path.parent.name == "models"  # help texts of columns are for developers: see words_of_forms
    yield from _Reader(frozenset({"help_text"}) if columns else frozenset()).read(
        ast.parse(path.read_text(encoding="utf-8"))
    )


def words_of_the_engine() -> Iterator[str]:
    """Yield the words that the engine makes of its ids: verdicts, and how well limits are known."""
    for kind in (sizing.Verdict, sizing.Provenance):
        yield from (one.label for one in kind)


def words_of_forms() -> Iterator[str]:
    """Yield the words that Django makes of columns: labels and help texts that stand in no form's code."""
    for form in forms():
        for field in vars(form)["base_fields"].values():
            yield from (words for words in (field.label, field.help_text) if type(words) is str and words)


def forms() -> Iterator[type[BaseForm]]:
    """Yield every class of a form of ours, in a fixed order."""
    for package in (jobs.forms, checklists.forms):
        for found in sorted(
            each.name for each in pkgutil.iter_modules(package.__path__, f"{package.__name__}.")
        ):
            module = importlib.import_module(found)
            own = (
                each for each in vars(module).values() if inspect.isclass(each) and each.__module__ == found
            )
            yield from (each for each in own if issubclass(each, BaseForm) and "base_fields" in vars(each))


class _Reader:
    """Walks a file; a text found inside a larger one is not told again."""

    def __init__(self, left_out: frozenset[str]) -> None:
        self.left_out = _NOT_SAID | left_out

    def read(self, node: ast.AST) -> Iterator[str]:
        """Yield what a part of the file says."""
        if isinstance(node, ast.Constant | ast.JoinedStr | ast.BinOp) and (form := form_of(node)) is not None:
            yield from [form] if is_said(form) else []
            yield from (said for inside in _inside(node) for said in self.read(inside))
            return
        for child in _children(node, self.left_out):
            yield from self.read(child)


def _children(node: ast.AST, left_out: frozenset[str]) -> Iterator[ast.AST]:
    """Yield what may hold words: no docstring, no annotation, no key, no developers' words."""
    if isinstance(node, ast.Call):
        if _called(node) in _DEVELOPERS:
            return
        yield node.func
        yield from node.args
        yield from (one.value for one in node.keywords if one.arg not in left_out)
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    elif isinstance(node, ast.Dict):
        yield from (key for key in node.keys if key is not None and not isinstance(key, ast.Constant))
        yield from node.values
    elif isinstance(node, ast.Subscript):
        yield node.value
    elif isinstance(node, ast.AnnAssign):
        yield from [node.value] if node.value is not None else []
    elif isinstance(node, ast.FunctionDef):
        yield from (one for one in (*node.args.defaults, *node.args.kw_defaults) if one is not None)
        yield from node.body
    else:
        yield from ast.iter_child_nodes(node)


def _called(node: ast.Call) -> str:
    func = node.func
    return func.attr if isinstance(func, ast.Attribute) else func.id if isinstance(func, ast.Name) else ""


def _inside(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the expressions in the gaps of a text."""
    if isinstance(node, ast.JoinedStr):
        yield from (one.value for one in node.values if isinstance(one, ast.FormattedValue))
    elif isinstance(node, ast.BinOp):
        for side in (node.left, node.right):
            if isinstance(side, ast.BinOp | ast.JoinedStr):
                yield from _inside(side)
            elif not isinstance(side, ast.Constant):
                yield side


def form_of(node: ast.expr) -> str | None:
    """Return a text with its parts named, ``{name} carries {amps} A``; None for what is no text."""
    pieces = _pieces(node)
    if pieces is None or not any(isinstance(piece, str) for piece in pieces):
        return None
    out, used = "", dict[str, str]()
    for piece in pieces:
        out += piece if isinstance(piece, str) else f"{{{_named(piece, used)}}}"
    return out.strip()


def _pieces(node: ast.expr) -> list[str | ast.expr] | None:
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        texts = [one.value for one in node.values if isinstance(one, ast.Constant)]
        if any(_UNUSABLE.search(str(text)) for text in texts):
            return None
        return [str(one.value) if isinstance(one, ast.Constant) else _value(one) for one in node.values]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _pieces(node.left), _pieces(node.right)
        if left is None and right is None:
            return None
        return [*(left or [node.left]), *(right or [node.right])]
    return None


def _value(node: ast.expr) -> ast.expr:
    return node.value if isinstance(node, ast.FormattedValue) else node


def _named(node: ast.expr, used: dict[str, str]) -> str:
    """Return the name of a part: the last word of its expression; the same expression has the same name."""
    code = ast.unparse(node)
    for name, seen in used.items():
        if seen == code:
            return name
    start = re.sub(r"\W", "", _last_word(node)).strip("_").lower() or "part"
    name, number = start, 2
    while name in used:
        name, number = f"{start}{number}", number + 1
    used[name] = code
    return name


def _last_word(node: ast.expr) -> str:
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return node.attr
    if isinstance(node, ast.Call):
        first = _last_word(node.args[0]) if node.args else "part"
        return (
            first if first != "part" else _last_word(node.func).removeprefix("get_").removesuffix("_display")
        )
    if isinstance(node, ast.Subscript):
        return _last_word(node.value)
    if isinstance(node, ast.BinOp):
        return _last_word(node.left)
    return "part"


def is_said(text: str) -> bool:
    """Return whether a text reads as a sentence, a label or a phrase; ids and markup do not."""
    bare = re.sub(r"\{\w+\}", "", text)
    if _CODE.search(bare) or not bare.isprintable():
        return False
    words = _WORDS.findall(bare)
    if "{" in text:
        return (" " in bare or text[:1].isupper()) and sum(map(len, words)) >= 2
    if len(words) < 2:
        return bool(_LABEL.match(text))
    return (
        text[:1].isupper()
        or "–" in text
        or text[:1] in "“‹"
        or text[:1].isdigit()
        or bool(_PHRASE.match(text))
    )
