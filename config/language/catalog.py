"""Gathers every string that can be translated; keeps the catalogs: ``.po`` to edit, ``.mo`` to read.

Read with Babel alone, so that no machine needs more than the packages of the project. What the tablet shows
is a module of its own, ``static/js/tablet/catalog/<language>.js``: it must be there without a network.
"""

from __future__ import annotations

import copy
import io
import json
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from babel.messages.catalog import Catalog
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.utils.translation.template import templatize

from checklists.plan.templates import versions
from checklists.texts.sentences import SENTENCES
from checklists.texts.sources import sheet_lines, step_texts
from config.language.gathered import gathered, words_of_forms, words_of_the_engine
from config.language.said import prepared, sayings

LOCALES: Final = Path(settings.LOCALE_PATHS[0])
DOMAINS: Final = ("django", "djangojs")
TRANSLATED: Final = tuple(code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE)
_ROOT: Final = Path(settings.BASE_DIR)
_TABLET: Final = _ROOT / "static" / "js" / "tablet"
_PACKAGES: Final = ("common", "jobs", "checklists", "config")
_GATHERED: Final = ("jobs", "checklists", "common", "sizing", "config")  # said at the edge: common.told
_LAZY: Final[dict[str, Any]] = {
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext_lazy": (1, 2),
    "pgettext_lazy": ((1, "c"), 2),
}
_KEYWORDS: Final = dict(DEFAULT_KEYWORDS) | _LAZY
_HEADER: Final = """\
# Coachlight in another language.
# Made by machine and to be reviewed by people who do this work in it; lines marked "fuzzy" are not used.
#"""

_DAY: Final = datetime(2026, 1, 1, tzinfo=UTC)  # the files say what is in them, not when they were made

type Message = tuple[str | tuple[str, ...], str | None, str]  # what, context, file


def messages(domain: str) -> Catalog:
    """Return the strings of a domain as they stand in the code and the data, in a fixed order."""
    found = Catalog(domain=domain, project="Coachlight", charset="utf-8", fuzzy=False)
    for what, context, place in _of_scripts() if domain == "djangojs" else _of_server():
        found.add(what, context=context, locations=[(place, None)])  # type: ignore[list-item]  # no line: they move
    return found


def _of_server() -> Iterator[Message]:
    """Yield what the steps say first: that is what people in the field read."""
    for version in reversed(versions()):
        yield from ((text, None, f"checklists/data/steps/{version}.json") for text, _ in step_texts(version))
    yield from ((text, None, "checklists/data/sheet_texts.json") for text in sheet_lines())
    yield from ((text, None, "checklists/texts/sentences.py") for text in SENTENCES)
    for path in sorted((_ROOT / "templates").rglob("*.*")):
        yield from _of_template(path)
    for path in (path for name in _PACKAGES for path in sorted((_ROOT / name).rglob("*.py"))):
        yield from _extracted("python", path.read_text(encoding="utf-8"), path)
    yield from ((text, None, "sizing/core/checks.py") for text in words_of_the_engine())
    yield from ((text, None, "jobs/forms") for text in words_of_forms())
    for path in (path for name in _GATHERED for path in sorted((_ROOT / name).rglob("*.py"))):
        yield from ((text, None, str(path.relative_to(_ROOT))) for text in gathered(path, _ROOT))


def _of_template(path: Path) -> Iterator[Message]:
    """Yield every text of a template, marked or not: it is read as the site reads it."""
    source = prepared(path.read_text(encoding="utf-8"), path.name)
    code = templatize(source, origin=str(path))
    yield from _extracted("python", "\n".join(line.strip() for line in code.splitlines()), path)
    yield from ((text, None, str(path.relative_to(_ROOT))) for text in sayings(source))


def _of_scripts() -> Iterator[Message]:
    for path in sorted(_TABLET.rglob("*.js")):
        if path.parent.name != "catalog":
            for what, context, place in _extracted("javascript", path.read_text(encoding="utf-8"), path):
                yield _bare(what), context, place  # spaces at the ends stay in the script


