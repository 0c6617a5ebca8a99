"""The words of the house: US spelling, and none of the odd sentences that were rewritten once.

The lists are common American usage and the trade's own words; no published source. A single lower-case word
in quotes is a stored key, not prose, and may keep the spelling it was stored with.
"""

from __future__ import annotations

import ast
import json
import pathlib
import re
from collections.abc import Iterator
from typing import Final

import pytest

ROOT = pathlib.Path(__file__).resolve().parent.parent

#: British spelling, with what follows the stem. Compared as whole words.
_STEMS: Final = (
    r"(?:dis|un|multi|re)?colour\w*", r"behaviour\w*", r"favour\w*", r"neighbour\w*", r"labour\w*",
    r"harbour\w*", r"honour\w*", r"vapour\w*", r"(?:milli|centi|kilo)?metres?", r"litres?", r"centre[ds]?",
    r"fibre\w*", r"aluminium", r"tyres?", r"catalogue\w*", r"judgements?", r"licences?", r"grey\w*",
    r"towards", r"learnt", r"spoilt", r"spelt", r"whilst", r"amongst", r"ageing", r"autumn", r"enquir\w+",
    r"cheques?", r"defence", r"offence", r"programmes?", r"sceptic\w*", r"skilful", r"fulfil", r"kerb\w*",
    r"(?:de)?sulphat\w+", r"analys(?:e[ds]?|ing)", r"spanners?", r"fortnight", r"mains (?:voltage|power)",
    r"(?:de-|pre-|un)?(?:energ|equal|organ|recogn|minim|maxim|optim|author|normal|summar|item|apolog|special"
    r"|standard|util|prior|emphas|custom|galvan|stabil|neutral|categor|capital|general|penal)"
    r"is(?:e[ds]?|ing|ations?)",
    r"(?:travel|cancel|label|model|signal|level|fuel|total|channel)l(?:ed|ing|ers?)",
)  # fmt: skip
BRITISH: Final = re.compile(
    rf"(?<![\w/.#$`-])(?:{'|'.join(_STEMS)})(?![\w`]|\.(?:py|txt|html|json|js|css)\b)", re.I
)

#: Sentences and labels that people read as odd, or that are a developer's and not a shop's.
ODD: Final = (
    "Question as file", "The road so far", "Not yours to open", "Take the quote back", "is no set of values",
    "Make dead", "What it is made of", "In the price, and not", "Lesson on tilting", "background worker",
    "counts no more", "Cold stop", "Surge guard", "A fault of ours", "Sums wait", "Hold shut", "Let it pass",
    "keeps it shut", "What stands against it", "is no hold of", "take this one", "word of mouth",
    "out all the same", "asked anew", "worker is running", "1,000,000 of money",
)  # fmt: skip

#: File (or the end of its name), word: why it may stand there.
ALLOWED: Final = {
    ("common/units.py", "*"): "units as the unit registry spells them, and as people abroad type them",
    ("jobs/data/places.csv", "*"): "towns as they are called",
    ("checklists/data/steps/1.json", "*"): "the first list of steps, kept word for word for jobs begun on it",
    ("fixtures/published/charge_voltages.csv", "equalise"): "a key that a test reads",
    ("sizing/tables/small_conductor_limits_nec_240_4_d.csv", "aluminium"): "the key of a column",
    ("jobs/schedule/calendar.py", "cancelled"): "a value of RFC 5545, 3.8.1.11",
    ("static/vendor", "*"): "not ours",
}  # fmt: skip

_TEMPLATE_MARKS = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}|<!--.*?-->|<[^>]*>", re.S)
_SCRIPT_TEXT = re.compile(
    r"//[^\n]*|/\*.*?\*/|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\])*`", re.S
)


def is_prose(text: str) -> bool:
    """Return whether a string is written for people: more than one word, or a label."""
    text = text.strip()
    return bool(re.search(r"\s", text)) or text[:1].isupper()


def of_python(source: str, *, is_spoken: bool = False) -> Iterator[str]:
    """Yield the strings of a module that people may read; what is not ``is_spoken`` has docstrings too."""
    tree = ast.parse(source)
    said = {node.value for node in ast.walk(tree) if isinstance(node, ast.Expr)} if is_spoken else set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or node in said:
            continue
        if isinstance(node.value, str) and is_prose(node.value):
            yield node.value


