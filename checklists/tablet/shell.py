"""Lists the files of the tablet's empty shell, and the version that changes when any of them does."""

from __future__ import annotations

import functools
import hashlib
from pathlib import Path
from typing import Final

from django.conf import settings
from django.templatetags.static import static

from checklists.tablet.wire import FORM

ICONS: Final = [
    "arrow-counterclockwise",
    "arrow-left",
    "arrow-right",
    "battery-charging",
    "box-arrow-right",
    "box-seam",
    "brightness-high",
    "camera",
    "check-lg",
    "check2-circle",
    "chevron-right",
    "clock-history",
    "diagram-3",
    "download",
    "exclamation-triangle",
    "eye",
    "flag",
    "geo-alt",
    "hand-index",
    "house",
    "images",
    "info-circle",
    "journal-text",
    "lightbulb",
    "lightning-charge",
    "list-check",
    "lock",
    "moon",
    "pen",
    "pencil",
    "person",
    "person-badge",
    "question-circle",
    "rulers",
    "search",
    "send",
    "sun",
    "telephone",
    "tools",
    "trash",
    "truck-front",
    "unlock",
    "upc-scan",
    "x-lg",
    "x-octagon",
    "zoom-in",
    "zoom-out",
]
#: What reads bar codes: started when somebody scans, so kept but not loaded with the rest.
SCAN_WORKER: Final = "js/tablet/scan/worker.js"
DECODER: Final = "vendor/zxing-wasm-3.1.6/zxing_reader.wasm"
_STYLES: Final = (
    "vendor/bootstrap-5.3.9-used.min.css",
    "css/base.css",
    "css/checklist.css",
    "css/tablet.css",
    "css/tablet_drawings.css",
    "css/tablet_themes.css",
)
_OTHERS: Final = (
    "vendor/idb-8.0.4.js",
    "vendor/signature_pad-5.1.4.min.js",
    "vendor/zxing-wasm-3.1.6/reader/index.js",
    "vendor/zxing-wasm-3.1.6/share.js",
    DECODER,
    "icon.svg",
    "tablet/icon-192.png",
    "vendor/fonts/source-sans-3-5.3.1-latin-400.woff2",
    "vendor/fonts/source-sans-3-5.3.1-latin-600.woff2",
    "vendor/fonts/ibm-plex-mono-5.3.0-latin-400.woff2",
    "vendor/fonts/ibm-plex-mono-5.3.0-latin-600.woff2",
    "vendor/fonts/source-sans-3.52-regular.woff2",
    "vendor/fonts/source-sans-3.52-semibold.woff2",
    "vendor/fonts/source-sans-3.52-it.woff2",
    "vendor/fonts/zilla-slab-5.3-600.woff2",
    "vendor/fonts/zilla-slab-5.3-600-ext.woff2",
    "vendor/fonts/ibm-plex-mono-2.5-regular.woff2",
    "vendor/fonts/ibm-plex-mono-2.5-semibold.woff2",
)


def shell_names() -> list[str]:
    """Return the static files the shell needs, by their own names."""
    root = Path(settings.BASE_DIR) / "static"
    modules = sorted((root / "js" / "tablet").rglob("*.js"))
    watch = ["js/csp_watch.js"] if settings.WATCH_CSP else []  # a script the page waits for
    return [*_STYLES, *_OTHERS, *watch, *(str(path.relative_to(root)) for path in modules)]


def shell_files() -> list[str]:
    """Return the addresses of these files as they are served."""
    return [static(name) for name in shell_names()]


def shell_modules() -> list[str]:
    """Return the addresses of the script modules: named together, none waits for the one before."""
    names = [name for name in shell_names() if name.startswith("js/tablet/") or "idb" in name]
    return [static(name) for name in names if name != SCAN_WORKER]


def shell_version() -> str:
    """Return a short hash that moves with the content of any file of the shell."""
    return _version() if settings.DEBUG else _version_once()


def _version() -> str:
    root = Path(settings.BASE_DIR)
    digest = hashlib.sha256(FORM.encode())
    names = [root / "static" / name for name in shell_names()]
    for path in [*names, *sorted((root / "templates" / "tablet").iterdir())]:
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


@functools.cache
def _version_once() -> str:
    return _version()
