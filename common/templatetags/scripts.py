"""Names every module a script imports, so that a browser fetches them side by side, not one after another."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import Final

from django import template
from django.conf import settings
from django.templatetags.static import static

register = template.Library()

_IMPORT: Final = re.compile(r'from "(\.[^"]+)"')


@register.simple_tag
def modules_of(script: str) -> list[str]:
    """Return the addresses of all modules a script (``js/workspace/main.js``) imports, itself left out."""
    names = _imported(script) if settings.DEBUG else _imported_once(script)
    return [static(name) for name in names]


def _imported(script: str) -> tuple[str, ...]:
    root = Path(settings.BASE_DIR) / "static"
    found: set[Path] = set()
    ahead = [root / script]
    while ahead:
        path = ahead.pop()
        fresh = {(path.parent / name).resolve() for name in _IMPORT.findall(path.read_text())} - found
        found |= fresh
        ahead += fresh
    return tuple(sorted(str(path.relative_to(root.resolve())) for path in found))


@functools.cache
def _imported_once(script: str) -> tuple[str, ...]:
    return _imported(script)
