"""Makes the part of Bootstrap that our pages use: a rule stays where every class it names is said somewhere.

Run by hand with the package's own ``dist/css/bootstrap.min.css`` (npm ``bootstrap``, the version of the file
name) and tinycss2: ``python tests/bench/bootstrap_subset.py bootstrap.min.css``. It writes
``static/vendor/bootstrap-5.3.9-used.min.css``. "Said" is any word in templates, Python and scripts of ours
and of the form kit, so too much stays rather than too little; a test looks that no page says a class that was
left out.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import tinycss2

ROOT = Path(__file__).resolve().parents[2]
USED = ROOT / "static" / "vendor" / "bootstrap-5.3.9-used.min.css"
#: The classes that were left out, so that a test can look whether a page says one.
LEFT_OUT = ROOT / "tests" / "bench" / "bootstrap_left_out.txt"
#: Where classes are said: ours, and the packages whose templates draw our forms.
SAID = ("templates", "static/js", "static/tablet", "jobs", "checklists", "config", "common")
PACKAGES = ("crispy_forms", "crispy_bootstrap5", "allauth")
_WORD = re.compile(r"[A-Za-z_][\w-]*")
_CLASS = re.compile(r"\.((?:[\w-]|\\.)+)")


def words_said(folders: Iterable[Path]) -> set[str]:
    """Return every word that could be a class, of all sources in the folders."""
    found: set[str] = set()
    for folder in folders:
        for path in folder.rglob("*"):
            if path.suffix in {".html", ".py", ".js", ".svg"} and "vendor" not in path.parts:
                found.update(_WORD.findall(path.read_text(errors="ignore")))
    return found


def classes_of(selector: str) -> set[str]:
    """Return the classes a selector needs; those inside ``:not(…)`` are not needed."""
    needed = re.sub(r":not\([^)]*\)", "", selector)
    return {re.sub(r"\\(.)", r"\1", name) for name in _CLASS.findall(needed)}


def kept(rules: Iterable[Any], said: set[str]) -> Iterator[str]:
    """Yield the rules that stay, as text."""
    for rule in rules:
        if rule.type == "qualified-rule":
            text = tinycss2.serialize(rule.prelude).strip()
            stay = [part for part in _parts(rule.prelude) if classes_of(part) <= said]
            if stay:
                yield f"{','.join(stay) if stay else text}{{{tinycss2.serialize(rule.content).strip()}}}"
        elif rule.type == "at-rule" and rule.at_keyword in {"media", "supports", "layer"} and rule.content:
            inner = "".join(kept(tinycss2.parse_rule_list(rule.content, True, True), said))
            if inner:
                yield f"@{rule.at_keyword}{tinycss2.serialize(rule.prelude)}{{{inner}}}"
        elif rule.type in {"at-rule", "comment"}:
            yield rule.serialize()


def _parts(prelude: list[Any]) -> Iterator[str]:
    """Yield the selectors of a list; commas inside brackets part nothing."""
    part: list[Any] = []
    for token in prelude:
        if token.type == "literal" and token.value == ",":
            yield tinycss2.serialize(part).strip()
            part = []
        else:
            part.append(token)
    yield tinycss2.serialize(part).strip()


def sources() -> list[Path]:
    """Return the folders classes are said in."""
    import importlib.util

    packages = [importlib.util.find_spec(name) for name in PACKAGES]
    found = [Path(each.origin).parent for each in packages if each and each.origin]
    return [ROOT / name for name in SAID] + found


def main() -> None:
    """Write the subset."""
    rules = tinycss2.parse_stylesheet(Path(sys.argv[1]).read_text(), skip_whitespace=True)
    said = words_said(sources())
    USED.write_text("".join(kept(rules, said)) + "\n")
    every = classes_of(Path(sys.argv[1]).read_text())
    LEFT_OUT.write_text("\n".join(sorted(every - classes_of(USED.read_text()) - said)) + "\n")
    print(f"{USED.name}: {USED.stat().st_size:,} bytes of {Path(sys.argv[1]).stat().st_size:,}")


if __name__ == "__main__":
    main()