def _bare(what: str | tuple[str, ...]) -> str | tuple[str, ...]:
    return what.strip() if isinstance(what, str) else tuple(each.strip() for each in what)


def _extracted(method: str, code: str, path: Path) -> Iterator[Message]:
    options = {"parse_template_string": True} if method == "javascript" else {}
    lines = io.BytesIO(code.encode("utf-8"))
    for _, what, _, context in extract(method, lines, keywords=_KEYWORDS, options=options):
        yield what, context, str(path.relative_to(_ROOT))


def po_path(language: str, domain: str) -> Path:
    """Return where the translations of a domain are edited."""
    return LOCALES / language / "LC_MESSAGES" / f"{domain}.po"


def read(language: str, domain: str) -> Catalog:
    """Return the translations of a domain as they stand in the file."""
    path = po_path(language, domain)
    if not path.exists():
        return Catalog(locale=language, domain=domain, fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=language, domain=domain)


def merged(language: str, domain: str) -> Catalog:
    """Return the translations with every string of today; what is gone is left out, nothing is guessed."""
    ours = read(language, domain)
    ours.header_comment = _HEADER
    ours.project = "Coachlight"
    ours.update(messages(domain), no_fuzzy_matching=True)
    ours.obsolete.clear()
    return ours


def po_bytes(catalog: Catalog) -> bytes:
    """Return a catalog as it is edited."""
    out = io.BytesIO()
    catalog.creation_date = catalog.revision_date = _DAY
    write_po(out, catalog, width=0, omit_header=False, include_lineno=False, ignore_obsolete=True)
    return out.getvalue()


def mo_bytes(catalog: Catalog) -> bytes:
    """Return a catalog as it is read by the server."""
    out = io.BytesIO()
    told = copy.deepcopy(catalog)
    for each in [one for one in told if isinstance(one.id, tuple) and not any(one.string or ())]:
        told.delete(each.id, each.context)  # else Babel writes the English as if it were the translation
    told.creation_date = told.revision_date = _DAY
    write_mo(out, told)
    return out.getvalue()


def script(language: str) -> str:
    """Return what the tablet is told: its own strings, and how sentences of the rules are said."""
    own = {_key(each.id): _said(each.string) for each in _translated(read(language, "djangojs"))}
    server = {each.id: each.string for each in _translated(read(language, "django"))}
    sentences = [[text, server[text]] for text in SENTENCES if text in server]
    lines = json.dumps({"strings": own, "sentences": sentences}, ensure_ascii=False, indent=1)
    return (
        f"// What the tablet says in the language “{language}”; made by `manage.py messages`, not by hand.\n"
        f"export default {lines};\n"
    )


def _translated(catalog: Catalog) -> Iterable[Any]:
    return [each for each in catalog if each.id and not each.fuzzy and all(_parts(each.string))]


def _parts(said: Any) -> tuple[str, ...]:
    return said if isinstance(said, tuple) else (said,)


def _key(what: Any) -> str:
    return str(what[0] if isinstance(what, tuple) else what)


def _said(said: Any) -> Any:
    return list(said) if isinstance(said, tuple) else said


def script_path(language: str) -> Path:
    """Return the module of a language."""
    return _TABLET / "catalog" / f"{language}.js"


def write_all() -> None:
    """Write every file of every language anew."""
    for language in TRANSLATED:
        for domain in DOMAINS:
            found = merged(language, domain)
            path = po_path(language, domain)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(po_bytes(found))
            path.with_suffix(".mo").write_bytes(mo_bytes(found))
        script_path(language).parent.mkdir(exist_ok=True)
        script_path(language).write_text(script(language), encoding="utf-8")
    for domain in DOMAINS:
        (LOCALES / f"{domain}.pot").write_bytes(po_bytes(messages(domain)))