def of_template(source: str, **_: bool) -> Iterator[str]:
    """Yield what a template prints by itself, and the labels in its tags."""
    yield _TEMPLATE_MARKS.sub(" ", source)
    yield from re.findall(r"(?:aria-label|title|placeholder|alt|data-label)=\"([^\"]*)\"", source)
    yield from (text for text in re.findall(r"\"([^\"]*)\"", source) if re.search(r"\s", text))


def of_script(source: str, *, is_spoken: bool = False) -> Iterator[str]:
    """Yield the strings of a script; what is not ``is_spoken`` has its comments too."""
    for found in _SCRIPT_TEXT.findall(source):
        if found.startswith("/") and is_spoken:
            continue
        if found.startswith(("/", "`")) or is_prose(found[1:-1]):
            yield re.sub(r"\$\{[^}]*\}", " ", found)


def of_json(source: str, **_: bool) -> Iterator[str]:
    """Yield the prose among the values of a data file; keys are stored names."""
    todo = [json.loads(source)]
    while todo:
        value = todo.pop()
        if isinstance(value, dict):
            todo += value.values()
        elif isinstance(value, list):
            todo += value
        elif isinstance(value, str) and is_prose(value):
            yield value


def of_text(source: str, **_: bool) -> Iterator[str]:
    """Yield a text as it is."""
    yield source


READERS: Final = {
    ".py": of_python, ".html": of_template, ".js": of_script, ".json": of_json, ".txt": of_text,
    ".csv": of_text,
}  # fmt: skip
FOLDERS: Final = ("templates", "static", "jobs", "checklists", "sizing", "common", "config", "fixtures")


def files() -> list[pathlib.Path]:
    """Return every file of ours that holds words for people."""
    found = [path for folder in FOLDERS for path in (ROOT / folder).rglob("*") if path.suffix in READERS]
    return sorted(
        path
        for path in found
        if not {"migrations", "__pycache__", "locale"} & set(path.parts) and "LICENCE" not in path.name
    )


def is_allowed(path: pathlib.Path, word: str) -> bool:
    """Return whether a word may stand in a file, for a reason that is written down."""
    name = path.relative_to(ROOT).as_posix()
    return any(name.startswith(where) and what in {"*", word.lower()} for where, what in ALLOWED)


def pieces(path: pathlib.Path, *, is_spoken: bool = False) -> Iterator[str]:
    """Yield what people may read of a file; ``is_spoken``: without comments and docstrings."""
    yield from READERS[path.suffix](path.read_text(encoding="utf-8", errors="replace"), is_spoken=is_spoken)


def test_every_word_is_spelled_the_american_way():
    wrong = {
        f"{path.relative_to(ROOT)}: {word}"
        for path in files()
        for text in pieces(path)
        for word in BRITISH.findall(text)
        if not is_allowed(path, word)
    }
    assert not wrong, sorted(wrong)


def test_odd_sentences_do_not_come_back():
    odd = re.compile("|".join(map(re.escape, ODD)), re.I)
    wrong = {
        f"{path.relative_to(ROOT)}: {words}"
        for path in files()
        if path.suffix != ".csv" and not is_allowed(path, "*")
        for text in pieces(path, is_spoken=True)
        for words in odd.findall(text)
    }
    assert not wrong, sorted(wrong)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("The colour of 3 metres of cable", ["colour", "metres"]), ("Colour", ["Colour"]),
        ("Before energising", ["energising"]), ("labelled and modelled", ["labelled", "modelled"]),
        ("See ``labour_codes`` and LICENCE.txt", []), ("The tire, the gray center, the license", []),
        ("It is wise to exercise and to analyze; a promise", []), ("metered", []),
    ],
)  # fmt: skip
def test_the_list_finds_what_it_is_for_and_nothing_else(text, found):
    assert BRITISH.findall(text) == found


def test_every_exception_still_has_its_file():
    assert not [where for where, _ in ALLOWED if not (ROOT / where).exists()]
